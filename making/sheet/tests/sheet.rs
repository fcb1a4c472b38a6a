//! Sheets from good, hostile, empty and huge results.
#![allow(clippy::unwrap_used)] // a test may stop at the first wrong thing

use job::Document;
use result::{Assumption, Candidate, Dimension, JobResult, Warning};
use sheet::{JobSheet, Material, Paper, SheetError, SheetPhoto, html, pdf};

const SAMPLE: &str = include_str!("../examples/sample_result.json");

fn document(text: &str) -> Document {
    job::read(&format!("format = \"ringer-job 1\"\n{text}")).unwrap()
}

fn sample() -> JobResult {
    serde_json::from_str(SAMPLE).unwrap()
}

fn demo() -> Document {
    document(
        "title = \"Focus knob\"\nmaker = \"bench 1\"\ndate = \"2026-11-25\"\n\n[[known]]\nname = \"shaft\"\nvalue = \"1/4 in\"\n\n[[photo]]\nname = \"front\"\nfile = \"front.jpg\"\naxis = [[550, 840], [1130, 700]]",
    )
}

fn sheet<'a>(document: &'a Document, result: &'a JobResult) -> JobSheet<'a> {
    JobSheet { document, result, photos: &[], section: None, materials: Material::PRINTED, sample: false }
}

/// The page without the fonts inside it, whose base 64 text may hold any word.
fn without_fonts(page: &str) -> String {
    let mut kept = String::new();
    for piece in page.split("base64,") {
        kept.push_str(piece.trim_start_matches(|c: char| c.is_ascii_alphanumeric() || "+/=".contains(c)));
    }
    kept
}

fn holds(bytes: &[u8], text: &str) -> usize {
    bytes.windows(text.len()).filter(|window| *window == text.as_bytes()).count()
}

#[test]
fn every_station_is_a_section_with_its_question() {
    let (document, result) = (demo(), sample());
    let page = html(&sheet(&document, &result));
    for (id, question) in [
        ("evidence", "What do we know?"),
        ("outline", "Where does the part end?"),
        ("profile", "What shape is it truly?"),
        ("sizes", "Which sizes were meant?"),
        ("body", "What do we make?"),
        ("colour", "What colour is it?"),
        ("pot", "What goes into the pot?"),
        ("run", "How many, in how many loads?"),
        ("check", "Is it right?"),
    ] {
        assert!(page.contains(&format!("<section class=\"station\" id=\"{id}\" aria-labelledby=\"{id}-question\">")), "{id}");
        assert!(page.contains(&format!("<h2 id=\"{id}-question\">{question}</h2>")), "{question}");
    }
    assert_eq!(page.matches("<h1").count(), 1);
    assert!(page.contains("31.68\u{a0}±\u{a0}0.08"), "a size with its doubt");
}

#[test]
fn tags_close_in_order() {
    let (document, result) = (demo(), sample());
    let page = without_fonts(&html(&sheet(&document, &result)));
    let mut open: Vec<&str> = Vec::new();
    for tag in page.split('<').skip(1).filter(|tag| !tag.starts_with('!')) {
        let body = tag.split('>').next().unwrap();
        let name = body.trim_start_matches('/').split([' ', '/']).next().unwrap();
        if body.starts_with('/') {
            assert_eq!(open.pop(), Some(name), "closed by </{name}>");
        } else if !body.ends_with('/') && !["meta", "link", "br"].contains(&name) {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "{open:?}");
}

#[test]
fn ids_are_unique() {
    let (document, result) = (demo(), sample());
    let page = without_fonts(&html(&sheet(&document, &result)));
    let mut ids: Vec<&str> = page.split(" id=\"").skip(1).map(|rest| rest.split('"').next().unwrap()).collect();
    ids.sort_unstable();
    let all = ids.len();
    ids.dedup();
    assert_eq!(ids.len(), all);
}

#[test]
fn hostile_words_stay_words() {
    const EVIL: &str = "</title></style><script>alert(1)</script><img src=x onerror=\"alert(2)\">&amp;' ]]> \u{202e}\u{0}";
    let mut document = demo();
    document.title = EVIL.into();
    document.maker = Some(EVIL.into());
    document.known[0].name = EVIL.into();
    document.photo[0].source = Some(EVIL.into());
    let mut result = sample();
    result.ringer = EVIL.into();
    result.warnings.push(Warning { station: "sizes".into(), photo: Some(EVIL.into()), text: EVIL.into(), settle: EVIL.into() });
    result.assumptions.push(Assumption { station: EVIL.into(), text: EVIL.into(), switch: EVIL.into() });
    result.missing.push(format!("run: {EVIL}"));
    result.photos[0].name = EVIL.into();
    result.dimensions[0].name = EVIL.into();
    result.dimensions[0].candidates[0].label = EVIL.into();
    result.body.as_mut().unwrap().files.push(EVIL.into());
    result.pot.as_mut().unwrap().recipes[0].drops.insert(EVIL.into(), 3);
    let sheet = sheet(&document, &result);
    let page = html(&sheet);
    for tag in ["<script", "<img", "</style></head", "onerror=\""] {
        assert!(!page.contains(tag) || tag == "</style></head", "{tag} came through");
    }
    assert_eq!(page.matches("</title>").count(), 1 + page.matches("<title id=").count(), "one title of the page, one a picture");
    assert!(pdf(&sheet, Paper::A4).unwrap().starts_with(b"%PDF-"));
}

#[test]
fn same_result_same_bytes() {
    let (document, result) = (demo(), sample());
    let sheet = sheet(&document, &result);
    assert_eq!(html(&sheet), html(&sheet));
    assert_eq!(pdf(&sheet, Paper::A4).unwrap(), pdf(&sheet, Paper::A4).unwrap());
    assert_ne!(pdf(&sheet, Paper::A4).unwrap(), pdf(&sheet, Paper::Letter).unwrap());
}

#[test]
fn nothing_known_is_a_sheet_that_says_what_it_wants() {
    let (document, result) = (document("title = \"Unknown\""), JobResult::default());
    let mut sheet = sheet(&document, &result);
    sheet.materials = &[];
    let page = html(&sheet);
    assert_eq!(
        page.matches("<span class=\"word\">waiting for evidence</span>").count(),
        18,
        "nine stations, told at their head and in the summary"
    );
    assert!(page.matches("<b>Wanted: </b>").count() >= 9);
    assert!(page.contains("[[photo]]\nname = &quot;front&quot;"));
    assert!(pdf(&sheet, Paper::Letter).is_ok());
}

#[test]
fn what_is_missing_says_why() {
    let (document, mut result) = (demo(), JobResult::default());
    result.missing = vec!["colour: no neutral patch and no reading".into()];
    assert!(html(&sheet(&document, &result)).contains("<p>No neutral patch and no reading.</p>"));
}

/// Every number of the sample, one after another, made not a number or endless: none reaches the page.
#[test]
fn numbers_that_are_none_are_not_shown() {
    let document = demo();
    let bad = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, -1e300, 0.0, -5.0];
    for value in bad {
        let mut result = sample();
        for photo in &mut result.photos {
            photo.outline.left[3] = [value, 1.0];
            photo.outline.left_sigma_px[4] = value;
            photo.outline.sigma_px = value;
            photo.outline.axis[0] = [value, value];
            photo.residual_px = Some(value);
            photo.tilt_deg.as_mut().unwrap().sigma = value;
            photo.focal_px.as_mut().unwrap().value = value;
        }
        let profile = result.profile.as_mut().unwrap();
        profile.points[7] = [value, value, value];
        profile.points[9][2] = value;
        profile.pieces[1].centre = Some([value, value]);
        for size in &mut result.dimensions {
            size.candidates[0].mm = value;
            size.candidates[1].odds = value;
            size.used_mm = value;
        }
        result.dimensions[0].value_mm = value;
        result.dimensions[1].sigma_mm = value;
        result.dimensions[2].against_sigmas = Some(value);
        result.system.insert("inch".into(), value);
        let body = result.body.as_mut().unwrap();
        body.volume_mm3 = value;
        body.bounds_mm[1] = [value; 3];
        result.colour.as_mut().unwrap().lab[0] = value;
        let pot = result.pot.as_mut().unwrap();
        pot.recipes[0].lab[1] = value;
        pot.recipes[1].de00 = value;
        pot.ladders[0].lab[2] = [value; 3];
        pot.scaled.as_mut().unwrap().resin_ml = value;
        let run = result.run.as_mut().unwrap();
        run.places_mm[0] = [value, 1.0];
        run.curve[3].1 = value;
        run.chance = value;
        run.footprint_mm = Some(value);
        run.plate_mm = Some([value, 80.0]);
        let sheet = sheet(&document, &result);
        let page = without_fonts(&html(&sheet));
        for word in ["NaN", "inf ", "inf\u{a0}", "inf\"", "inf,", ">inf", "-inf"] {
            assert!(!page.contains(word), "{word} for {value}: {}", &page[page.find(word).unwrap().saturating_sub(200)..][..300]);
        }
        assert!(pdf(&sheet, Paper::A4).is_ok(), "{value}");
    }
}

#[test]
fn huge_results_stay_bounded() {
    let mut document = demo();
    document.title = "long ".repeat(100_000);
    document.known = vec![document.known[0].clone(); 3000];
    let mut result = sample();
    let photo = result.photos[0].clone();
    result.photos = vec![photo; 200];
    result.photos[0].outline.left = (0..300_000).map(|n| [f64::from(n) / 300.0, f64::from(n % 7)]).collect();
    result.photos[0].outline.left_sigma_px = vec![0.2; 300_000];
    let profile = result.profile.as_mut().unwrap();
    profile.points = (0..300_000).map(|n| [f64::from(n) / 1e4, 5.0, 0.01]).collect();
    profile.pieces = vec![profile.pieces[1].clone(); 20_000];
    let size = Dimension {
        name: "x".repeat(50_000),
        candidates: vec![Candidate { label: "y".repeat(900), mm: 31.7, odds: 0.01 }; 100],
        ..result.dimensions[0].clone()
    };
    result.dimensions = vec![size; 300];
    result.warnings = vec![Warning { station: "sizes".into(), photo: None, text: "w ".repeat(10_000), settle: "s".repeat(10_000) }; 1000];
    result.missing = vec!["m".repeat(1000); 10_000];
    result.body.as_mut().unwrap().files = vec!["f".repeat(1000); 10_000];
    let run = result.run.as_mut().unwrap();
    run.places_mm = vec![[5.0, 5.0]; 100_000];
    run.curve = (0..100_000).map(|n| (n, 0.5)).collect();
    let sheet = sheet(&document, &result);
    let page = html(&sheet);
    assert!(page.len() < 8_000_000, "{}", page.len());
    let file = pdf(&sheet, Paper::A4).unwrap();
    assert!(file.len() < 8_000_000, "{}", file.len());
}

#[test]
fn fonts_are_in_both_files() {
    let (document, result) = (demo(), sample());
    let sheet = sheet(&document, &result);
    let page = html(&sheet);
    assert_eq!(page.matches("@font-face").count(), 3);
    assert!(
        !page.contains("http://") || page.matches("http://").count() == page.matches("xmlns=\"http://www.w3.org/2000/svg\"").count(),
        "the page needs no network"
    );
    let file = pdf(&sheet, Paper::A4).unwrap();
    assert_eq!(holds(&file, "/FontFile2"), 3);
    assert_eq!(
        holds(&file, "/FontFile2"),
        holds(&file, "/Type/FontDescriptor") + holds(&file, "/Type /FontDescriptor"),
        "each font described is embedded"
    );
}

/// Colours of the style by name, by day or by night; `nth` is the block they stand in.
fn colours(nth: usize) -> Vec<(String, [f64; 3])> {
    let block = sheet::style().split(":root {").nth(nth + 1).unwrap().split('}').next().unwrap();
    let hex = |text: &str, at: usize| f64::from(u8::from_str_radix(&text[at..at + 2], 16).unwrap()) / 255.0;
    let colour = |pair: &str| {
        let (name, value) = pair.trim().split_once(":#")?;
        let full = if value.len() == 3 { value.chars().flat_map(|c| [c, c]).collect() } else { value.to_string() };
        Some((name.to_string(), [hex(&full, 0), hex(&full, 2), hex(&full, 4)]))
    };
    block.split(';').filter_map(colour).collect()
}

/// Contrast by the formula of WCAG 2.2; 4.5 to 1 is asked of text (level AA).
#[test]
fn text_stands_out_by_day_by_night_and_on_paper() {
    let linear = |v: f64| if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) };
    let luminance = |c: [f64; 3]| 0.2126 * linear(c[0]) + 0.7152 * linear(c[1]) + 0.0722 * linear(c[2]);
    for block in 0..3 {
        let colours = colours(block);
        let find = |name: &str| luminance(colours.iter().find(|(known, _)| known == name).unwrap_or_else(|| panic!("{name} in {block}")).1);
        for ground in ["--paper", "--shade"] {
            for text in ["--ink", "--grey", "--blue", "--brick"] {
                let (a, b) = (find(ground), find(text));
                let contrast = (a.max(b) + 0.05) / (a.min(b) + 0.05);
                assert!(contrast >= 4.5, "{text} on {ground}, block {block}: {contrast:.2}");
            }
        }
    }
}

#[test]
fn day_colours_are_those_of_the_pictures() {
    for (srgb, name) in ink::palette::NAMED {
        let [r, g, b] = srgb;
        assert!(sheet::style().contains(&format!("{name}:#{r:02x}{g:02x}{b:02x}")), "{name}");
    }
}

#[test]
fn a_photo_that_is_none_is_told_and_odd_cut_outs_are_survived() {
    let (mut document, result) = (demo(), sample());
    document.photo[0].neutral =
        Some(job::document::Neutral { polygon: vec![[f64::NAN, 1.0], [2.0, f64::INFINITY], [600.0, 500.0]], reflectance: 0.18 });
    for crop_px in [[0.0, 0.0, 1600.0, 1200.0], [f64::NAN; 4], [0.0; 4], [-1e300, 0.0, 1e300, 1.0], [5.0, 5.0, 1e5, 1.0]] {
        let photos = [SheetPhoto { name: "front".into(), jpeg: Vec::new(), crop_px }];
        let mut sheet = sheet(&document, &result);
        sheet.photos = &photos;
        let page = without_fonts(&html(&sheet));
        assert!(!page.contains("NaN") && pdf(&sheet, Paper::A4).is_ok(), "{crop_px:?}");
        let broken = [SheetPhoto { jpeg: b"not a photo".to_vec(), ..photos[0].clone() }];
        sheet.photos = &broken;
        assert!(matches!(pdf(&sheet, Paper::A4), Err(SheetError::Ink(ink::InkError::Photo { .. }))), "{crop_px:?}");
    }
}

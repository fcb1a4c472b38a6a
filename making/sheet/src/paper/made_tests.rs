//! Bench steps, gauge, labels and record.

use super::*;
use ink::Mark;
use job::Document;
use result::{JobResult, PieceResult, ProfileResult};

fn document(text: &str) -> Document {
    job::read(&format!("format = \"ringer-job 1\"\ntitle = \"Focus knob\"\n{text}")).unwrap_or_else(|problems| panic!("{problems:?}"))
}

fn full() -> JobResult {
    serde_json::from_str(include_str!("../../examples/sample_result.json")).unwrap_or_else(|error| panic!("{error}"))
}

fn sheet<'a>(document: &'a Document, result: &'a JobResult) -> JobSheet<'a> {
    JobSheet { document, result, photos: &[], section: None, materials: crate::Material::PRINTED, sample: false }
}

/// A cylinder with a step, of sizes that no rounding of millimetres or points meets.
fn stepped() -> JobResult {
    let chain = [[0.0, 0.0], [0.0, 6.365], [7.913, 6.365], [7.913, 11.127], [31.737, 11.127], [31.737, 0.0]];
    let pieces = chain
        .windows(2)
        .map(|w| PieceResult { kind: "line".into(), from: w[0], to: w[1], centre: None, clockwise: None, controls: None })
        .collect();
    let size = |name: &str, z_mm, used_mm| result::Dimension {
        name: name.into(),
        kind: "diameter".into(),
        z_mm,
        value_mm: used_mm,
        sigma_mm: 0.05,
        candidates: Vec::new(),
        chosen: None,
        used_mm,
        against_sigmas: None,
        source: "photos".into(),
    };
    JobResult {
        profile: Some(ProfileResult { points: Vec::new(), seen: Vec::new(), pieces }),
        dimensions: vec![size("greatest diameter", [7.9, 31.7], 22.254), size("hub diameter", [0.0, 7.9], 12.73)],
        ..JobResult::default()
    }
}

/// Every straight stroke on a page, mm from its top left corner: page transform and figure together.
fn strokes(page: &Page) -> Vec<Vec<[f64; 2]>> {
    let of_piece = |piece: &Piece| {
        let lines: Vec<Vec<[f64; 2]>> = piece
            .figure
            .marks
            .iter()
            .filter_map(|mark| match mark {
                Mark::Path { steps, .. } => {
                    let at = |p: &[f64; 2]| [piece.at[0] + p[0], piece.at[1] + p[1]];
                    let points = steps.iter().filter_map(|step| match step {
                        ink::Step::Move(p) | ink::Step::Line(p) => Some(at(p)),
                        _ => None,
                    });
                    Some(points.collect())
                }
                _ => None,
            })
            .collect();
        lines
    };
    page.pieces.iter().flat_map(of_piece).collect()
}

fn extent(line: &[[f64; 2]], axis: usize) -> f64 {
    line.iter().map(|p| p[axis]).fold(f64::NEG_INFINITY, f64::max) - line.iter().map(|p| p[axis]).fold(f64::INFINITY, f64::min)
}

/// 0.05 mm is what a steel rule shows; the drawing itself is exact to a nanometre on both papers. The PDF's own numbers are read back by
/// proof/paper_second_opinion.py.
#[test]
fn the_gauge_is_at_full_size() {
    let (document, result) = (document(""), stepped());
    for paper in [Paper::A4, Paper::Letter] {
        let page = gauge::gauge_page(&sheet(&document, &result), paper).unwrap_or_else(|| panic!("no gauge"));
        assert_eq!([page.width_mm, page.height_mm], paper.size_mm());
        let strokes = strokes(&page);
        let has = |along: usize, mm: f64| {
            strokes.iter().any(|line| line.len() == 2 && (extent(line, along) - mm).abs() < 1e-6 && extent(line, 1 - along) < 1e-6)
        };
        assert!(has(0, CHECK_MM) && has(1, 50.0), "the scales");
        let halves: Vec<&Vec<[f64; 2]>> = strokes.iter().filter(|line| line.len() > 4 && (extent(line, 0) - 31.737).abs() < 1e-6).collect();
        assert_eq!(halves.len(), 2);
        let both: Vec<[f64; 2]> = halves.iter().flat_map(|half| half.iter().copied()).collect();
        assert!((extent(&both, 1) - 22.254).abs() < 1e-6, "{}", extent(&both, 1));
        for mm in [22.254, 12.73] {
            let walls: Vec<[f64; 2]> =
                strokes.iter().filter(|line| line.len() == 2 && (extent(line, 1) - 12.0).abs() < 1e-6).map(|line| line[0]).collect();
            assert!(
                walls.iter().any(|a| walls.iter().any(|b| (b[0] - a[0] - mm).abs() < 1e-6 && (a[1] - b[1]).abs() < 1e-6)),
                "no gap of {mm} mm"
            );
        }
        // Nothing is cut off by a printer that leaves 5 mm free.
        for p in strokes.iter().flatten() {
            assert!((5.0..=page.width_mm - 5.0).contains(&p[0]) && (5.0..=page.height_mm - 5.0).contains(&p[1]), "{p:?}");
        }
    }
}

#[test]
fn a_part_larger_than_the_paper_has_no_gauge() {
    let (document, mut result) = (document(""), stepped());
    for piece in result.profile.iter_mut().flat_map(|profile| &mut profile.pieces) {
        (piece.from, piece.to) = (piece.from.map(|v| v * 8.0), piece.to.map(|v| v * 8.0));
    }
    assert!(gauge::gauge_page(&sheet(&document, &result), Paper::A4).is_none());
    result.profile = None;
    assert!(gauge::gauge_page(&sheet(&document, &result), Paper::A4).is_none());
}

/// Type of 5.6 mm: seen from 0.7 m its small letters (0.46 of it) span 12.6 minutes of arc, more than twice the 5 that sharp eyes need.
#[test]
fn steps_read_at_arms_length_and_stay_on_their_page() {
    let (document, result) = (document("[run]\nwanted = 24\n"), full());
    for paper in [Paper::A4, Paper::Letter] {
        let pages = bench::steps_pages(&sheet(&document, &result), paper);
        assert!(!pages.is_empty());
        for page in &pages {
            let foot = flow::block_corner(page)[1];
            for piece in &page.pieces {
                if matches!(piece.role, Role::Paragraph | Role::Heading(_)) {
                    assert!(piece.at[1] + piece.figure.height_mm <= foot + 1e-6, "{}", piece.figure.title);
                    for mark in &piece.figure.marks {
                        if let Mark::Text { size_mm, .. } = mark {
                            assert!(*size_mm >= 4.6, "{size_mm} mm is too small for {}", piece.figure.title);
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn steps_come_in_order_with_amounts_and_cautions() {
    let (document, mut result) = (document("[run]\nwanted = 24\n"), full());
    let steps = crate::steps(&sheet(&document, &result));
    let place = |words: &str| steps.iter().position(|step| step.title.starts_with(words)).unwrap_or_else(|| panic!("no step {words}"));
    assert!(place("Mix the pot") < place("Cure a chip") && place("Cure a chip") < place("Load 1"));
    assert!(place("Load 1") < place("Wash") && place("Wash") < place("Cure, turn") && place("Cure, turn") < place("Check"));
    assert!(!steps[place("Mix the pot")].amounts.is_empty());
    assert!(steps[place("Wash")].caution.as_ref().is_some_and(|caution| caution.contains("flame")));
    (result.pot, result.run) = (None, None);
    assert!(crate::steps(&sheet(&document, &result)).is_empty());
}

/// Box of each line of type on a page: left, right, top, bottom, and what it says.
fn type_boxes(page: &Page) -> Vec<([f64; 4], String)> {
    let of_piece = |piece: &Piece| {
        let boxed = piece.figure.marks.iter().filter_map(|mark| match mark {
            Mark::Text { at, size_mm, anchor: ink::Anchor::Start, face, text, .. } => {
                let (x, y) = (piece.at[0] + at[0], piece.at[1] + at[1]);
                let right = x + ink::text_width_mm(*face, *size_mm, text);
                // x-height and a little of what hangs below: what may not be printed over.
                Some(([x, right, y - 0.5 * size_mm, y + 0.1 * size_mm], text.clone()))
            }
            _ => None,
        });
        boxed.collect::<Vec<_>>()
    };
    page.pieces.iter().flat_map(of_piece).collect()
}

/// A time told in a long sentence once ran into its room to write and into the caution below.
#[test]
fn no_type_of_the_steps_is_printed_over_another() {
    let mut result = full();
    let fact = |what: &str, value: &str| result::RouteFact { what: what.into(), value: value.into(), note: "note".into() };
    let facts = vec![fact("silicone", "210 mL, 242 g"), fact("weigh", "52.6 g + 47.4 g"), fact("bar", "25 mm")];
    result.body.get_or_insert_default().route = Some(result::RouteResult { name: "cast".into(), facts, ..result::RouteResult::default() });
    let materials = [crate::Material::CAST, crate::Material::PRINTED].concat();
    for text in ["", "route = \"cast\"", "route = \"turn\""] {
        let document = document(&format!("[body]\n{text}\n[run]\nwanted = 24\n"));
        let sheet = JobSheet { materials: &materials, ..sheet(&document, &result) };
        for page in bench::steps_pages(&sheet, Paper::A4) {
            let boxes = type_boxes(&page);
            for (i, (a, said)) in boxes.iter().enumerate() {
                for (b, other) in &boxes[..i] {
                    let over = a[0] < b[1] && b[0] < a[1] && a[2] < b[3] && b[2] < a[3];
                    assert!(!over, "{text}: `{said}` over `{other}`");
                }
            }
        }
    }
}

/// The route in the document chooses the steps; each is in its order, with what the body station found out as amounts, and the caution where the danger is.
#[test]
fn cast_and_turned_parts_have_their_own_steps() {
    let fact = |what: &str, value: &str| result::RouteFact { what: what.into(), value: value.into(), note: "note".into() };
    let mut result = full();
    let body = result.body.get_or_insert_with(Default::default);
    body.route = Some(result::RouteResult {
        stance: None,
        name: "cast".into(),
        facts: vec![
            fact("silicone", "210 mL, 242 g"),
            fact("weigh", "52.6 g + 47.4 g"),
            fact("bar", "25 mm"),
            fact("bar length", "36 mm a part"),
        ],
        diameters_mm: vec![(0.0, 20.0, true), (1.0, 20.5, false)],
    });
    let titles = |body: &str, result: &result::JobResult| {
        let document = document(&format!("[body]\n{body}\n[run]\nwanted = 24\n"));
        let materials = [crate::Material::CAST, crate::Material::PRINTED].concat();
        crate::steps(&crate::JobSheet { materials: &materials, ..sheet(&document, result) })
    };
    let in_order = |steps: &[crate::Step], words: &[&str]| {
        let places: Vec<usize> =
            words.iter().map(|w| steps.iter().position(|s| s.title.starts_with(w)).unwrap_or_else(|| panic!("no step {w}"))).collect();
        assert!(places.windows(2).all(|pair| pair[0] < pair[1]), "{words:?} {places:?}");
    };
    let cast = titles("route = \"cast\"", &result);
    in_order(&cast, &["Make ready", "Master", "Mould", "Weigh and mix", "Degas", "Pour", "Cure", "Demould", "Check"]);
    let step = |steps: &[crate::Step], title: &str| steps.iter().find(|s| s.title.starts_with(title)).cloned().unwrap_or_default();
    assert_eq!(step(&cast, "Mould").amounts[0][0], "210 mL, 242 g");
    assert_eq!(step(&cast, "Weigh").amounts[0][0], "52.6 g + 47.4 g");
    assert!(["Make ready", "Weigh", "Pour"].iter().all(|t| step(&cast, t).caution.is_some_and(|c| c.contains("Isocyanate"))));
    let epoxy = titles("route = \"cast\"\ncast = { material = \"epoxy\" }", &result);
    assert!(step(&epoxy, "Weigh").caution.is_some_and(|c| c.contains("Epoxy") && !c.contains("Isocyanate")));
    let turned = titles("route = \"turn\"", &result);
    in_order(&turned, &["Make ready", "Saw the bar", "Chuck", "Rough", "Finish", "Hold the gauge", "Part off", "Check"]);
    assert_eq!(step(&turned, "Saw").amounts[0][0], "25 mm");
    assert!(step(&turned, "Make ready").lines[0].contains("No gloves"));
    result.body = None;
    assert!(titles("route = \"turn\"", &result).is_empty());
}

#[test]
fn a_label_says_what_it_is_and_what_it_is_not() {
    let document = document("[batch]\nnumber = \"7\"\ndate = \"2026-11-28\"\n[resin]\nname = \"white\"\n");
    let result = full();
    let label = label(&sheet(&document, &result));
    let said: String =
        label.marks.iter().filter_map(|mark| if let Mark::Text { text, .. } = mark { Some(format!("{text} ")) } else { None }).collect();
    for words in ["Focus knob", "7", "2026-11-28", "white", "REPLICA", "Not for food, not a toy"] {
        assert!(said.contains(words), "{words} is not in {said}");
    }
}

/// Mass fractions by hand: 20 mL of 1.1 g/mL and 2 drops of 25 uL of 1.05 g/mL: 22 and 0.0525 of 22.0525.
#[test]
fn the_record_has_mass_fractions_sources_and_assumptions() {
    let document = document(
        "[[known]]\nname = \"shaft\"\nvalue = \"1/4 in\"\nsource = \"a caliper\"\n[resin]\nname = \"white\"\ndensity_g_ml = 1.1\n[[colourant]]\nname = \"black\"\ndrop_ul = 25\ndensity_g_ml = 1.05\n",
    );
    let mut result = full();
    let recipe = result::Recipe {
        volume_ml: 20.0,
        drops: [("black".to_string(), 2)].into(),
        lab: [66.0, 0.0, 0.0],
        de00: 0.3,
        de00_95: 1.0,
        proven: true,
        ..Default::default()
    };
    // The same by weight: 0.0525 g.
    let weighed = result::Recipe { drops: Default::default(), grams: [("black".to_string(), 0.0525)].into(), ..recipe.clone() };
    result.pot = Some(result::PotResult { recipes: vec![weighed], ..Default::default() });
    let pages = record::record_pages(&sheet(&document, &result), Paper::A4);
    assert!(
        pages.iter().flat_map(|page| &page.pieces).any(|piece| piece.figure.title.contains("0.2381")),
        "a weighed recipe has its mass fraction"
    );
    result.pot = Some(result::PotResult { recipes: vec![recipe], ..Default::default() });
    for paper in [Paper::A4, Paper::Letter] {
        let pages = record::record_pages(&sheet(&document, &result), paper);
        let said: String = pages.iter().flat_map(|page| &page.pieces).map(|piece| format!("{}\n", piece.figure.title)).collect();
        for words in ["99.7619", "0.2381", "a caliper", "How alike it is", "Assumptions", "no made part was read"] {
            assert!(said.contains(words), "{words} is not in the record");
        }
    }
}

#[test]
fn empty_and_wild_results_make_papers_too() {
    let document = document("");
    let mut wild = full();
    for size in &mut wild.dimensions {
        (size.used_mm, size.value_mm) = (f64::NAN, f64::INFINITY);
    }
    wild.limits = vec![result::ToldLimits {
        name: "\u{1}".repeat(5000),
        nominal_mm: f64::NAN,
        low_mm: f64::NEG_INFINITY,
        high_mm: f64::INFINITY,
        rule: String::new(),
    }];
    for result in [&JobResult::default(), &wild] {
        let sheet = sheet(&document, result);
        assert!(
            record_pdf(&sheet, Paper::A4).is_ok()
                && steps_pdf(&sheet, Paper::A4).is_ok()
                && gauge_pdf(&sheet, Paper::A4).is_ok()
                && label_pdf(&sheet, Paper::A4).is_ok()
        );
    }
}

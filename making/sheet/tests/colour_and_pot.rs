//! What colour and pot find out stands on the sheet, on screen and on paper; numbers that are none do no harm.
#![allow(clippy::unwrap_used)] // a test may stop at the first wrong thing

use job::Document;
use result::*;
use sheet::{JobSheet, Material, Paper, html, pdf};

fn document() -> Document {
    job::read("format = \"ringer-job 1\"\ntitle = \"t\"\n[target]\nlab = [66.0, -8.0, 8.0]\ntolerance = 1.2\nlights = [\"A\"]\n").unwrap()
}

fn colour(v: f64) -> ColourResult {
    let lab = [66.0 + v, -8.0, 8.0];
    let named = |name: &str| NamedColour { name: name.into(), lab, sigma: [0.4; 3] };
    let light = |name: &str, known| WantedUnder {
        light: name.into(),
        words: "a light".into(),
        lab,
        known,
        srgb: "#98a492".into(),
        out_of_gamut: false,
    };
    ColourResult {
        lab,
        sigma: [0.4; 3],
        srgb: "#98a492".into(),
        source: "inside".into(),
        out_of_gamut: false,
        spread: Some([1.1, 0.6, 0.9 + v]),
        path: Some(AgePath { new: named("inside"), now: named("outside"), share: 0.35, de00: 6.7 + v }),
        aim: Some(AimResult { lab, sigma: [0.5; 3], drifts: vec![([-0.4, 0.1, 1.2], 0.3, "last cure".into())] }),
        lights: vec![light("D65", true), light("A", true), light("LED-B3", false)],
        beside: vec![BesideResult {
            photo: "chips".into(),
            chip: "trial".into(),
            lab: [0.9 + v, -1.0, 1.9],
            sigma: [0.8, 0.4, 0.4],
            de00: 1.7,
            words: "0.8 lighter".into(),
            used: true,
        }],
    }
}

fn pot(v: f64) -> PotResult {
    let recipe = Recipe {
        volume_ml: 20.0,
        drops: [("black".to_string(), 2)].into(),
        lab: [66.0, -8.0, 8.0],
        de00: 0.3 + v,
        de00_95: 1.1,
        proven: true,
        chance: 0.93,
        merit: "steadier".into(),
        ..Recipe::default()
    };
    let pair = |light: &str, metamerism: Option<f64>| PairUnder {
        light: light.into(),
        words: "a light".into(),
        wanted: [66.0, -8.0 + v, 8.0],
        predicted: [66.0, -8.0, 8.0],
        de00: metamerism,
        metamerism,
        srgb: ["#98a492".into(), "#98a491".into()],
        out_of_gamut: false,
    };
    let strip = |tinted: f64| [5.0, 90.0, 10.0, tinted];
    PotResult {
        recipes: vec![recipe],
        lights: vec![pair("D65", Some(0.3)), pair("A", Some(1.4 + v)), pair("LED-B3", None)],
        learning: (1..5).map(|n| LearningPoint { chips: n, name: format!("s{n}"), de00: 1.0, de00_95: 9.0 / n as f64 + v }).collect(),
        shelf: vec![ShelfTold {
            colourant: "black".into(),
            from: "black, lot A12".into(),
            how: "another lot".into(),
            ln_strength: Some(Doubted { value: -0.2 + v, sigma: 0.05 }),
        }],
        book: vec![BookTold {
            what: "40 mL of A taken: load 1".into(),
            pot: "A".into(),
            total_ml: 61.25 + v,
            percent: [("black".to_string(), 0.247)].into(),
            lab: Some([66.0, -8.0, 8.0]),
            de00: Some(0.4),
        }],
        top_up: Some("Pot A: to put the 40.0 mL back".into()),
        corrections: vec![CorrectionTold {
            pot: "A".into(),
            resin_ml: 12.5,
            drops: [("yellow".to_string(), 7)].into(),
            grams: Default::default(),
            de00: [0.2 + v, 1.3],
        }],
        scale_up: vec![ScaleUpTold {
            colourant: "blue".into(),
            written_ml: 25.0,
            right_ml: 2.5 + v,
            slip: Some("10 times too much: a decimal point slipped".into()),
        }],
        stocks: vec![StockTold {
            colourant: "black".into(),
            unit: "g".into(),
            steps: vec![[0.41, 2.79, 12.8, 0.012 + v]],
            dose: 0.41,
            error: 0.019,
            least_total: 20.4,
        }],
        cure: Some(CureTold {
            measured: false,
            depth_um: Some(Doubted { value: 105.0 + v, sigma: 10.0 }),
            critical: Some(Doubted { value: 2.2, sigma: 0.3 }),
            exposure: Some(Doubted { value: 5.2, sigma: 0.5 }),
            factor: Some(1.02),
            layer_mm: 0.05,
            basis: "An estimate: the strips of bare resin".into(),
            strips: vec![strip(0.0), strip(1.0)],
        }),
        ..PotResult::default()
    }
}

fn made(v: f64) -> JobResult {
    JobResult { colour: Some(colour(v)), pot: Some(pot(v)), ..JobResult::default() }
}

#[test]
fn everything_found_out_stands_on_the_sheet() {
    let (document, result) = (document(), made(0.0));
    let sheet = JobSheet { document: &document, result: &result, photos: &[], section: None, materials: Material::PRINTED, sample: false };
    let page = html(&sheet).replace('\u{a0}', " ");
    for words in [
        // Colour: the way from new to now, drift, mottle, lights, tolerance with its source, the chip beside the part.
        "From inside as new to outside as it is now, 6.7 CIEDE2000 apart",
        "will drift: last cure",
        "so the pot aims at",
        "varies over the original by",
        "A guess: only its Lab under D65 is known, not its spectrum.",
        "CIEDE2000 1.20 under D65, A ([target] tolerance)",
        "Am J Dent 2023",
        "0.8 lighter; the part&#39;s colour is taken from this chip",
        // Pot: metamerism known and unknown, chance and merit, learning, shelf, book, what to add, slip, stock, exposure.
        "through the light alone 1.4",
        "Metamerism is unknown",
        "steadier",
        "What each chip taught",
        "black, lot A12",
        "40 mL of A taken: load 1",
        "7 yellow",
        "a decimal point slipped",
        "too small a dose to measure neat",
        "Exposure, estimated: never without a test strip",
    ] {
        let found = page.contains(words) || page.contains(&words.replace("&#39;", "'"));
        assert!(found, "`{words}` is not on the sheet");
    }
    for paper in [Paper::A4, Paper::Letter] {
        assert!(pdf(&sheet, paper).is_ok_and(|bytes| bytes.starts_with(b"%PDF")));
    }
}

#[test]
fn numbers_that_are_none_do_no_harm() {
    let document = document();
    for wild in [f64::NAN, f64::INFINITY, -1e300, 1e300] {
        let result = made(wild);
        let sheet =
            JobSheet { document: &document, result: &result, photos: &[], section: None, materials: Material::PRINTED, sample: false };
        let page = html(&sheet);
        assert!(!page.contains(">NaN") && !page.contains("\"NaN") && !page.contains("inf\""), "{wild}");
        assert!(pdf(&sheet, Paper::A4).is_ok(), "{wild}");
    }
}

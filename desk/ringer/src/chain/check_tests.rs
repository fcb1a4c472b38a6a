//! Readings of made parts through the whole check station, without photos.

use super::evidence::Evidence;
use super::{Memory, bench, check_made, run};
use crate::progress::Progress;
use result::{BodyResult, BoreResult, Dimension, JobResult};
use std::collections::BTreeMap;

fn evidence(text: &str, bench: Option<&str>) -> Evidence {
    let document =
        job::read(&format!("format = \"ringer-job 1\"\ntitle = \"t\"\n{text}")).unwrap_or_else(|problems| panic!("{problems:#?}"));
    let bench = bench.map(|text| toml::from_str(text).unwrap_or_else(|error| panic!("{error}")));
    Evidence { document, photos: Vec::new(), spectra: BTreeMap::new(), bench, shelf: None }
}

/// A part of 22.225 by 31.75 with a bore that wants 6.40 to 6.50.
fn designed() -> JobResult {
    let size = |name: &str, kind: &str, used_mm| Dimension {
        name: name.into(),
        kind: kind.into(),
        z_mm: [0.0, 31.75],
        value_mm: used_mm,
        sigma_mm: 0.05,
        candidates: Vec::new(),
        chosen: None,
        used_mm,
        against_sigmas: None,
        source: "photos".into(),
    };
    let bore = BoreResult {
        diameter_mm: 6.52,
        allowance_mm: 0.17,
        depth_mm: 15.0,
        bottom: "flat".into(),
        fit: "slides".into(),
        limits_mm: Some([6.40, 6.50]),
        ..BoreResult::default()
    };
    JobResult {
        dimensions: vec![size("overall length", "length", 31.75), size("greatest diameter", "diameter", 22.225)],
        body: Some(BodyResult { bore: Some(bore), ..BodyResult::default() }),
        ..JobResult::default()
    }
}

fn checked(text: &str, bench: Option<&str>) -> JobResult {
    let (evidence, mut sheet) = (evidence(text, bench), designed());
    check_made::work_out(&evidence, None, None, &mut sheet, &mut Memory::default(), &Progress::new(false));
    sheet
}

#[track_caller]
fn verdict(part: &str, verdict: &str, words: &str) {
    let sheet = checked(&format!("[[check]]\npart = \"1\"\n{part}\n"), None);
    let found = &sheet.check.as_ref().unwrap_or_else(|| panic!("no check")).parts[0];
    assert_eq!(found.verdict, verdict, "{}", found.why);
    assert!(found.why.contains(words), "`{words}` is not in `{}`", found.why);
}

#[test]
fn each_verdict_names_its_rule() {
    verdict("readings = { \"greatest diameter\" = 22.2, bore = 6.45 }", "accept", "ISO 14253-1");
    verdict("readings = { \"greatest diameter\" = 22.5 }", "rework", "greatest diameter");
    verdict("readings = { \"greatest diameter\" = 21.9 }", "reject", "greatest diameter");
    verdict("readings = { bore = 6.3 }", "rework", "bore");
    verdict("readings = { bore = 6.6 }", "reject", "bore");
    verdict("readings = { bore = 6.41 }", "undecided", "would decide");
    verdict("pins = { enter = 6.4, stay_out = 6.45 }", "accept", "1 readings");
    verdict("pins = { enter = 6.4 }", "undecided", "try the 6.500 mm pin");
    verdict("", "undecided", "nothing of it was read");
}

#[test]
fn limits_come_from_the_class_from_the_fit_or_from_the_person() {
    let sheet = checked("[tolerance]\nclass = \"f\"\nown = { \"overall length\" = [\"-0.3 mm\", 0] }\n", None);
    let told: Vec<(String, f64, f64)> =
        sheet.limits.iter().map(|l| (l.rule.clone(), (l.low_mm * 1e4).round() / 1e4, (l.high_mm * 1e4).round() / 1e4)).collect();
    // ISO 2768-1 f: 0.1 over 6 up to 30 mm.
    let expected = [("own", 31.45, 31.75), ("ISO 2768-1 f", 22.125, 22.325), ("fit", 6.4, 6.5), ("ISO 2768-1 f", 14.9, 15.1)];
    assert_eq!(told, expected.map(|(rule, low, high)| (rule.to_string(), low, high)));
    assert!(sheet.assumptions.is_empty() && sheet.missing == ["check: no made part was read ([[check]])"]);
    assert!(checked("", None).assumptions.iter().any(|a| a.switch == "[tolerance] class"));
}

#[test]
fn a_reading_of_no_size_is_named_and_left_out() {
    let sheet = checked("[[check]]\npart = \"1\"\nreadings = { girth = 22.2 }\n", None);
    assert!(sheet.warnings.iter().any(|w| w.text.contains("`girth`") && w.settle.contains("greatest diameter")), "{:?}", sheet.warnings);
}

#[test]
fn colours_are_sorted_into_lots_against_the_master() {
    let part = |n: u32, l: f64| format!("[[check]]\npart = \"{n}\"\nlab = [{l}, -8.0, 8.0]\nlab_sigma = 0.1\n");
    let sheet = checked(
        &format!("[batch]\nmaster = [66.0, -8.0, 8.0]\n{}{}{}{}", part(1, 66.0), part(2, 66.4), part(3, 70.0), part(4, 70.2)),
        None,
    );
    let check = sheet.check.unwrap_or_default();
    assert_eq!(check.tone_lots.iter().map(|lot| lot.parts.join("+")).collect::<Vec<_>>(), ["1+2", "3+4"]);
    assert_eq!(check.pairs[0].parts, ["3", "4"]);
    assert_eq!(check.counts, [2, 0, 0, 2]);
    assert!(
        check.parts[2]
            .colour
            .as_ref()
            .is_some_and(|c| c.to_target.is_none() && c.to_master.is_some_and(|d| d > 2.0) && c.words.contains("lighter"))
    );
}

/// What a batch teaches is read back by the bench file as it stands, and changes the next plan.
#[test]
fn what_a_batch_teaches_enters_the_next_plan() {
    let batch = "[batch]\nprocess = \"say \\\"grey\\\"\"\nmade = 60\ngood = 57\nloads = 12\nlost = 1\n";
    let part = |n: u32| {
        format!("[[check]]\npart = \"{n}\"\nreadings = {{ \"greatest diameter\" = 22.114, \"overall length\" = 31.591, bore = 6.42 }}\n")
    };
    let sheet = checked(&format!("{batch}{}{}{}{}{}", part(1), part(2), part(3), part(4), part(5)), None);
    let lines = sheet.check.unwrap_or_default().bench_lines;
    let next = evidence(&format!("[run]\nwanted = 24\n{batch}"), Some(&lines));
    let mut planned = designed();
    bench::work_out(&next, &mut planned);
    run::work_out(&next, &mut planned, &mut Memory::default(), &Progress::new(false));
    let learnt = planned.bench.clone().unwrap_or_default();
    // 22.114 / 22.225 and 31.591 / 31.75: both 0.5 % small.
    assert!(learnt.scale.is_some_and(|scale| (scale.value - 1.005).abs() < 2e-4), "{learnt:?}");
    assert_eq!((learnt.made_good, learnt.loads_lost), (Some([60, 57]), Some([12, 1])));
    let (process, measured) = bench::bore_process(&next);
    // 6.42 of a drawn 6.52, of which shrinkage takes 0.0326.
    assert!(measured && (process.offset.mm + 0.0674).abs() < 2e-3, "{process:?}");
    let basis = planned.run.map(|run| run.basis).unwrap_or_default();
    assert!(basis.contains("57 good of 60") && basis.contains("1 of 12 loads"), "{basis}");
}

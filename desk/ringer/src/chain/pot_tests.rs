//! Colour and pot from documents alone: readings, age, drift, lights, shelf, book, scale-up, stocks, strips.

use super::evidence::Evidence;
use super::{Memory, colour, pot};
use crate::progress::Progress;
use result::JobResult;
use std::collections::BTreeMap;

/// A white resin with three colourants and their chips, as the demo's.
const POT: &str = r#"
[resin]
name = "white"
thickness_mm = 3.0
backing = "white"
density_g_ml = 1.10
[[colourant]]
name = "black"
drop_ul = 25.0
density_g_ml = 1.05
[[colourant]]
name = "yellow"
drop_ul = 25.0
density_g_ml = 1.05
[[colourant]]
name = "blue"
drop_ul = 25.0
density_g_ml = 1.05
[[sample]]
name = "bare"
volume_ml = 5.0
lab = [93.9, -0.4, 0.1]
[[sample]]
name = "black 1"
volume_ml = 5.0
drops = { black = 1 }
lab = [69.1, -1.1, -4.8]
[[sample]]
name = "yellow 4"
volume_ml = 5.0
drops = { yellow = 4 }
lab = [87.6, 2.2, 40.5]
[[sample]]
name = "blue 4"
volume_ml = 5.0
drops = { blue = 4 }
lab = [74.2, -9.6, -16.2]
"#;

fn made(text: &str, files: &[(&str, String)], bench: Option<&str>, shelf: Option<&str>) -> JobResult {
    let document =
        job::read(&format!("format = \"ringer-job 1\"\ntitle = \"t\"\n{text}")).unwrap_or_else(|problems| panic!("{problems:#?}"));
    let spectra: BTreeMap<String, String> = files.iter().map(|(name, text)| (name.to_string(), text.clone())).collect();
    let bench = bench.map(|text| toml::from_str(text).unwrap_or_else(|e| panic!("{e}")));
    let shelf = shelf.map(|text| toml::from_str(text).unwrap_or_else(|e| panic!("{e}")));
    let evidence = Evidence { document, photos: Vec::new(), spectra, bench, shelf };
    let (mut sheet, quiet) = (JobResult::default(), Progress::new(false));
    let wanted = colour::work_out(&evidence, None, &mut sheet, &quiet);
    pot::work_out(&evidence, wanted.as_ref(), &mut sheet, &mut Memory::default(), &quiet);
    sheet
}

fn with_pot(text: &str) -> JobResult {
    made(&format!("{text}\n{POT}"), &[], None, None)
}

/// A green of the pot's own gamut, as comma-separated values.
fn green() -> String {
    let value = |nm: f64| 0.30 + 0.12 * (-0.5 * ((nm - 535.0) / 40.0_f64).powi(2)).exp();
    (380..=730).step_by(10).map(|nm| format!("{nm},{:.5}\n", value(f64::from(nm)))).collect()
}

fn lab_of(csv: &str, light: cie::Light, observer: cie::Observer) -> [f64; 3] {
    let sample = cie::read_csv(csv).expect("reads").samples.remove(0).spectrum.expect("a spectrum");
    cie::Weights::new(light, observer, &sample.0).and_then(|weights| weights.lab(&sample.1)).expect("a colour").array()
}

fn near(a: [f64; 3], b: [f64; 3], by: f64) -> bool {
    a.iter().zip(b).all(|(a, b)| (a - b).abs() <= by)
}

#[test]
fn spectra_are_readings_from_either_kind_of_file() {
    let (csv, truth) = (green(), lab_of(&green(), cie::Light::D65, cie::Observer::TwoDegree));
    let rows: Vec<&str> = csv.lines().collect();
    let names: Vec<String> = rows.iter().map(|row| format!("SPECTRAL_NM{}", row.split(',').next().unwrap_or(""))).collect();
    let values: Vec<&str> = rows.iter().map(|row| row.split(',').nth(1).unwrap_or("")).collect();
    let tagged = format!(
        "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME {}\nEND_DATA_FORMAT\nBEGIN_DATA\nother {}\nmine {}\nEND_DATA\n",
        names.join(" "),
        vec!["0.5"; values.len()].join(" "),
        values.join(" ")
    );
    for (keys, text) in [("spectrum = \"a.txt\"", csv.clone()), ("spectrum = \"a.txt\"\nsample = \"mine\"", tagged.clone())] {
        let document = format!("[[reading]]\nname = \"r\"\nsigma = 0.3\n{keys}\n[target]\nfrom = \"r\"\n");
        let sheet = made(&document, &[("a.txt", text)], None, None);
        let colour = sheet.colour.expect("a colour");
        assert!(near(colour.lab, truth, 1e-9), "{:?} {truth:?}", colour.lab);
    }
    let unnamed = "[[reading]]\nname = \"r\"\nspectrum = \"a.txt\"\n[target]\nfrom = \"r\"\n";
    let missing = made(unnamed, &[("a.txt", tagged)], None, None).missing.join("; ");
    assert!(missing.contains("name one with `sample`") && missing.contains("mine"), "{missing}");
}

/// The Lab of another observer comes out near that of the spectrum, and its doubt says how near.
#[test]
fn ten_degrees_are_turned_into_two_with_their_doubt() {
    let truth = lab_of(&green(), cie::Light::D65, cie::Observer::TwoDegree);
    let ten = lab_of(&green(), cie::Light::D65, cie::Observer::TenDegree);
    let document = format!(
        "[[reading]]\nname = \"r\"\nlab = [{}, {}, {}]\nobserver = 10\nsigma = 0.2\n[target]\nfrom = \"r\"\n",
        ten[0], ten[1], ten[2]
    );
    let sheet = made(&document, &[], None, None);
    let colour = sheet.colour.expect("a colour");
    let off = cie::ciede2000(colour.lab, truth);
    assert!(off < cie::ciede2000(ten, truth) && off < 0.8, "{off}");
    assert!((0..3).all(|k| (colour.lab[k] - truth[k]).abs() < 2.0 * colour.sigma[k]), "{:?} {truth:?} {:?}", colour.lab, colour.sigma);
    assert!(sheet.warnings.iter().any(|warning| warning.text.contains("10 degrees") && warning.settle.contains("spectrum")));
}

#[test]
fn a_place_on_the_way_from_new_to_now() {
    let readings = "[[reading]]\nname = \"inside\"\nlab = [66.0, -8.0, 8.0]\nsigma = 0.4\n[[reading]]\nname = \"outside\"\nlab = [72.0, -4.0, 16.0]\nsigma = 0.8\n";
    for share in [0.0, 0.25, 1.0] {
        let document = format!("{readings}[target]\nage = {{ new = \"inside\", now = \"outside\", share = {share} }}\n");
        let colour = made(&document, &[], None, None).colour.expect("a colour");
        let by_hand = [66.0 + 6.0 * share, -8.0 + 4.0 * share, 8.0 + 8.0 * share];
        assert!(near(colour.lab, by_hand, 1e-9), "{:?}", colour.lab);
        assert!((colour.sigma[0] - (0.4 * (1.0 - share)).hypot(0.8 * share)).abs() < 1e-9);
        let path = colour.path.expect("a path");
        assert_eq!((path.new.name.as_str(), path.now.name.as_str(), path.share), ("inside", "outside", share));
        assert!((path.de00 - cie::ciede2000([66.0, -8.0, 8.0], [72.0, -4.0, 16.0])).abs() < 1e-9);
    }
}

/// The pot aims at the wanted colour less the drift, its doubt with it; the wanted colour itself stays.
#[test]
fn drift_is_counted_in() {
    let target = "[target]\nlab = [66.0, -8.0, 8.0]\nsigma = 0.3\nmax_drops = 40\n";
    let drift = "drift = [{ lab = [-1.0, 0.5, 3.0], sigma = 0.4, source = \"cure\" }, { lab = [0.0, 0.0, 1.0], sigma = 0.3, source = \"a year\" }]\n";
    let (plain, drifting) = (with_pot(target), with_pot(&format!("{target}{drift}")));
    let colour = drifting.colour.expect("a colour");
    assert_eq!(colour.lab, [66.0, -8.0, 8.0]);
    let aim = colour.aim.expect("an aim");
    assert!(near(aim.lab, [67.0, -8.5, 4.0], 1e-9), "{:?}", aim.lab);
    assert!((aim.sigma[2] - (0.3f64.powi(2) + 0.4f64.powi(2) + 0.3f64.powi(2)).sqrt()).abs() < 1e-9);
    let best = |sheet: &JobResult| sheet.pot.as_ref().expect("a pot").recipes[0].clone();
    let with = JobResult { pot: drifting.pot, ..JobResult::default() };
    // The drift goes to yellow by itself, so less yellow goes in.
    assert!(best(&with).drops["yellow"] < best(&plain).drops["yellow"]);
    assert!(best(&with).lab[2] < best(&plain).lab[2] - 2.0);
    assert!((best(&with).de00 - cie::ciede2000(best(&with).lab, [67.0, -8.5, 4.0])).abs() < 1e-9);
}

#[test]
fn metamerism_is_shown_where_spectra_are_known_and_said_to_be_unknown_elsewhere() {
    let lights = "lights = [\"A\", \"LED-B3\", \"X9\"]\nmax_drops = 40\n";
    let known = made(
        &format!("[[reading]]\nname = \"r\"\nspectrum = \"g.csv\"\nsigma = 0.3\n[target]\nfrom = \"r\"\n{lights}{POT}"),
        &[("g.csv", green())],
        None,
        None,
    );
    let pairs = &known.pot.as_ref().expect("a pot").lights;
    assert_eq!(pairs.iter().map(|pair| pair.light.as_str()).collect::<Vec<_>>(), ["D65", "A", "LED-B3"]);
    assert!(pairs[0].metamerism.is_none() && pairs[1..].iter().all(|pair| pair.metamerism.is_some_and(|index| index > 0.0)));
    let under_a = lab_of(&green(), cie::Light::A, cie::Observer::TwoDegree);
    assert!(near(pairs[1].wanted, under_a, 0.05), "{:?} {under_a:?}", pairs[1].wanted);
    assert!(known.warnings.iter().any(|warning| warning.text.contains("X9") && warning.text.contains("LED-B3")));
    // The recipe is scored over all three lights: its miss is their root mean square.
    let best = &known.pot.as_ref().expect("a pot").recipes[0];
    let rms = (pairs.iter().filter_map(|pair| pair.de00).map(|d| d * d).sum::<f64>() / 3.0).sqrt();
    assert!((best.de00 - rms).abs() < 0.02, "{} {rms}", best.de00);
    let unknown = with_pot(&format!("[target]\nlab = [66.0, -8.0, 8.0]\nsigma = 0.3\n{lights}"));
    let pairs = &unknown.pot.as_ref().expect("a pot").lights;
    assert!(pairs[1..].iter().all(|pair| pair.metamerism.is_none() && pair.de00.is_none()));
    assert!(unknown.warnings.iter().any(|warning| warning.text.contains("scored under D65 alone")));
}

/// A book by hand: 100 mL with 20 drops, 40 mL taken; then the same again.
#[test]
fn the_book_is_kept_and_what_to_add_is_told() {
    let target = "[target]\nlab = [66.0, -8.0, 8.0]\nsigma = 0.3\nmax_drops = 40\n";
    let book = "[[book]]\npot = \"A\"\nadd = { resin = 100.0 }\ndrops = { black = 10, blue = 20, yellow = 20 }\n[[book]]\npot = \"A\"\npour_into = \"B\"\nml = 30.0\n[[book]]\npot = \"A\"\ntake = \"load 1\"\nml = 40.0\n";
    let pot = with_pot(&format!("{target}{book}")).pot.expect("a pot");
    let totals: Vec<(String, f64)> = pot.book.iter().map(|line| (line.pot.clone(), line.total_ml)).collect();
    assert_eq!(totals, [("A".to_string(), 101.25), ("B".to_string(), 30.0), ("A".to_string(), 31.25)]);
    assert!((pot.book[1].percent["black"] - 100.0 * 0.25 / 101.25).abs() < 1e-4);
    assert!(pot.book.iter().all(|line| line.de00.is_some()));
    // Each suggestion comes nearer than the pot as it stands, and the list ends nearest.
    let now = pot.book[2].de00.expect("a colour");
    let after: Vec<f64> = pot.corrections.iter().map(|one| one.de00[0]).collect();
    assert!(!after.is_empty() && after.iter().all(|de00| *de00 < now), "{now} {after:?}");
    let top_up = pot.top_up.expect("a top-up");
    assert!(top_up.contains("40.0 mL back"), "{top_up}");
    let broken = with_pot(&format!("{target}[[book]]\npot = \"A\"\ntake = \"load 1\"\nml = 40.0\n"));
    assert!(broken.warnings.iter().any(|warning| warning.text.contains("does not add up")), "{:?}", broken.warnings);
}

/// Each slip is named and the right figure given. The chip "black 1": 0.025 mL into 5 mL; 500 mL need 2.5 mL.
#[test]
fn slips_of_a_scale_up_are_named() {
    let check = |keys: &str, words: &str, right: f64| {
        let target = "[target]\nlab = [66.0, -8.0, 8.0]\nsigma = 0.3\n";
        let pot = with_pot(&format!("{target}[scale_up]\nfrom = \"black 1\"\nresin_ml = 500.0\n{keys}\n")).pot.expect("a pot");
        let line = &pot.scale_up[0];
        assert!((line.right_ml - right).abs() < 1e-9, "{keys}: {}", line.right_ml);
        assert!(line.slip.as_deref().unwrap_or("right").contains(words), "{keys}: {:?}", line.slip);
    };
    check("ml = { black = 2.5 }", "right", 2.5);
    check("drops = { black = 100 }", "right", 2.5);
    check("ml = { black = 25.0 }", "10 times too much", 2.5);
    check("ml = { black = 0.025 }", "copied without scaling", 2.5);
    // 0.5 % on the resin is 0.4975 % of the total; of 500 mL that is 2.4876.
    check("ml = { black = 2.4876 }", "a share of the total was taken of the resin alone", 2.5);
    check("ml = { black = 2.5125 }", "a share on the resin was taken of the total", 2.5);
    check("ml = { black = 2.5 }\nstock_percent = { black = 8.0 }", "the thinning of the stock was forgotten", 31.25);
    check("ml = { black = 390.625 }\nstock_percent = { black = 8.0 }", "counted twice", 31.25);
    check("ml = { black = 1.25 }\nother_drop_ul = { black = [50.0] }", "for another tip", 2.5);
    check("ml = { blue = 2.5 }", "it was left out", 2.5);
}

#[test]
fn recipes_by_weight_keep_the_balances_steps() {
    let text = "[target]\nlab = [66.0, -8.0, 8.0]\nsigma = 0.3\nby_weight = true\nsample_ml = 60.0\n[tools]\nbalance_g = 0.01\n";
    let sheet = with_pot(text);
    let best = &sheet.pot.as_ref().expect("a pot").recipes[0];
    assert!(best.drops.is_empty() && !best.grams.is_empty());
    assert!(best.grams.values().all(|g| ((g / 0.01) - (g / 0.01).round()).abs() < 1e-6), "{:?}", best.grams);
    assert!(best.de00 < 0.7, "{}", best.de00);
}

/// A strong black in a small pot can't be weighed on a coarse balance: a stock is planned, and by the plan's own figures the pot gets its share.
#[test]
fn doses_too_small_for_the_balance_get_a_stock() {
    let text = "[target]\nlab = [66.0, -8.0, 8.0]\nsigma = 0.3\nsample_ml = 20.0\nmax_drops = 40\n[tools]\nbalance_g = 0.01\n";
    let pot = with_pot(text).pot.expect("a pot");
    let black = pot.stocks.iter().find(|stock| stock.colourant == "black").expect("a stock of black");
    let wanted_g = f64::from(pot.recipes[0].drops["black"]) * 0.025 * 1.05;
    let strength = black.steps.last().expect("a step")[2] / 100.0;
    assert!((black.dose * strength - wanted_g).abs() < 1e-6 * wanted_g, "{black:?} {wanted_g}");
    assert!(black.error <= 0.02 + 1e-9);
}

#[test]
fn exposure_is_measured_by_strips_or_estimated_and_says_which() {
    let target = "[target]\nlab = [66.0, -8.0, 8.0]\nsigma = 0.3\nmax_drops = 40\n[lamp]\nlayer_mm = 0.05\n";
    let strip = |exposure: f64, depth: f64, tinted: bool| {
        format!("[[strip]]\nexposure = {exposure}\ndepth_um = {depth}\nsigma_um = 2.0\ntinted = {tinted}\n")
    };
    // Dp = 100 um, Ec = 2: depths 100 ln(E / 2).
    let bare = strip(2.0 * 1f64.exp(), 100.0, false) + &strip(2.0 * 3f64.exp(), 300.0, false);
    let estimated = with_pot(&format!("{target}{bare}")).pot.expect("a pot").cure.expect("told");
    assert!(!estimated.measured && estimated.basis.contains("estimate"), "{}", estimated.basis);
    assert!(estimated.factor.is_some_and(|factor| factor > 1.0));
    // Tinted: Dp = 60 um, Ec = 2.
    let tinted = strip(2.0 * 1f64.exp(), 60.0, true) + &strip(2.0 * 3f64.exp(), 180.0, true);
    let measured = with_pot(&format!("{target}{bare}{tinted}")).pot.expect("a pot").cure.expect("told");
    assert!(measured.measured);
    let depth = measured.depth_um.expect("a depth");
    assert!((depth.value - 60.0).abs() < 1e-6, "{depth:?}");
    // 1.5 layers of 50 um: E = 2 exp(75 / 60), and the curve's doubt on top.
    let exposure = measured.exposure.expect("an exposure");
    assert!((exposure.value - 1.645 * exposure.sigma - 2.0 * (75.0f64 / 60.0).exp()).abs() < 1e-6, "{exposure:?}");
    let none = with_pot(target).pot.expect("a pot").cure.expect("told");
    assert!(none.exposure.is_none() && none.basis.contains("without strips"));
}

/// What make writes to out/shelf.toml, put beside the next job, is read as priors: without a chip of its own the next job foretells the old one's colours.
#[test]
fn the_shelf_goes_from_job_to_job() {
    let target = "[target]\nlab = [66.0, -8.0, 8.0]\nsigma = 0.3\nmax_drops = 80\n";
    let lot = |text: &str, lot: &str| text.replace("density_g_ml = 1.05", &format!("density_g_ml = 1.05\nlot = \"{lot}\""));
    let first = made(&lot(&format!("{target}{POT}"), "1"), &[], None, None).pot.expect("a pot");
    let next = format!("{target}{}", &POT[..POT.find("[[sample]]\nname = \"black 1\"").expect("there")]);
    let shelf = first.shelf_lines.as_str();
    let bound = |pot: &result::PotResult| pot.recipes[0].de00_95;
    let blind = made(&next, &[], None, None).pot.expect("a pot");
    let same = made(&lot(&next, "1"), &[], None, Some(shelf)).pot.expect("a pot");
    // The same bottles: nearly what the old job knew itself.
    assert!(
        bound(&same) < 1.3 * bound(&first) && bound(&same) < 0.5 * bound(&blind),
        "{} {} {}",
        bound(&same),
        bound(&first),
        bound(&blind)
    );
    assert_eq!(same.shelf.len(), 3);
    let lots = lot(&next, "2");
    let open = made(&lots, &[], None, Some(shelf)).pot.expect("a pot");
    assert!(open.shelf.iter().all(|line| line.how.contains("strength is open")) && bound(&open) > bound(&same));
    // With each lot's strength in bench.toml the bound falls again.
    let strength = |ln: f64| {
        let record = |name: &str| format!("[[strength]]\ncolourant = \"{name}\"\nlot = \"2\"\nln_strength = {ln}\nsigma = 0.03\n");
        ["black", "yellow", "blue"].map(record).concat()
    };
    let told = made(&lots, &[], Some(&strength(0.0)), Some(shelf)).pot.expect("a pot");
    assert!(bound(&told) < 0.8 * bound(&open), "{} {}", bound(&told), bound(&open));
    assert!(told.shelf.iter().all(|line| line.how.contains("1.00 times as strong")), "{:?}", told.shelf);
    // A lot of half the strength asks for about twice the drops.
    let weak = made(&lots, &[], Some(&strength(0.5f64.ln())), Some(shelf)).pot.expect("a pot");
    let sum = |pot: &result::PotResult| f64::from(pot.recipes[0].drops.values().sum::<u32>());
    assert!((1.6..2.4).contains(&(sum(&weak) / sum(&told))), "{} {}", sum(&weak), sum(&told));
}

/// Two lots in one bench: the second starts from the first one's spectrum; one chip of it tells its strength.
#[test]
fn a_second_lot_starts_from_the_first() {
    let target = "[target]\nlab = [66.0, -8.0, 8.0]\nsigma = 0.3\nmax_drops = 40\n";
    let second = "[[colourant]]\nname = \"black 2\"\nshelf = \"black\"\nlot = \"2\"\ndrop_ul = 25.0\n";
    let chip = "[[sample]]\nname = \"second\"\nvolume_ml = 10.0\ndrops = { \"black 2\" = 4 }\nlab = [69.1, -1.1, -4.8]\n";
    let after = format!("{target}{POT}{second}{chip}");
    let pot = made(&after, &[], None, None).pot.expect("a pot");
    let line = &pot.shelf[0];
    assert_eq!((line.colourant.as_str(), line.from.as_str()), ("black 2", "black on this bench"));
    // Four drops in 10 mL look as one in 5 mL of the first: half as strong.
    let ln = line.ln_strength.expect("a chip of it");
    assert!((ln.value - 0.5f64.ln()).abs() < 2.0 * ln.sigma.max(0.05) && ln.sigma < 0.2, "{ln:?}");
    // The check writes it down for the next plan, which reads it: the learnt strength goes round.
    let document =
        format!("{after}[[check]]\npart = \"1\"\nlab = [66.0, -8.0, 8.0]\n[[strip]]\nexposure = 5.0\ndepth_um = 90.0\ntinted = false\n");
    let lines = checked(&document);
    let bench: check::Bench = toml::from_str(&lines).unwrap_or_else(|e| panic!("{e}\n{lines}"));
    let record = &bench.strength[0];
    assert_eq!((record.colourant.as_str(), record.lot.as_str()), ("black", "2"));
    assert!((record.ln_strength - ln.value).abs() < 1e-3 && bench.strip.len() == 1);
    let without = format!("{target}{POT}{second}");
    let next = made(&without, &[], Some(&lines), None).pot.expect("a pot");
    assert!(next.shelf[0].how.contains("0.5") || next.shelf[0].how.contains("0.4"), "{:?}", next.shelf);
}

/// Lines for bench.toml after the check of this document.
fn checked(text: &str) -> String {
    let document =
        job::read(&format!("format = \"ringer-job 1\"\ntitle = \"t\"\n{text}")).unwrap_or_else(|problems| panic!("{problems:#?}"));
    let evidence = Evidence { document, photos: Vec::new(), spectra: BTreeMap::new(), bench: None, shelf: None };
    let (mut sheet, quiet, mut memory) = (JobResult::default(), Progress::new(false), Memory::default());
    let wanted = colour::work_out(&evidence, None, &mut sheet, &quiet);
    pot::work_out(&evidence, wanted.as_ref(), &mut sheet, &mut memory, &quiet);
    super::check_made::work_out(&evidence, None, wanted.as_ref(), &mut sheet, &mut memory, &quiet);
    sheet.check.expect("a check").bench_lines
}

/// A chip read before its last cure is moved by what the bench knows of that cure.
#[test]
fn cure_shift_is_fed_back() {
    let target = "[target]\nlab = [66.0, -8.0, 8.0]\nsigma = 0.3\nmax_drops = 40\n";
    let early = POT.replace("lab = [87.6, 2.2, 40.5]", "lab = [88.6, 1.7, 38.0]\nbefore_cure = true");
    let record = "[[cure]]\nprocess = \"white\"\nbefore = [80.0, 0.0, 10.0]\nafter = [79.0, 0.5, 12.5]\nsigma = 0.05\n";
    let moved = made(&format!("{target}{early}"), &[], Some(record), None).pot.expect("a pot");
    let read = |pot: &result::PotResult| pot.chips.iter().find(|chip| chip.name == "yellow 4").expect("there").lab;
    assert!(near(read(&moved), [87.6, 2.2, 40.5], 1e-9), "{:?}", read(&moved));
    let unknown = made(&format!("{target}{early}"), &[], None, None);
    assert!(unknown.warnings.iter().any(|warning| warning.text.contains("before its last cure")));
    assert!(near(read(&unknown.pot.expect("a pot")), [88.6, 1.7, 38.0], 1e-9));
}

/// What stands in the way is named: a colourant that is missing, a bottle that is nearly empty, a pot too small for whole drops.
#[test]
fn what_stands_in_the_way_is_named() {
    let said = |sheet: &JobResult, words: &str| sheet.warnings.iter().any(|w| w.text.contains(words) || w.settle.contains(words));
    let red = with_pot("[target]\nlab = [55.0, 35.0, 12.0]\nsigma = 0.3\nmax_drops = 60\n");
    assert!(said(&red, "out of reach") && (said(&red, "a red would help") || said(&red, "a magenta would help")), "{:?}", red.warnings);
    let target = "[target]\nlab = [66.0, -8.0, 8.0]\nsigma = 0.3\nmax_drops = 40\n";
    let short = POT.replace("name = \"blue\"\n", "name = \"blue\"\nstock_ml = 0.06\n");
    let pot = made(&format!("{target}{short}"), &[], None, None).pot.expect("a pot");
    // 0.06 mL are two drops of 25 uL.
    assert!(pot.recipes.iter().all(|recipe| recipe.drops.get("blue").copied().unwrap_or(0) <= 2), "{:?}", pot.recipes);
    let small = with_pot(&target.replace("max_drops = 40", "max_drops = 40\nsample_ml = 5.0"));
    assert!(said(&small, "one drop moves the colour") && said(&small, "mix at least"), "{:?}", small.warnings);
    let few = with_pot(&target.replace("max_drops = 40", "max_drops = 40\nmax_colourants = 2"));
    assert!(few.pot.expect("a pot").recipes.iter().all(|recipe| recipe.drops.len() <= 2));
}

//! Every row of `tests/data/check_values.csv` and `tests/data/fits_worked.csv`: values worked out outside this project's code, with
//! their sources named in the files.

use sizes::tables::{
    Class, Feature, Gauge, Hub, Series, cavity_for_part_mm, drill, fit, general_tolerance, inch_fit, loosening_mm, nearest_preferred,
    part_from_cavity_mm, preferred, thread, wire_mm,
};
use sizes::{Zone, h_zone, reading_density};

struct Row {
    id: String,
    inputs: String,
    expected: String,
}

/// Rows whose id starts with one of these; the test fails if there are fewer than `count`.
fn rows(starts: &[&str], count: usize) -> Vec<Row> {
    let text = include_str!("data/check_values.csv");
    let found: Vec<Row> = text
        .lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(cells)
        .filter(|cells| starts.iter().any(|start| cells[0].starts_with(start)))
        .map(|cells| Row { id: cells[0].clone(), inputs: cells[3].clone(), expected: cells[4].clone() })
        .collect();
    assert_eq!(found.len(), count, "rows of {starts:?}");
    found
}

fn cells(line: &str) -> Vec<String> {
    let (mut out, mut cell, mut quoted) = (Vec::new(), String::new(), false);
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => out.push(std::mem::take(&mut cell)),
            _ => cell.push(c),
        }
    }
    out.push(cell);
    out
}

/// All numbers of a text, in order.
fn numbers(text: &str) -> Vec<f64> {
    text.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-')).filter_map(|word| word.parse().ok()).collect()
}

fn range(text: &str) -> (f64, f64) {
    let (a, b) = text.split_once("..").expect("a range");
    (a.parse().expect("a number"), b.parse().expect("a number"))
}

#[test]
fn fits_of_the_check_values() {
    for row in rows(&["fit_"], 10) {
        let parts: Vec<&str> = row.id.split('_').collect();
        let found = fit(&format!("{}/{}", parts[2], parts[3]), parts[1].parse().expect("a size")).expect("listed");
        assert_eq!((found.clearance_min_um, found.clearance_max_um), range(&row.expected), "{}", row.id);
    }
}

/// 12 sizes by 10 fits.
#[test]
fn fits_worked_elsewhere() {
    let mut count = 0;
    for line in include_str!("data/fits_worked.csv").lines().filter(|line| !line.starts_with('#')).skip(1) {
        let cells = cells(line);
        let value = |i: usize| cells[i].parse::<f64>().expect("a number");
        let found = fit(&cells[1], value(0)).expect("listed");
        let ours = [
            found.hole.lower_um,
            found.hole.upper_um,
            found.shaft.lower_um,
            found.shaft.upper_um,
            found.clearance_min_um,
            found.clearance_max_um,
        ];
        for (ours, column) in ours.iter().zip([2, 3, 4, 5, 10, 11]) {
            assert!((ours - value(column)).abs() < 1e-9, "{line}: {ours}");
        }
        assert_eq!(format!("{:?}", found.character).to_lowercase(), cells[12], "{line}");
        count += 1;
    }
    assert_eq!(count, 120);
}

#[test]
fn iso_2768_of_the_check_values() {
    for row in rows(&["iso2768_"], 7) {
        let parts: Vec<&str> = row.id.split('_').collect();
        let class = match parts[2] {
            "f" => Class::Fine,
            "m" => Class::Medium,
            _ => Class::Coarse,
        };
        let found = general_tolerance(Feature::Linear, class, parts[1].parse().expect("a size"));
        assert_eq!(found, row.expected.parse().ok(), "{}", row.id);
    }
}

#[test]
fn ansi_b4_1_of_the_check_values() {
    for row in rows(&["b41_"], 3) {
        let parts: Vec<&str> = row.id.split('_').collect();
        let found = inch_fit(&parts[1].to_uppercase(), parts[2].parse::<f64>().expect("a size") / 1000.0).expect("listed");
        assert_eq!(found.play_thou, range(&row.expected), "{}", row.id);
        assert_eq!(found.interference, parts[1].starts_with("fn"));
    }
}

#[test]
fn metric_threads_of_the_check_values() {
    for row in rows(&["thr_M"], 5) {
        let found = thread(row.id.trim_start_matches("thr_")).expect("listed");
        let expected = numbers(&row.expected);
        for (ours, theirs) in [found.pitch_mm, found.effective_mm, found.minor_mm, found.tap_drill_mm].iter().zip(&expected) {
            assert!((ours - theirs).abs() <= 1e-3, "{}: {ours} against {theirs}", row.id);
        }
        assert_eq!(expected.len(), 4);
    }
}

#[test]
fn unified_threads_of_the_check_values() {
    let names = [("thr_4_UNC", "4-40 UNC"), ("thr_10_UNF", "10-32 UNF"), ("thr_1/4_UNC", "1/4-20 UNC"), ("thr_1/2_UNC", "1/2-13 UNC")];
    for row in rows(&["thr_4_U", "thr_10_U", "thr_1/"], 4) {
        let name = names.iter().find(|(id, _)| *id == row.id).expect("a known id").1;
        let found = thread(name).expect("listed");
        let (sizes, tap) = row.expected.rsplit_once(", ").expect("sizes, drill");
        let expected = numbers(sizes);
        // The check values are rounded to 0.0001 in and 0.001 mm.
        assert!((found.minor_mm / 25.4 - expected[0]).abs() <= 1e-4 && (found.minor_mm - expected[1]).abs() <= 1e-3, "{}", row.id);
        assert_eq!(found.tap_drill, tap);
        let named = if tap.contains('/') { format!("{tap} in") } else { tap.into() };
        assert!((drill(&named).expect("listed").mm - found.tap_drill_mm).abs() < 1e-6, "{tap}");
    }
}

#[test]
fn ba_threads_of_the_check_values() {
    for row in rows(&["thr_0BA", "thr_2BA", "thr_4BA", "thr_6BA", "thr_10BA"], 5) {
        let found = thread(row.id.trim_start_matches("thr_")).expect("listed");
        for (ours, theirs) in [found.pitch_mm, found.major_mm, found.minor_mm].iter().zip(numbers(&row.expected)) {
            assert!((ours - theirs).abs() <= 5e-3, "{}: {ours} against {theirs}", row.id);
        }
        // D = 6 p^1.2, rounded to 0.1 mm.
        assert!((found.major_mm - 6.0 * found.pitch_mm.powf(1.2)).abs() < 0.05, "{}", row.id);
    }
}

#[test]
fn whitworth_threads_of_the_check_values() {
    for row in rows(&["thr_1_8_BSW", "thr_1_4_BSW", "thr_3_8_BSW"], 3) {
        let parts: Vec<&str> = row.id.split('_').collect();
        let found = thread(&format!("{}/{} BSW", parts[1], parts[2])).expect("listed");
        assert!((found.minor_mm / 25.4 - numbers(&row.expected)[0]).abs() <= 2e-4, "{}", row.id);
    }
}

#[test]
fn wire_gauges_of_the_check_values() {
    for row in rows(&["swg_", "awg_"], 4) {
        let (gauge, number) = row.id.split_once('_').expect("gauge_number");
        let gauge = if gauge == "swg" { Gauge::Swg } else { Gauge::Awg };
        assert!((wire_mm(gauge, number).expect("listed") - numbers(&row.expected)[0]).abs() <= 1e-4, "{}", row.id);
    }
}

#[test]
fn r40_departs_from_its_exact_steps_by_no_more_than_the_check_value() {
    let row = &rows(&["r40_maxdev"], 1)[0];
    let deviation = |(n, number): (usize, f64)| 100.0 * (number / 10f64.powf(n as f64 / 40.0) - 1.0);
    let deviations: Vec<f64> = preferred(Series::R40).into_iter().enumerate().map(deviation).collect();
    let most = deviations.iter().copied().fold(f64::MIN, f64::max);
    assert!((most - numbers(&row.expected)[0]).abs() <= 0.01, "{most}");
    assert!((deviations.iter().copied().fold(f64::MAX, f64::min) + 1.01).abs() < 0.01);
    assert_eq!(nearest_preferred(Series::R40, 17.0), Some(17.0));
}

#[test]
fn press_fits_of_the_check_values() {
    let rows = rows(&["press_"], 4);
    for row in rows.iter().take(2) {
        // E=2200 nu=0.38 sigma=12 D=6 Do=14
        let given = numbers(&row.inputs);
        let hub = Hub { modulus_mpa: given[0], poisson: given[1], shaft_mm: given[3], outer_mm: given[4] };
        let most = hub.greatest_interference_mm(given[2]);
        for (ours, theirs) in [hub.hoop_ratio(), most, hub.pressure_mpa(most)].iter().zip(numbers(&row.expected)) {
            assert!((ours - theirs).abs() <= 1e-4, "{}: {ours} against {theirs}", row.id);
        }
    }
    let hub = Hub { modulus_mpa: 2200.0, poisson: 0.38, shaft_mm: 6.0, outer_mm: 14.0 };
    assert!((hub.hoop_stress_mpa(0.10) - numbers(&rows[2].expected)[0]).abs() <= 1e-3);
    assert!((loosening_mm(6.0, 70e-6, 12e-6, 30.0) - numbers(&rows[3].expected)[0]).abs() <= 1e-6);
}

#[test]
fn shrinkage_of_the_check_values() {
    let rows = rows(&["shrink_"], 2);
    assert!((part_from_cavity_mm(20.0, 0.005) - numbers(&rows[0].expected)[0]).abs() < 1e-12);
    assert!((cavity_for_part_mm(20.0, 0.005) - numbers(&rows[1].expected)[0]).abs() < 1e-5);
}

/// Posterior with equal priors and the h9 zone: 36 um deep at 6 to 10 mm, 30 um up to 6 mm.
fn infer_631(sigma_mm: f64, density: impl Fn(f64, f64, Zone) -> f64) -> Vec<f64> {
    let zone = |mm: f64| h_zone(mm, if mm > 6.0 { 0.036 } else { 0.030 });
    let all: Vec<f64> = [6.0, 6.25, 6.3, 6.35, 6.5].iter().map(|mm| density(6.31, sigma_mm, zone(*mm))).collect();
    let sum: f64 = all.iter().sum();
    all.iter().map(|p| p / sum).collect()
}

#[test]
fn readings_off_bar_of_the_check_values() {
    for row in rows(&["infer_631"], 4) {
        let sigma = if row.id.contains("wide") { 0.10 } else { 0.03 };
        // Both rows of a sigma, Gaussian and exact, agree with each other to 3e-4; ours is the exact one.
        let ours = infer_631(sigma, reading_density);
        let theirs: Vec<f64> =
            row.expected.split(';').map(|part| part.rsplit(':').next().and_then(|p| p.parse().ok()).expect("odds")).collect();
        for (ours, theirs) in ours.iter().zip(&theirs) {
            assert!((ours - theirs).abs() <= 1e-3, "{}: {ours} against {theirs}", row.id);
        }
        assert_eq!(theirs.len(), 5);
    }
}

#[test]
fn three_sizes_together_of_the_check_values() {
    let row = &rows(&["unit_joint"], 1)[0];
    let expected = numbers(&row.expected.replace("vs", " "));
    let point = |mm: f64| Zone::new(mm, mm);
    let density =
        |set: [f64; 3]| -> f64 { [19.07, 12.68, 6.33].iter().zip(set).map(|(x, mm)| reading_density(*x, 0.05, point(mm))).product() };
    let chi2 = |set: [f64; 3]| -> f64 { [19.07, 12.68, 6.33].iter().zip(set).map(|(x, mm)| ((x - mm) / 0.05f64).powi(2)).sum() };
    let (inch, mm) = ([19.05, 12.7, 6.35], [19.0, 12.5, 6.3]);
    assert!((chi2(inch) - expected[0]).abs() <= 1e-2 && (chi2(mm) - expected[1]).abs() <= 1e-2);
    // The likelihood ratio is listed to four figures.
    assert!((density(inch) / density(mm) - expected[2]).abs() <= 1.0, "{}", density(inch) / density(mm));
}

/// How often a random size falls within two sigmas of a grid: counted, against 4 sigma / spacing.
#[test]
fn fine_grids_catch_random_sizes_as_often_as_the_check_values_say() {
    for row in rows(&["grid_"], 5) {
        let spacing = match row.id.trim_start_matches("grid_") {
            "1_64in" => 25.4 / 64.0,
            "1_32in" => 25.4 / 32.0,
            "1_16in" => 25.4 / 16.0,
            "0.5mm" => 0.5,
            _ => 1.0,
        };
        let mut dice = solve::Sampler::new(11);
        let caught = (0..200_000)
            .filter(|_| {
                let x: f64 = dice.between(5.0, 45.0);
                (x - (x / spacing).round() * spacing).abs() <= 0.1
            })
            .count();
        // Three binomial sigmas of 200,000 draws are 0.0034.
        assert!((caught as f64 / 200_000.0 - numbers(&row.expected)[0]).abs() < 0.0034, "{}: {caught}", row.id);
        assert!((4.0 * 0.05 / spacing - numbers(&row.expected)[0]).abs() <= 1e-4, "{}", row.id);
    }
}

//! Rows of the table of check values, each by its name.

use check::*;

fn row(id: &str) -> Vec<f64> {
    let line = include_str!("data/check_values.csv").lines().find(|line| line.starts_with(&format!("{id},"))).expect("row is there");
    let mut cells = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            _ => cells.last_mut().expect("one cell").push(c),
        }
    }
    cells[4].split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-')).filter_map(|t| t.parse().ok()).collect()
}

fn close(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found} for {expected}");
}

#[test]
fn rule3() {
    for n in [5, 10, 20, 30] {
        let expected = row(&format!("rule3_{n}"))[0];
        close(zero_failure_bound(n, 0.95).expect("fine"), expected, 1e-5);
        close(bad_share_bounds(0, n, 0.95).expect("fine")[1], expected, 1e-5);
    }
}

#[test]
fn hyp_a_and_hyp_b() {
    close(accept_chance_of_lot(20, 2, 5, 0).expect("fine"), row("hyp_a")[0], 1e-5);
    close(accept_chance_of_lot(20, 2, 13, 0).expect("fine"), row("hyp_b")[0], 1e-5);
}

#[test]
fn oc() {
    for p in ["0.025", "0.1", "0.3"] {
        close(accept_chance_binomial(5, 0, p.parse().expect("number")).expect("fine"), row(&format!("oc_{p}"))[0], 1e-5);
    }
}

#[test]
fn aql() {
    for (id, lot, aql, code) in [("aql_20", 20, 2.5, 'C'), ("aql_40", 40, 2.5, 'D'), ("aql_80", 80, 2.5, 'E'), ("aql_10", 10, 4.0, 'B')] {
        let plan = small_lot(lot, aql).expect("in the table");
        assert_eq!((plan.code, vec![f64::from(plan.inspect), f64::from(plan.accept)]), (code, row(id)));
        assert!(plan.advice.starts_with(&format!("Inspect all {lot}")), "{}", plan.advice);
    }
}

#[test]
fn cpk_and_cpk_yield() {
    let limits = Limits { low_mm: 6.0, high_mm: 6.15, side: Side::Outer };
    let found = capability(6.08, 0.02, 10, limits).expect("fine");
    for (found, expected) in [found.cpk, found.standard_error, found.lower_95].into_iter().zip(row("cpk")) {
        close(found, expected, 1e-4);
    }
    close(found.within, row("cpk_yield")[0], 1e-6);
}

#[test]
fn iso2768() {
    for (id, class, nominal) in [
        ("iso2768_2.5_m", Class::Medium, 2.5),
        ("iso2768_6_m", Class::Medium, 6.0),
        ("iso2768_6.35_m", Class::Medium, 6.35),
        ("iso2768_30_m", Class::Medium, 30.0),
        ("iso2768_31_m", Class::Medium, 31.0),
        ("iso2768_12_f", Class::Fine, 12.0),
        ("iso2768_12_c", Class::Coarse, 12.0),
    ] {
        close(general_tolerance(class, Feature::Linear, nominal).expect("in the table"), row(id)[0], 0.0);
    }
    assert!(general_tolerance(Class::VeryCoarse, Feature::Linear, 2.0).is_err());
    assert!(
        general_tolerance(Class::Fine, Feature::Linear, 0.4).is_err() && general_tolerance(Class::Fine, Feature::Linear, f64::NAN).is_err()
    );
    close(general_tolerance(Class::Coarse, Feature::RadiusOrChamfer, 40.0).expect("open upward"), 2.0, 0.0);
}

#[test]
fn shrink_scale() {
    let size = SizeRecord { process: "p".into(), kind: Kind::Outer, drawn_mm: 35.0, made_mm: 34.8, sigma_mm: 0.02 };
    let learnt = learn(&Bench { size: vec![size], ..Bench::default() }, "p").expect("fine").value;
    close(learnt.scale().expect("known").0, row("shrink_scale")[0], 1e-6);
}

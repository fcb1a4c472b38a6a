//! The worked values on cure, dosing and batches in `data/check_values.csv`, row by row.

use std::collections::BTreeMap;
use tint::*;

/// The expected cell of a row, as numbers in their order.
fn expected(id: &str) -> Vec<f64> {
    let table = include_str!("data/check_values.csv");
    let row = table.lines().find(|l| l.split(',').next() == Some(id)).unwrap_or_else(|| panic!("no row {id}"));
    // id, topic, quantity, inputs, expected, unit, tolerance, src; commas inside quotes do not part.
    let mut cells = vec![String::new()];
    let mut quoted = false;
    for c in row.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            c => cells.last_mut().expect("one at least").push(c),
        }
    }
    let numbers = cells[4].split(|c: char| !(c.is_ascii_digit() || c == '.')).filter(|t| t.chars().any(|c| c.is_ascii_digit()));
    numbers.filter_map(|t| t.trim_end_matches('.').parse().ok()).collect()
}

fn check(id: &str, found: &[f64], tolerance: f64) {
    let expected = expected(id);
    for (i, value) in found.iter().enumerate() {
        assert!((value - expected[i]).abs() <= tolerance, "{id}: {value} where {} is expected", expected[i]);
    }
}

#[test]
fn working_curve() {
    check("wc_a", &[WorkingCurve::exact(0.175, 8.0).depth(30.0).value], 1e-5);
    check("wc_b", &[WorkingCurve::exact(100.0, 5.0).exposure(75.0).value], 1e-4);
    let strip = |exposure_mj_cm2, depth_um| Strip { exposure_mj_cm2, depth_um, sigma_um: 3.0 };
    let fitted = WorkingCurve::fit(&[strip(10.0, 80.0), strip(40.0, 190.0)]).expect("two strips");
    check("wc_c", &[fitted.depth_um, fitted.critical_mj_cm2], 1e-3);
    check("wc_dye0", &[exposure_factor(100.0, 150.0, 100.0)], 1e-4);
    check("wc_dye1", &[exposure_factor(100.0, 150.0, 50.0)], 1e-4);
    check("wc_dye2", &[exposure_factor(100.0, 100.0, 40.0)], 1e-4);
    let law = WorkingCurve::colour_law(&WorkingCurve::exact(150.0, 5.0), &WorkingCurve::exact(100.0, 5.0), 0.01);
    check("wc_lin", &[WorkingCurve::exact(150.0, 5.0).with_colour(law, 0.02).depth_um], 1e-3);
    check("wc_fail", &[WorkingCurve::exact(40.0, 8.0).depth(20.0).value], 1e-3);
    let curve = WorkingCurve::exact(100.0, 5.0);
    check("wc_double", &[curve.depth(20.0).value - curve.depth(10.0).value], 1e-3);
}

#[test]
fn measuring_out() {
    let pipette = Pipette { nominal_ul: 1000.0, least_ul: 100.0, bias_ul: 8.0, random_ul: 3.0 };
    let (bias, random) = pipette.shares(200.0);
    check("pip_1000_200", &[100.0 * bias, 100.0 * random], 1e-12);
    // Water at room temperature: 72.8 mN/m, 0.998 g/mL. The row gives ranges: mass of a drop in mg, then drops a mL.
    let range = expected("usp_drop");
    let drop_ul = drop_of_tip_ul(3.0, 72.8, 0.998);
    assert!((range[0]..=range[1]).contains(&(drop_ul * 0.998)), "usp_drop: {drop_ul} uL, {range:?}");
    assert!((range[3]..=range[4]).contains(&(1000.0 / drop_ul)), "usp_drop: {} a mL, {range:?}", 1000.0 / drop_ul);
    check("drop_tate", &[drop_by_tension(50.0, 72.0, 35.0)], 1e-2);
    check("bal_1pct_0.01", &[Balance::of_step(0.01).least_g(0.01)], 1e-6);
    check("bal_1pct_0.001", &[Balance::of_step(0.001).least_g(0.01)], 1e-6);
    check("bal_usp", &[Balance { step_g: 0.0001, sigma_g: 0.00015 }.least_g(0.001)], 1e-12);
    check("bal_820d", &[0.01, 0.001, 0.0001].map(|step| Balance::of_step(step).least_g(0.001)), 1e-9);
    check("drop_round", &[100.0 * short_by_rounding(5.4)], 1e-2);
    check("dil_e", &[100.0 * in_a_row(&[0.01; 3])], 1e-4);
    let centigram = Balance { step_g: 0.01, sigma_g: 0.01 };
    check("bal_two", &[100.0 * centigram.net_share(0.30)], 1e-3);
    check("scale_a", &[100.0 * centigram.net_share(0.03)], 1e-2);
    // The smallest sample in which 0.1 % of pigment is right to 2 %: net weight for 2 %, over 0.001.
    check("scale_b", &[std::f64::consts::SQRT_2 * 0.01 / 0.02 / 0.001], 1e-1);
    check("dil_a", &[stock_in_total(OfTotal(0.0002), 100.0, OfTotal(0.01))], 1e-12);
    check("dil_b", &[stock_onto_resin(OfTotal(0.0002), 100.0, OfTotal(0.01))], 1e-5);
    let step = DilutionStep { part: 100.0, rest: 900.0, part_error: 0.8 / 100.0, rest_error: 8.0 / 900.0 };
    check("dil_c", &[100.0 * step.worst(), 300.0 * step.worst()], 1e-3);
    let own = 100.0 * step.independent();
    check("dil_d", &[own, 3.0 * own, 3f64.sqrt() * own], 1e-3);
}

fn nl(ml: f64) -> Nanolitres {
    Nanolitres::from_ml(ml).expect("a volume")
}

fn add(pot: &str, colourant: Option<&str>, ml: f64) -> Act {
    let part = colourant.map_or(Part::Resin, |name| Part::Colourant(name.into()));
    Act::Add { pot: pot.into(), part, volume: nl(ml) }
}

fn take(ml: f64) -> Act {
    Act::Take { pot: "vat".into(), volume: nl(ml), what: "load".into() }
}

/// Share of the tint left after `times` of taking and topping up with bare resin.
fn left(start_ml: f64, taken_ml: f64, times: usize) -> f64 {
    let mut ledger = Ledger::default();
    ledger.enter(add("vat", None, start_ml - 2.0)).expect("resin");
    ledger.enter(add("vat", Some("black"), 2.0)).expect("black");
    let first = ledger.pot("vat").expect("vat").share("black");
    for _ in 0..times {
        ledger.enter(take(taken_ml)).expect("a load");
        ledger.enter(add("vat", None, taken_ml)).expect("a top-up");
    }
    ledger.pot("vat").expect("vat").share("black") / first
}

#[test]
fn pots_by_the_book() {
    check("topup_a", &[left(200.0, 120.0, 1)], 1e-6);
    check("topup_b", &[left(200.0, 40.0, 5)], 1e-5);
    check("tint_drift", &[left(200.0, 30.0, 3)], 1e-6);
    let mut ledger = Ledger::default();
    for act in [add("cup", None, 1.98), add("cup", Some("black"), 0.02), add("new", None, 98.0)] {
        ledger.enter(act).expect("filled");
    }
    ledger.enter(Act::Pour { from: "cup".into(), into: "new".into(), volume: nl(2.0) }).expect("what was left");
    check("carry", &[100.0 * ledger.pot("new").expect("new").share("black")], 1e-9);
}

#[test]
fn scaled_up() {
    let batch = |written: f64| Batch {
        sample_resin: 20.0,
        sample: BTreeMap::from([("red".into(), 0.05)]),
        batch_resin: 250.0,
        batch: BTreeMap::from([("red".into(), written)]),
        stocks: BTreeMap::from([("red".into(), OfTotal(0.01))]),
        tips: BTreeMap::from([("red".into(), vec![0.6])]),
    };
    let line = |written: f64| check_scale(&batch(written)).expect("fair amounts").remove(0);
    check("scale_c", &[line(0.625).right, 100.0 * OfTotal::from(OnResin(0.05 / 20.0)).0], 1e-4);
    let cases = [
        (0.625, None),
        (6.25, Some(Slip::TimesTen(1))),
        (0.00625, Some(Slip::DilutionForgotten)),
        (62.5, Some(Slip::DilutionTwice)),
        (0.625 / 1.0025, Some(Slip::ShareOfTotalOfResin)),
        (0.625 * 1.0025, Some(Slip::ShareOnResinOfTotal)),
        (0.625 / 0.6, Some(Slip::OtherTip)),
        (0.05, Some(Slip::NotScaled)),
        (0.0, Some(Slip::LeftOut)),
        (0.8, Some(Slip::Factor(0.8 / 0.625))),
    ];
    for (written, slip) in cases {
        let found = line(written);
        assert_eq!(found.slip, slip, "written {written}");
        assert!((found.right - 0.625).abs() < 1e-12, "the corrected figure stands beside the slip");
    }
}

/// Two colourants off by one factor were reckoned for another amount of resin; off by different ones, each has its own slip.
#[test]
fn another_base_is_told_from_a_decimal_point() {
    let slips = |red: f64, blue: f64| {
        let amounts = |red: f64, blue: f64| BTreeMap::from([("red".to_string(), red), ("blue".to_string(), blue)]);
        let batch = Batch {
            sample_resin: 20.0,
            sample: amounts(0.05, 0.1),
            batch_resin: 250.0,
            batch: amounts(red, blue),
            stocks: BTreeMap::new(),
            tips: BTreeMap::new(),
        };
        check_scale(&batch).expect("fair amounts").into_iter().map(|line| line.slip).collect::<Vec<_>>()
    };
    assert_eq!(slips(0.625, 1.25), [None, None]);
    assert!(
        matches!(slips(0.5, 1.0)[..], [Some(Slip::OtherResin(a)), Some(Slip::OtherResin(b))] if (a - 200.0).abs() < 1e-9 && (b - 200.0).abs() < 1e-9)
    );
    assert!(matches!(slips(6.25, 12.5)[..], [Some(Slip::OtherResin(a)), _] if (a - 2500.0).abs() < 1e-9));
    assert_eq!(slips(6.25, 1.25), [None, Some(Slip::TimesTen(1))]);
    assert_eq!(slips(0.05, 0.1), [Some(Slip::NotScaled), Some(Slip::NotScaled)]);
}

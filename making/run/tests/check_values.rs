//! The batch rows of the table of check values, each by its name.

use run::*;

fn row(id: &str) -> Vec<f64> {
    let line = include_str!("data/check_values.csv").lines().find(|line| line.starts_with(&format!("{id},"))).expect("row is there");
    // The expected cell is the fifth; its inputs may hold quoted commas.
    let mut cells = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            _ => cells.last_mut().expect("one cell").push(c),
        }
    }
    let numbers = cells[4].split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-')).flat_map(|t| t.split(".."));
    numbers.filter_map(|t| t.parse().ok()).collect()
}

fn close(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found} for {expected}");
}

const NONE_LOST: LoadLoss = LoadLoss::Known(0.0);

/// On one load.
fn sure(wanted: u32, start: u32, share: Yield, loss: LoadLoss) -> f64 {
    chance(wanted, start, 1, share, loss).expect("fine")
}

fn need(wanted: u32, certainty: f64, share: Yield) -> (u32, f64) {
    let chance = |m| sure(wanted, m, share, NONE_LOST);
    let start = (wanted..).find(|&m| chance(m) >= certainty).expect("some");
    (start, chance(start))
}

#[test]
fn bin_a() {
    close(sure(10, 12, Yield::Known(0.9), NONE_LOST), row("bin_a")[0], 1e-5);
}

#[test]
fn bin_need() {
    for (id, n, p, c) in [
        ("bin_need_10_0.9_0.95", 10, 0.9, 0.95),
        ("bin_need_20_0.85_0.95", 20, 0.85, 0.95),
        ("bin_need_20_0.85_0.99", 20, 0.85, 0.99),
        ("bin_need_6_0.7_0.95", 6, 0.7, 0.95),
        ("bin_need_50_0.95_0.95", 50, 0.95, 0.95),
    ] {
        let (start, chance) = need(n, c, Yield::Known(p));
        close(f64::from(start), row(id)[0], 0.0);
        close(chance, row(id)[1], 1e-5);
    }
}

#[test]
fn nb_and_nb_q() {
    let (mean, sd) = mean_starts(10, 0.9);
    close(mean, row("nb")[0], 1e-4);
    close(sd, row("nb")[1], 1e-4);
    close(f64::from(need(10, 0.95, Yield::Known(0.9)).0), row("nb_q")[0], 0.0);
}

const EIGHT_OF_TEN: Yield = Yield::Learnt(Experience { made: 10, good: 8 });

#[test]
fn beta() {
    let belief = EIGHT_OF_TEN.belief();
    for (found, expected) in [belief.mean, belief.middle_90[0], belief.middle_90[1]].into_iter().zip(row("beta")) {
        close(found, expected, 1e-4);
    }
}

#[test]
fn betabin() {
    let expected = row("betabin");
    close(sure(10, 12, EIGHT_OF_TEN, NONE_LOST), expected[0], 1e-5);
    close(sure(10, 12, Yield::Known(0.8), NONE_LOST), expected[2], 1e-5);
    close(sure(10, 12, Yield::Known(0.75), NONE_LOST), expected[4], 1e-5);
}

#[test]
fn betabin_need() {
    let expected = row("betabin_need");
    let input = PlanInput { wanted: 10, experience: Some(Experience { made: 10, good: 8 }), ..bare() };
    let plan = plan(&input).expect("plans").value;
    close(f64::from(plan.start), expected[0], 0.0);
    close(plan.chance, expected[1], 1e-5);
    close(f64::from(need(10, 0.95, Yield::Known(0.8)).0), 16.0, 0.0);
}

#[test]
fn plate() {
    let share = Yield::Known(0.95);
    close(sure(10, 12, share, LoadLoss::Known(0.05)), row("plate")[0], 1e-5);
    close(sure(10, 12, share, NONE_LOST), row("plate")[1], 1e-5);
}

#[test]
fn resin_mass() {
    let expected = row("resin_mass");
    let part_ml = std::f64::consts::FRAC_PI_4 * (20.0f64.powi(2) * 15.0 - 6.35f64.powi(2) * 10.0) / 1e3;
    close(part_ml, expected[0], 1e-3);
    close(part_ml * 1.12, expected[1], 1e-3);
    let need = resin_need(13, part_ml, Extras { supports_share: 0.3, loss_share: 0.1, vat_least_ml: 0.0 }).expect("fine");
    close(need.total_ml * 1.12, expected[2], 0.01);
    let with_vat = resin_need(13, part_ml, Extras { vat_least_ml: 50.0, ..Extras::default() }).expect("fine");
    close(with_vat.total_ml, need.total_ml + 50.0, 1e-9);
}

#[test]
fn cost_good() {
    close(Cost::of(3.40 * 10.0, 10, 8, 0.80).per_good, row("cost_good")[0], 1e-9);
}

#[test]
fn top_ups() {
    let pot = Pot::mixed(196.0, 4.0).expect("pot");
    let topped = pot.used(120.0).and_then(|p| p.topped_up(120.0, 0.0)).expect("fits");
    close(topped.tint().0 / pot.tint().0, row("topup_a")[0], 1e-6);
    let after = |used: f64, times: usize| {
        (0..times).try_fold(pot, |p, _| p.used(used)?.topped_up(used, 0.0)).expect("fits").tint().0 / pot.tint().0
    };
    close(after(40.0, 5), row("topup_b")[0], 1e-6);
    close(after(30.0, 3), row("tint_drift")[0], 1e-6);
    assert!(pot.used(200.1).is_err());
}

#[test]
fn stock_of_total_and_stock_to_add() {
    close(share_to_added(Share(0.0002), Share(0.01), 100.0).expect("stronger"), row("dil_b")[0], 1e-5);
    let scaled = 0.05 / 20.0 * 250.0;
    close(scaled, row("scale_c")[0], 1e-4);
    close(100.0 * added_to_share(scaled, 250.0).0, row("scale_c")[1], 1e-4);
    assert!(share_to_added(Share(0.01), Share(0.01), 1.0).is_err());
}

fn bare() -> PlanInput {
    PlanInput {
        wanted: 1,
        certainty: None,
        experience: None,
        load_loss: None,
        plate: None,
        footprint_mm: None,
        part_ml: None,
        extras: None,
        time: None,
        prices: None,
    }
}

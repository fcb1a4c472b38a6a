//! The plan as a whole.

use run::*;
use solve::Sampler;

fn input() -> PlanInput {
    PlanInput {
        wanted: 24,
        certainty: None,
        experience: Some(Experience { made: 40, good: 36 }),
        load_loss: Some(LoadLoss::Known(0.05)),
        plate: Some(Plate { width_mm: 130.0, depth_mm: 80.0, gap_mm: 4.0 }),
        footprint_mm: Some(22.2),
        part_ml: Some(5.12),
        extras: Some(Extras { supports_share: 0.2, loss_share: 0.05, vat_least_ml: 40.0 }),
        time: Some(LoadTime { height_mm: 36.75, layer_mm: 0.05, layer_s: 9.0, handling_min: 45.0 }),
        prices: Some(Prices { resin_per_ml: 0.06, bench_per_hour: 4.0, per_load: 2.0, per_start: 0.3 }),
    }
}

#[test]
fn the_plan_adds_up() {
    let plan = plan(&input()).expect("plans").value;
    assert_eq!(plan.per_load.iter().sum::<u32>(), plan.start);
    assert_eq!(plan.places_mm.len() as u32, plan.per_load[0]);
    assert!(plan.chance >= 0.95 && plan.assumptions.is_empty(), "{plan:?}");
    let resin = plan.resin.expect("known").total_ml;
    assert!((resin - (f64::from(plan.start) * 5.12 * 1.2 * 1.05 + 40.0)).abs() < 1e-9);
    // 735 layers of 9 s and 45 min.
    let minutes = plan.minutes.expect("known");
    assert!((minutes[0] - 155.25).abs() < 1e-9 && (minutes[1] - 155.25 * plan.per_load.len() as f64).abs() < 1e-9);
    let cost = plan.cost.expect("known");
    assert!((cost.per_good * plan.belief.mean * f64::from(plan.start) - cost.total).abs() < 1e-9);
    assert!(plan.curve.iter().any(|&(n, chance)| n == plan.start && chance == plan.chance));
    assert_eq!(Ok(plan.clone()), run::plan(&input()).map(|noted| noted.value));
}

/// One start fewer misses the chance, and so do fewer loads, unless they need a quarter more starts.
#[test]
fn loads_and_starts_are_the_fewest() {
    for loss in [0.0, 0.02, 0.2] {
        for wanted in [1, 7, 24, 60] {
            let asked = PlanInput { wanted, load_loss: Some(LoadLoss::Known(loss)), ..input() };
            let plan = plan(&asked).expect("plans").value;
            let (start, loads) = (plan.start, plan.per_load.len() as u32);
            let capacity = plan.packing.as_ref().expect("plate").places_mm.len() as u32;
            let at = |start, loads| {
                chance(wanted, start, loads, Yield::Learnt(Experience { made: 40, good: 36 }), LoadLoss::Known(loss)).expect("fine")
            };
            assert!(start == wanted || at(start - 1, loads) < 0.95, "{loss} {wanted} {start} {loads}");
            assert!(at(start, loads) >= 0.95 && start <= loads * capacity);
            let fewer = (loads - 1) * capacity;
            assert!(loads == 1 || at(fewer.min(start * 5 / 4), loads - 1) < 0.95, "{loss} {wanted} {start} {loads}");
        }
    }
}

/// One load can't promise 95 % when one in ten is lost; the plan splits the run instead of piling up starts.
#[test]
fn a_run_is_split_where_loads_are_lost() {
    let plan = plan(&PlanInput { wanted: 4, load_loss: Some(LoadLoss::Known(0.1)), plate: None, ..input() }).expect("plans").value;
    assert!(plan.per_load.len() > 1 && plan.chance >= 0.95, "{:?}", plan.per_load);
}

/// Playing the run out 40,000 times by dice gives the same chance: three standard errors are at most 0.0075.
#[test]
fn chance_by_playing_it_out() {
    for (share, loss, start, loads) in [
        (Yield::Learnt(Experience { made: 10, good: 8 }), LoadLoss::Known(0.1), 29, 3),
        (Yield::Known(0.9), LoadLoss::Learnt { run: 12, lost: 1 }, 31, 4),
        (Yield::Learnt(Experience { made: 30, good: 29 }), LoadLoss::Learnt { run: 3, lost: 0 }, 26, 2),
    ] {
        let mut dice = Sampler::new(7);
        let enough = (0..40_000).filter(|_| play(&mut dice, share, loss, start, loads) >= 20).count();
        let found = chance(20, start, loads, share, loss).expect("fine");
        assert!((found - enough as f64 / 40_000.0).abs() < 0.0075, "{found} played {}", enough as f64 / 40_000.0);
    }
}

fn play(dice: &mut Sampler, share: Yield, loss: LoadLoss, start: u32, loads: u32) -> u32 {
    let p = match share {
        Yield::Known(p) => p,
        Yield::Learnt(e) => beta(dice, e.good + 1, e.made - e.good + 1),
    };
    let q = match loss {
        LoadLoss::Known(q) => q,
        LoadLoss::Learnt { run, lost } => beta(dice, lost + 1, run - lost + 1),
    };
    let sizes = (0..loads).map(|i| start / loads + u32::from(i < start % loads));
    let mut good = 0;
    for size in sizes {
        let lost = dice.uniform() < q;
        good += (0..size).filter(|_| dice.uniform() < p && !lost).count() as u32;
    }
    good
}

/// Beta(a, b) of whole a, b: the a-th smallest of a + b - 1 uniform numbers.
fn beta(dice: &mut Sampler, a: u32, b: u32) -> f64 {
    let mut draws: Vec<f64> = (0..a + b - 1).map(|_| dice.uniform()).collect();
    draws.sort_by(f64::total_cmp);
    draws[a as usize - 1]
}

#[test]
fn without_experience_the_assumption_is_said() {
    let bare = PlanInput { experience: Some(Experience { made: 0, good: 0 }), load_loss: None, plate: None, extras: None, ..input() };
    let noted = plan(&bare).expect("plans");
    let switches: Vec<&str> = noted.value.assumptions.iter().map(|a| a.switch).collect();
    assert_eq!(switches, ["[run] made, good", "[run] load_loss", "[run] plate", "[run] supports, loss, vat_least_ml"]);
    assert!(noted.notes[0].text.contains("without experience") && noted.value.places_mm.is_empty());
}

#[test]
fn what_cannot_be_is_refused() {
    let words = |input: PlanInput| plan(&input).expect_err("refused").to_string();
    assert!(words(PlanInput { wanted: 0, ..input() }).contains("[run] wanted"));
    assert!(words(PlanInput { wanted: u32::MAX, ..input() }).contains("1000"));
    assert!(words(PlanInput { certainty: Some(f64::NAN), ..input() }).contains("certainty"));
    assert!(words(PlanInput { certainty: Some(1.0), ..input() }).contains("certainty"));
    assert!(words(PlanInput { experience: Some(Experience { made: 3, good: 4 }), ..input() }).contains("4 good of 3"));
    assert!(words(PlanInput { load_loss: Some(LoadLoss::Known(-0.1)), ..input() }).contains("lost loads"));
    assert!(words(PlanInput { part_ml: Some(f64::INFINITY), ..input() }).contains("volume"));
    assert!(words(PlanInput { footprint_mm: Some(81.0), ..input() }).contains("does not fit"));
    assert!(words(PlanInput { wanted: 500, experience: Some(Experience { made: 400, good: 0 }), ..input() }).contains("find out why"));
}

/// Large but allowed input stays quick.
#[test]
fn a_large_run_is_planned() {
    let plate = Some(Plate { width_mm: 60.0, depth_mm: 30.0, gap_mm: 2.0 });
    let asked = PlanInput { wanted: 1000, plate, footprint_mm: Some(28.0), experience: Some(Experience { made: 9, good: 4 }), ..input() };
    let plan = plan(&asked).expect("plans").value;
    assert!(plan.start > 2_000 && plan.curve.len() <= 202, "{}", plan.start);
}

/// Whatever numbers come in, a plan or an error comes out, and every number of a plan is finite.
#[test]
fn nasty_numbers() {
    let nasty = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0, 1e-300, 1e300, 7.5];
    let counts = [0, 1, 24, 1000, u32::MAX];
    let mut dice = Sampler::new(1);
    let mut plans = 0;
    for _ in 0..1_500 {
        let mut number = |usual: f64| if dice.uniform() < 0.9 { usual } else { nasty[dice.below(nasty.len())] };
        let mut asked = PlanInput {
            certainty: Some(number(0.9)),
            plate: Some(Plate { width_mm: number(130.0), depth_mm: number(80.0), gap_mm: number(4.0) }),
            // One place on the plate: no search for more.
            footprint_mm: Some(number(66.0)),
            part_ml: Some(number(5.0)),
            extras: Some(Extras { supports_share: number(0.2), loss_share: number(0.1), vat_least_ml: number(40.0) }),
            time: Some(LoadTime { height_mm: number(30.0), layer_mm: number(0.05), layer_s: number(9.0), handling_min: number(30.0) }),
            prices: Some(Prices { resin_per_ml: number(0.1), bench_per_hour: number(4.0), per_load: number(2.0), per_start: number(0.3) }),
            load_loss: Some(LoadLoss::Known(number(0.01))),
            ..input()
        };
        asked.wanted = if dice.uniform() < 0.9 { 24 } else { counts[dice.below(5)] };
        asked.experience = (dice.uniform() < 0.8).then(|| Experience { made: counts[dice.below(5)], good: counts[dice.below(5)] });
        if let Ok(noted) = plan(&asked) {
            let plan = noted.value;
            let numbers = [
                plan.chance,
                plan.resin.map_or(0.0, |r| r.total_ml),
                plan.minutes.map_or(0.0, |m| m[1]),
                plan.cost.map_or(0.0, |c| c.per_good),
            ];
            assert!(numbers.iter().all(|v| v.is_finite()), "{plan:?}");
            plans += 1;
        }
    }
    assert!(plans > 50, "{plans}");
}

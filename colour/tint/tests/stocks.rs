//! Plans for stocks keep what they promise, whatever is asked.

use tint::{Balance, OfTotal, Pipette, Tool, stock_plan};

#[test]
fn a_stock_makes_a_strong_colourant_measurable() {
    // 0.02 % in 100 g on a centigram balance, right to 3 %: neat it would be 0.02 g.
    let tool = Tool::Balance(Balance::of_step(0.01));
    let plan = stock_plan(OfTotal(0.0002), 100.0, OfTotal(1.0), tool, 0.03).expect("a plan");
    assert_eq!(plan.steps.len(), 1);
    assert!(plan.error <= 0.03 + 1e-12 && plan.least_total <= 100.0, "{plan:?}");
    assert!((plan.dose * plan.steps[0].strength.0 / 100.0 - 0.0002).abs() < 1e-12);
    // With a milligram balance and an easier wish none is needed.
    assert!(
        stock_plan(OfTotal(0.0002), 500.0, OfTotal(1.0), Tool::Balance(Balance::of_step(0.001)), 0.03).expect("a plan").steps.is_empty()
    );
}

#[test]
fn plans_keep_their_error_and_their_colourant() {
    let pipette = Tool::Pipette(Pipette { nominal_ul: 1000.0, least_ul: 100.0, bias_ul: 8.0, random_ul: 3.0 });
    let mut made = 0;
    for tool in [Tool::Balance(Balance::of_step(0.01)), Tool::Balance(Balance::of_step(0.001)), pipette] {
        for wanted in [1e-6, 1e-5, 1e-4, 1e-3, 1e-2] {
            for total in [5.0, 20.0, 250.0] {
                for error in [0.01, 0.03, 0.1] {
                    let Ok(plan) = stock_plan(OfTotal(wanted), total, OfTotal(1.0), tool, error) else { continue };
                    made += 1;
                    // Followed by hand: each stock is what was taken over all of it, the pot what was taken of the last.
                    let strength = plan.steps.iter().fold(1.0, |s, step| s * step.take / (step.take + step.into));
                    assert!((strength * plan.dose / total / wanted - 1.0).abs() < 1e-9, "{plan:?}");
                    assert!(plan.error <= error * (1.0 + 1e-9) && plan.dose <= total, "{plan:?}");
                    assert!(plan.least_total <= total * (1.0 + 1e-6), "{plan:?}");
                }
            }
        }
    }
    assert!(made > 60, "only {made} plans");
}

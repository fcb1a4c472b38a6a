//! The vat's book.

use run::{TopUp, VatAct, vat};

#[test]
fn one_mix_never_drifts() -> Result<(), run::RunError> {
    let book = vat(&[60.0, 60.0, 30.0], 40.0, 0.012, TopUp::SameMix)?;
    assert_eq!(book.len(), 6);
    assert!(book.iter().all(|step| (step.tint_share - 0.012).abs() < 1e-8), "{book:?}");
    assert_eq!(book[0].act, VatAct::Filled(100.0));
    assert!((book[5].held_ml - 40.0).abs() < 1e-5);
    Ok(())
}

/// Bare top-ups leave keep / (keep + load) of the tint each time: (40 / 100)^n in closed form.
#[test]
fn bare_top_ups_pale_by_the_closed_form() -> Result<(), run::RunError> {
    let book = vat(&[60.0; 4], 40.0, 0.012, TopUp::Bare)?;
    for (n, step) in book.iter().filter(|step| !matches!(step.act, VatAct::Made(_))).enumerate() {
        let expected = 0.012 * 0.4f64.powi(n as i32);
        assert!((step.tint_share - expected).abs() < 1e-8, "load {}: {} for {expected}", step.load, step.tint_share);
    }
    Ok(())
}

#[test]
fn wild_numbers_are_refused() {
    assert!(vat(&[], 1.0, 0.1, TopUp::Bare).is_err());
    assert!(vat(&[f64::NAN], 1.0, 0.1, TopUp::Bare).is_err());
    assert!(vat(&[1.0], f64::INFINITY, 0.1, TopUp::Bare).is_err());
    assert!(vat(&[1.0], 1.0, 1.5, TopUp::Bare).is_err());
}

//! Hazard statements that the reminders must hold: rows haz_* of the table of check values (supplier's sheets of such materials, seen in public
//! texts; the codes are those of Regulation (EC) 1272/2008, annex III).

use sheet::Material;

#[test]
fn reminders_hold_the_codes_of_the_check_values() {
    for (row, material, codes) in [
        ("haz_ipa", Material::Propanol, "H225 H319 H336"),
        ("haz_mdi", Material::Isocyanate, "H315 H317 H319 H332 H334 H335 H351 H373"),
        ("haz_resin", Material::UncuredResin, "H315 H317 H319 H335"),
    ] {
        let said = material.reminder()[1];
        for code in codes.split(' ') {
            assert!(said.contains(code), "{row}: {code} is not in `{said}`");
        }
    }
}

//! Numbers and names as the sheet writes them.

/// A value with its doubt, both to the doubt's own detail, with no-break spaces: "31.68 ± 0.08". The doubt gets two digits where it starts with 1 or 2,
/// else one (GUM, JCGM 100:2008, 7.2.6: at most two).
pub fn doubted(value: f64, sigma: f64) -> String {
    if !value.is_finite() {
        return "not known".into();
    }
    if !sigma.is_finite() || sigma < 0.0 {
        return format!("{}\u{a0}±\u{a0}not known", plain(value, 3));
    }
    let places = places_of(sigma);
    if sigma == 0.0 {
        return plain(value, places);
    }
    format!("{}\u{a0}±\u{a0}{}", plain(value, places), plain(sigma, places))
}

/// Decimals at which a doubt is written.
fn places_of(sigma: f64) -> usize {
    if sigma <= 0.0 {
        return 3;
    }
    let exponent = sigma.log10().floor();
    let lead = sigma / 10f64.powf(exponent);
    let digits = if lead < 2.95 { 1.0 } else { 0.0 };
    (digits - exponent).clamp(0.0, 4.0) as usize
}

/// A number with so many decimals, a true minus sign, and no "-0".
pub fn plain(value: f64, places: usize) -> String {
    if !value.is_finite() {
        return "not known".into();
    }
    if value.abs() >= 1e9 {
        return format!("{value:.3e}").replace('-', "\u{2212}");
    }
    let text = format!("{value:.places$}");
    let is_zero = text.trim_start_matches('-').chars().all(|sign| sign == '0' || sign == '.');
    if is_zero { text.trim_start_matches('-').to_string() } else { text.replace('-', "\u{2212}") }
}

/// A probability as trade says it: "93 %", "under 1 %", "over 99 %".
pub fn percent(share: f64) -> String {
    match share * 100.0 {
        p if !p.is_finite() => "not known".into(),
        p if p <= 0.0 => "0\u{a0}%".into(),
        p if p < 1.0 => "under\u{a0}1\u{a0}%".into(),
        p if p > 99.0 && p < 100.0 => "over\u{a0}99\u{a0}%".into(),
        p => format!("{}\u{a0}%", plain(p, 0)),
    }
}

/// A colour in CIELAB: "L* 66.0  a* −8.0  b* 8.0".
pub fn lab(lab: [f64; 3]) -> String {
    format!("L*\u{a0}{}  a*\u{a0}{}  b*\u{a0}{}", plain(lab[0], 1), plain(lab[1], 1), plain(lab[2], 1))
}

/// One or many: "1 photo", "3 photos".
pub fn count(number: usize, one: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{number} {one}s") }
}

/// A list with "and": "black, blue and yellow".
pub fn and(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// Words from outside, bounded: control signs become spaces, and no more than `most` characters stay.
pub fn bounded(text: &str, most: usize) -> String {
    let mut kept: String = text.chars().take(most).map(|sign| if sign.is_control() { ' ' } else { sign }).collect();
    if text.chars().nth(most).is_some() {
        kept.push_str("...");
    }
    kept
}

/// The start of a sentence.
pub fn capital(text: &str) -> String {
    let mut signs = text.chars();
    signs.next().map_or_else(String::new, |first| first.to_uppercase().chain(signs).collect())
}

/// A sentence: capital first, full stop last.
pub fn sentence(text: &str) -> String {
    let text = capital(text.trim());
    if text.is_empty() || text.ends_with(['.', '!', '?']) { text } else { text + "." }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubts_decide_the_digits() {
        for (value, sigma, text) in [
            (31.6812, 0.0789, "31.68 ± 0.08"),
            (22.2034, 0.0123, "22.203 ± 0.012"),
            (121.3, 1.53, "121.3 ± 1.5"),
            (1934.2, 20.0, "1934 ± 20"),
            (-7.96, 0.61, "\u{2212}8.0 ± 0.6"),
            (0.0, 0.4, "0.0 ± 0.4"),
            (-0.01, 0.4, "0.0 ± 0.4"),
            (5.0, 0.0, "5.000"),
            (f64::NAN, 0.1, "not known"),
            (1.0, f64::INFINITY, "1.000 ± not known"),
            (9.96, 0.996, "10.0 ± 1.0"),
        ] {
            assert_eq!(doubted(value, sigma).replace('\u{a0}', " "), text);
        }
    }

    #[test]
    fn chances_never_claim_certainty_they_lack() {
        assert_eq!(percent(0.934), "93\u{a0}%");
        assert_eq!(percent(0.9996), "over\u{a0}99\u{a0}%");
        assert_eq!(percent(0.0004), "under\u{a0}1\u{a0}%");
        assert_eq!(percent(1.0), "100\u{a0}%");
    }
}

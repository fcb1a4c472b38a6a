//! Whether a difference is seen, and which way it goes, in words.

use crate::{De00, De00Factors, Lab, ciede2000_parts};

/// Half of all viewers see a difference of this CIEDE2000 side by side. Am J Dent 2023;36(5):227-232 (dental shades; abstract).
pub const SEEN_DE00: f64 = 0.8;
/// Half of all viewers still accept a difference of this CIEDE2000. Same source.
pub const ACCEPTED_DE00: f64 = 1.8;
/// Parts that lie side by side in one set: at most this between any two. A founder's proposal, no source.
pub const SET_DE00: f64 = 1.0;

/// What viewers make of a difference.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// At most 0.8: half or more of all viewers see none.
    NotSeen,
    /// At most 1.8: seen by most, accepted by half or more.
    Accepted,
    /// Above.
    Refused,
}

impl Verdict {
    /// The verdict on a difference; not a number is refused.
    pub fn of(de00: f64) -> Verdict {
        match de00 {
            d if d <= SEEN_DE00 => Verdict::NotSeen,
            d if d <= ACCEPTED_DE00 => Verdict::Accepted,
            _ => Verdict::Refused,
        }
    }

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Verdict::NotSeen => "most people see no difference",
            Verdict::Accepted => "seen side by side, accepted by most",
            Verdict::Refused => "not accepted by most",
        }
    }
}

/// How `second` differs from `first`, largest part first: "0.9 darker, 0.4 greener, 0.2 duller"; "no difference to speak of" where every
/// part is below 0.1. Parts are CIEDE2000's own lightness, chroma and hue.
pub fn direction(first: impl Into<Lab>, second: impl Into<Lab>) -> String {
    let (first, second) = (first.into(), second.into());
    let De00 { lightness, chroma, hue, .. } = ciede2000_parts(first, second, De00Factors::default());
    let mut parts = [
        (lightness, if lightness > 0.0 { "lighter" } else { "darker" }),
        (chroma, if chroma > 0.0 { "more colourful" } else { "duller" }),
        (hue, toward(0.5 * (first.a + second.a), 0.5 * (first.b + second.b), hue)),
    ];
    parts.sort_by(|p, q| q.0.abs().total_cmp(&p.0.abs()));
    let words: Vec<String> =
        parts.iter().filter(|part| part.0.abs() >= 0.1).map(|(size, word)| format!("{:.1} {word}", size.abs())).collect();
    if words.is_empty() { "no difference to speak of".to_string() } else { words.join(", ") }
}

/// Where hue moves: toward the axis of Lab that bounds the colour's own quadrant on that side.
fn toward(a: f64, b: f64, hue: f64) -> &'static str {
    match (Lab::new(0.0, a, b).hue_deg(), hue > 0.0) {
        (h, up) if h < 90.0 => {
            if up {
                "yellower"
            } else {
                "redder"
            }
        }
        (h, up) if h < 180.0 => {
            if up {
                "greener"
            } else {
                "yellower"
            }
        }
        (h, up) if h < 270.0 => {
            if up {
                "bluer"
            } else {
                "greener"
            }
        }
        (_, up) => {
            if up {
                "redder"
            } else {
                "bluer"
            }
        }
    }
}

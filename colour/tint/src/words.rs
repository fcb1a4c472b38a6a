//! Plain colour words as weak hints: where in the spectrum something of that name absorbs.

use crate::optics::{BANDS, Spectrum};

/// What a name suggests before any chip is cured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Hint {
    /// ln of absorption, around 0; only its shape counts.
    pub shape: Spectrum,
    /// ln of the level, relative to an unnamed colourant.
    pub level: f64,
    /// Whether it is a white: scatters much, absorbs little.
    pub white: bool,
}

/// From nm, to nm, share of full absorption.
type Band = (f64, f64, f64);

/// A word, and the bands where a thing of that colour absorbs: (from nm, to nm, share of full). A colour is seen by the light it does not
/// absorb, so each row is the word's complement; the edges are those of the plain division of the visible into blue (to 490), green
/// (to 570), yellow (to 590), orange (to 620) and red (from memory of any textbook of colour).
const WORDS: &[(&str, &[Band])] = &[
    ("black", &[(380.0, 720.0, 1.0)]),
    ("grey", &[(380.0, 720.0, 0.3)]),
    ("gray", &[(380.0, 720.0, 0.3)]),
    ("yellow", &[(380.0, 495.0, 1.0)]),
    ("ochre", &[(380.0, 510.0, 1.0), (510.0, 580.0, 0.3)]),
    ("orange", &[(380.0, 550.0, 1.0)]),
    ("brown", &[(380.0, 560.0, 1.0), (560.0, 720.0, 0.3)]),
    ("umber", &[(380.0, 560.0, 1.0), (560.0, 720.0, 0.4)]),
    ("sienna", &[(380.0, 560.0, 1.0), (560.0, 720.0, 0.2)]),
    ("red", &[(460.0, 580.0, 1.0), (380.0, 460.0, 0.4)]),
    ("pink", &[(490.0, 570.0, 0.5)]),
    ("magenta", &[(490.0, 590.0, 1.0)]),
    ("purple", &[(490.0, 610.0, 1.0)]),
    ("violet", &[(500.0, 630.0, 1.0)]),
    ("blue", &[(560.0, 700.0, 1.0)]),
    ("cyan", &[(590.0, 720.0, 1.0)]),
    ("turquoise", &[(590.0, 720.0, 1.0), (380.0, 430.0, 0.3)]),
    ("green", &[(600.0, 700.0, 1.0), (380.0, 460.0, 0.6)]),
    ("white", &[]),
];

/// Words of colourants that are sold everywhere.
pub(crate) const PLAIN: [&str; 8] = ["black", "yellow", "orange", "red", "magenta", "blue", "green", "white"];

/// The hint in a name; `None` when no word of it is a colour, or two disagree (the last word wins: "yellow green" is a green).
pub(crate) fn hint(name: &str) -> Option<Hint> {
    let lower = name.to_lowercase();
    let words = lower.split(|c: char| !c.is_alphabetic());
    let bands = words.filter_map(|word| WORDS.iter().find(|(known, _)| *known == word)).next_back()?;
    Some(hint_of(bands.0, bands.1))
}

fn hint_of(word: &str, bands: &[Band]) -> Hint {
    // Outside its bands a clean colourant absorbs about a twentieth of its peak; edges of 15 nm.
    let mut shape = [0.0; BANDS];
    for (i, value) in shape.iter_mut().enumerate() {
        let nm = 400.0 + 10.0 * i as f64;
        let inside = |&(from, to, share): &Band| share / ((1.0 + ((from - nm) / 15.0).exp()) * (1.0 + ((nm - to) / 15.0).exp()));
        *value = (0.05 + bands.iter().map(inside).sum::<f64>()).ln();
    }
    let white = word == "white";
    // Carbon black absorbs several times as strongly by volume as a coloured pigment (common practice: black is dosed last and least).
    let level = if word == "black" { 1.2 } else { 0.0 };
    Hint { shape, level, white }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_hints_by_its_last_colour_word() {
        assert!(hint("sap").is_none());
        assert_eq!(hint("Yellow-green"), hint("green"));
        assert!(hint("infrared").is_none(), "only whole words count");
        let yellow = hint("deep yellow").expect("a colour word").shape;
        assert!(yellow[2] > yellow[25] + 2.0);
    }
}

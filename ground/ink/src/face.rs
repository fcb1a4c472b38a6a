//! The three fonts and how wide their letters are.
//!
//! Widths come from the `head`, `hhea`, `hmtx` and `cmap` (format 4) tables of the font files (ISO/IEC 14496-22), without kerning; the
//! SVG and PDF writers switch kerning off, so that what is measured is what is set. A character that a face lacks is taken from
//! another; one that no face has is measured and printed as a question mark.

use crate::mark::Face;
use std::sync::LazyLock;

const TEXT_TTF: &[u8] = include_bytes!("../fonts/GenBkBasR.ttf");
const BOLD_TTF: &[u8] = include_bytes!("../fonts/GenBkBasB.ttf");
const FIGURES_TTF: &[u8] = include_bytes!("../fonts/bench-figures.ttf");

/// The font file (TrueType) that a face is set in.
pub fn font_bytes(face: Face) -> &'static [u8] {
    match face {
        Face::Text => TEXT_TTF,
        Face::Bold => BOLD_TTF,
        Face::Figures | Face::Columns => FIGURES_TTF,
    }
}

/// How wide a line of type runs, mm.
pub fn text_width_mm(face: Face, size_mm: f64, text: &str) -> f64 {
    letters(face, text).iter().map(|letter| letter.advance_em).sum::<f64>() * size_mm
}

/// As much of `text` as runs no wider than `width_mm`, with "..." where it was cut.
pub fn fits_mm(face: Face, size_mm: f64, width_mm: f64, text: &str) -> String {
    if text_width_mm(face, size_mm, text) <= width_mm {
        return text.to_string();
    }
    let mut left = width_mm - text_width_mm(face, size_mm, "...");
    let mut kept = String::new();
    for sign in text.chars() {
        left -= text_width_mm(face, size_mm, sign.encode_utf8(&mut [0; 4]));
        if left < 0.0 {
            break;
        }
        kept.push(sign);
    }
    kept.trim_end().to_string() + "..."
}

/// A paragraph broken at its spaces into lines no wider than `width_mm`; words longer than a line are broken too.
pub fn wrap_mm(face: Face, size_mm: f64, width_mm: f64, text: &str) -> Vec<String> {
    let width = |t: &str| text_width_mm(face, size_mm, t);
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut used = 0.0;
    let gap = width(" ");
    // Not at a no-break space, which holds a number and its unit together.
    for word in text.split([' ', '\n', '\t', '\r']).filter(|word| !word.is_empty()) {
        let mut rest = word;
        loop {
            let wide = width(rest);
            let joined = if line.is_empty() { wide } else { used + gap + wide };
            if joined <= width_mm {
                if !line.is_empty() {
                    line.push(' ');
                }
                line.push_str(rest);
                used = joined;
                break;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
                used = 0.0;
                continue;
            }
            let (head, tail) = rest.split_at(longest_head(face, size_mm, width_mm, rest));
            lines.push(head.to_string());
            rest = tail;
            if rest.is_empty() {
                break;
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// Bytes of the longest start of a word that fits; at least one character, so that breaking ends.
fn longest_head(face: Face, size_mm: f64, width_mm: f64, word: &str) -> usize {
    let mut used = 0.0;
    for (n, (at, sign)) in word.char_indices().enumerate() {
        used += text_width_mm(face, size_mm, sign.encode_utf8(&mut [0; 4]));
        if n > 0 && used > width_mm {
            return at;
        }
    }
    word.len()
}

/// One letter as set: which font has it, which glyph it is, how far it moves the pen.
pub(crate) struct Letter {
    /// Index into the fonts: text, bold, figures.
    pub font: usize,
    pub glyph: u16,
    pub advance_em: f64,
    /// Bytes of the text it stands for.
    pub bytes: std::ops::Range<usize>,
}

/// The letters of a line of type in `face`, others standing in for what it lacks.
pub(crate) fn letters(face: Face, text: &str) -> Vec<Letter> {
    let own = font_index(face);
    text.char_indices().map(|(at, sign)| letter(own, face == Face::Columns, sign, at..at + sign.len_utf8())).collect()
}

/// Fonts in the order of [`Letter::font`].
pub(crate) const FONT_FACES: [Face; 3] = [Face::Text, Face::Bold, Face::Figures];

fn font_index(face: Face) -> usize {
    match face {
        Face::Text => 0,
        Face::Bold => 1,
        Face::Figures | Face::Columns => 2,
    }
}

fn letter(own: usize, columns: bool, sign: char, bytes: std::ops::Range<usize>) -> Letter {
    let sign = if sign.is_control() { ' ' } else { sign };
    for font in [own, 2, 0] {
        let tables = &TABLES[font];
        if let Some(mut glyph) = tables.glyph(sign) {
            if columns && font == 2 && sign == '1' {
                glyph = tables.glyphs.saturating_sub(1); // the wide 1 is the last glyph, see fonts/make_bench_figures.py
            }
            return Letter { font, glyph, advance_em: tables.advance_em(glyph), bytes };
        }
    }
    let tables = &TABLES[own];
    let glyph = tables.glyph('?').unwrap_or(0);
    Letter { font: own, glyph, advance_em: tables.advance_em(glyph), bytes }
}

static TABLES: LazyLock<[Tables; 3]> = LazyLock::new(|| FONT_FACES.map(|face| Tables::read(font_bytes(face)).unwrap_or_default()));

/// A run of characters: first, last, delta, and the glyph ids where the run has a list.
type Run = (u16, u16, u16, Option<Vec<u16>>);

/// What is needed of a font file.
#[derive(Default)]
struct Tables {
    units_per_em: f64,
    advances: Vec<u16>,
    glyphs: u16,
    /// Runs of the character map.
    runs: Vec<Run>,
}

impl Tables {
    fn glyph(&self, sign: char) -> Option<u16> {
        let code = u16::try_from(u32::from(sign)).ok()?;
        let at = self.runs.partition_point(|run| run.1 < code);
        let (first, _, delta, list) = self.runs.get(at).filter(|run| run.0 <= code)?;
        let glyph = match list {
            None => code.wrapping_add(*delta),
            Some(ids) => match ids.get(usize::from(code - first))? {
                0 => 0,
                id => id.wrapping_add(*delta),
            },
        };
        (glyph != 0).then_some(glyph)
    }

    fn advance_em(&self, glyph: u16) -> f64 {
        let advance = self.advances.get(usize::from(glyph)).or(self.advances.last()).copied().unwrap_or(0);
        f64::from(advance) / self.units_per_em.max(1.0)
    }

    fn read(file: &[u8]) -> Option<Tables> {
        let head = table(file, b"head")?;
        let hhea = table(file, b"hhea")?;
        let hmtx = table(file, b"hmtx")?;
        let count = usize::from(u16_at(hhea, 34)?);
        let advances = (0..count).map(|n| u16_at(hmtx, 4 * n)).collect::<Option<Vec<_>>>()?;
        let glyphs = u16_at(table(file, b"maxp")?, 4)?;
        Some(Tables { units_per_em: f64::from(u16_at(head, 18)?), advances, glyphs, runs: read_runs(table(file, b"cmap")?)? })
    }
}

/// The Windows Unicode map (platform 3, encoding 1, format 4).
fn read_runs(cmap: &[u8]) -> Option<Vec<Run>> {
    let maps = usize::from(u16_at(cmap, 2)?);
    let found = (0..maps).map(|n| 4 + 8 * n).find(|at| u16_at(cmap, *at) == Some(3) && u16_at(cmap, at + 2) == Some(1))?;
    let map = cmap.get(u32_at(cmap, found + 4)? as usize..)?;
    let twice = usize::from(u16_at(map, 6)?);
    let mut runs = Vec::new();
    for n in (0..twice).step_by(2) {
        let (last, first) = (u16_at(map, 14 + n)?, u16_at(map, 16 + twice + n)?);
        let delta = u16_at(map, 16 + 2 * twice + n)?;
        let offset_at = 16 + 3 * twice + n;
        let list = match usize::from(u16_at(map, offset_at)?) {
            0 => None,
            offset => Some((first..=last).filter_map(|code| u16_at(map, offset_at + offset + 2 * usize::from(code - first))).collect()),
        };
        runs.push((first, last, delta, list));
    }
    Some(runs)
}

pub(crate) fn table<'f>(file: &'f [u8], tag: &[u8; 4]) -> Option<&'f [u8]> {
    let tables = usize::from(u16_at(file, 4)?);
    let record = (0..tables).map(|n| 12 + 16 * n).find(|at| file.get(*at..at + 4) == Some(tag))?;
    let start = u32_at(file, record + 8)? as usize;
    file.get(start..start.checked_add(u32_at(file, record + 12)? as usize)?)
}

pub(crate) fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..at + 2)?.try_into().ok().map(u16::from_be_bytes)
}

pub(crate) fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..at + 4)?.try_into().ok().map(u32::from_be_bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Advances read from the same files by another reader (Python fontTools), in units of the em.
    #[test]
    fn widths_match_another_reader() {
        for (face, text, units, per_em) in [
            (Face::Figures, "2", 672.0, 1024.0),
            (Face::Figures, "1", 448.0, 1024.0),
            (Face::Columns, "1", 672.0, 1024.0),
            (Face::Figures, "±→⌀", 640.0 + 768.0 + 864.0, 1024.0),
            (Face::Text, "0½—≤", 986.0 + 1225.0 + 1594.0 + 909.0, 2048.0),
            (Face::Bold, "9%", 1061.0 + 1517.0, 2048.0),
        ] {
            let width = text_width_mm(face, 10.0, text);
            assert!((width - units / per_em * 10.0).abs() < 1e-9, "{text}: {width}");
        }
    }

    #[test]
    fn columns_line_up() {
        let widths: Vec<f64> = ('0'..='9').map(|digit| text_width_mm(Face::Columns, 3.0, &digit.to_string())).collect();
        assert!(widths.iter().all(|width| (width - widths[0]).abs() < 1e-12), "{widths:?}");
    }

    #[test]
    fn a_missing_letter_is_borrowed_or_asked_for() {
        // The text face has no arrow; the figures' arrow stands in. No face has a CJK sign.
        assert!((text_width_mm(Face::Text, 1.0, "→") - 0.75).abs() < 1e-9);
        assert_eq!(text_width_mm(Face::Text, 1.0, "器"), text_width_mm(Face::Text, 1.0, "?"));
    }

    #[test]
    fn wrapped_lines_fit_and_lose_no_word() {
        let text = "a caliper reading of the collar would settle it pneumonoultramicroscopicsilicovolcanoconiosis at once";
        for width in [3.0, 12.0, 30.0, 1000.0] {
            let lines = wrap_mm(Face::Text, 3.5, width, text);
            assert!(
                lines.iter().all(|line| line.chars().count() == 1 || text_width_mm(Face::Text, 3.5, line) <= width + 1e-9),
                "{lines:?}"
            );
            assert_eq!(lines.concat().replace(' ', ""), text.replace(' ', ""));
        }
        assert!(wrap_mm(Face::Text, 3.5, f64::NAN, "ab cd").len() <= 4);
        assert!(text_width_mm(Face::Text, 3.5, &fits_mm(Face::Text, 3.5, 20.0, text)) <= 20.0);
    }
}

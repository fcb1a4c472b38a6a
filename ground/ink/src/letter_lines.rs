//! Letters as closed lines, for cutting them rather than printing them.
//!
//! Outlines come from the `glyf` and `loca` tables of the font files (ISO/IEC 14496-22): quadratic rounds, flattened here. Glyphs put together from others are left out: no face of
//! ours needs them for plain letters and figures.

use crate::face::{FONT_FACES, font_bytes, letters, table, u16_at, u32_at};
use crate::mark::Face;

/// A letter's closed lines in mm, y up, its pen at x = 0 on the base line; and how far it moves the pen.
#[derive(Clone, Debug, PartialEq)]
pub struct LetterLines {
    /// Closed lines; outer ones and counters run opposite ways.
    pub lines_mm: Vec<Vec<[f64; 2]>>,
    /// Width.
    pub advance_mm: f64,
}

/// The letters of a line of type, each with its outline within `chord_mm` of the true one. `None` for a letter that has no outline of its own (put together from others, or in no face).
pub fn letter_lines(face: Face, size_mm: f64, text: &str, chord_mm: f64) -> Vec<Option<LetterLines>> {
    let asked = letters(face, "?").pop().map(|letter| (letter.font, letter.glyph));
    let chord_em = (chord_mm / size_mm.max(1e-9)).clamp(1e-4, 0.1);
    letters(face, text)
        .into_iter()
        .zip(text.chars())
        .map(|(letter, sign)| {
            let lines = outline(font_bytes(*FONT_FACES.get(letter.font)?), letter.glyph, chord_em)?;
            // A letter that no face has is set as a question mark: to cut that would be wrong.
            if lines.is_empty() != sign.is_whitespace() || (asked == Some((letter.font, letter.glyph)) && sign != '?') {
                return None;
            }
            let grow = |line: Vec<[f64; 2]>| line.into_iter().map(|at| at.map(|x| x * size_mm)).collect();
            Some(LetterLines { lines_mm: lines.into_iter().map(grow).collect(), advance_mm: letter.advance_em * size_mm })
        })
        .collect()
}

/// A glyph's closed lines in em.
fn outline(file: &[u8], glyph: u16, chord_em: f64) -> Option<Vec<Vec<[f64; 2]>>> {
    let head = table(file, b"head")?;
    let (per_em, long) = (f64::from(u16_at(head, 18)?), u16_at(head, 50)? == 1);
    let (loca, glyf) = (table(file, b"loca")?, table(file, b"glyf")?);
    let place = |n: usize| if long { u32_at(loca, 4 * n).map(|at| at as usize) } else { u16_at(loca, 2 * n).map(|at| 2 * usize::from(at)) };
    let (from, to) = (place(usize::from(glyph))?, place(usize::from(glyph) + 1)?);
    if from == to {
        return Some(Vec::new());
    }
    let data = glyf.get(from..to)?;
    let count = i16::from_be_bytes(data.get(..2)?.try_into().ok()?);
    if count < 0 {
        return None;
    }
    let (ends, points) = points(data, usize::from(count.unsigned_abs()))?;
    let mut first = 0;
    let mut lines = Vec::new();
    for end in ends {
        let contour = points.get(first..=end)?;
        lines.push(flattened(contour, per_em, chord_em));
        first = end + 1;
    }
    Some(lines.into_iter().filter(|line| line.len() >= 3).collect())
}

/// Whether on the line, x, y.
type GlyphPoint = (bool, f64, f64);

fn points(data: &[u8], contours: usize) -> Option<(Vec<usize>, Vec<GlyphPoint>)> {
    let ends: Vec<usize> = (0..contours).map(|n| u16_at(data, 10 + 2 * n).map(usize::from)).collect::<Option<_>>()?;
    let count = ends.last().map_or(0, |end| end + 1);
    let mut at = 10 + 2 * contours;
    at += 2 + usize::from(u16_at(data, at)?);
    let mut flags: Vec<u8> = Vec::with_capacity(count);
    while flags.len() < count {
        let flag = *data.get(at)?;
        at += 1;
        flags.push(flag);
        if flag & 8 != 0 {
            let again = *data.get(at)?;
            at += 1;
            flags.extend(std::iter::repeat_n(flag, usize::from(again)));
        }
    }
    let axis = |short: u8, same: u8, at: &mut usize| -> Option<Vec<f64>> {
        let mut here = 0_i32;
        flags
            .iter()
            .take(count)
            .map(|flag| {
                if flag & short != 0 {
                    let step = i32::from(*data.get(*at)?);
                    *at += 1;
                    here += if flag & same != 0 { step } else { -step };
                } else if flag & same == 0 {
                    here += i32::from(i16::from_be_bytes(data.get(*at..*at + 2)?.try_into().ok()?));
                    *at += 2;
                }
                Some(f64::from(here))
            })
            .collect()
    };
    let xs = axis(2, 16, &mut at)?;
    let ys = axis(4, 32, &mut at)?;
    Some((ends, flags.iter().zip(xs.into_iter().zip(ys)).map(|(flag, (x, y))| (flag & 1 != 0, x, y)).collect()))
}

/// A contour of points on the line and control points between them, as straight steps in em.
fn flattened(contour: &[GlyphPoint], per_em: f64, chord_em: f64) -> Vec<[f64; 2]> {
    let count = contour.len();
    let mut whole: Vec<GlyphPoint> = Vec::with_capacity(2 * count);
    for (i, &point) in contour.iter().enumerate() {
        let (on, x, y) = contour[(i + count - 1) % count];
        if !on && !point.0 {
            whole.push((true, 0.5 * (x + point.1), 0.5 * (y + point.2)));
        }
        whole.push(point);
    }
    let Some(start) = whole.iter().position(|point| point.0) else { return Vec::new() };
    whole.rotate_left(start);
    let at = |i: usize| [whole[i % whole.len()].1 / per_em, whole[i % whole.len()].2 / per_em];
    let mut line: Vec<[f64; 2]> = Vec::new();
    for i in 0..whole.len() {
        if whole[i].0 {
            line.push(at(i));
            continue;
        }
        let [a, b, c] = [at(i + whole.len() - 1), at(i), at(i + 1)];
        // A chord over a step 1/n of a quadratic is off by |a - 2b + c| / (4 n^2) at most.
        let bend = (a[0] - 2.0 * b[0] + c[0]).hypot(a[1] - 2.0 * b[1] + c[1]);
        let steps = (bend / (4.0 * chord_em)).sqrt().ceil().clamp(1.0, 32.0) as usize;
        for step in 1..steps {
            let t = step as f64 / steps as f64;
            line.push([0, 1].map(|k| (1.0 - t) * (1.0 - t) * a[k] + 2.0 * t * (1.0 - t) * b[k] + t * t * c[k]));
        }
    }
    line.dedup();
    if line.len() > 1 && line.first() == line.last() {
        line.pop();
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(lines: &[Vec<[f64; 2]>]) -> f64 {
        let twice =
            |l: &Vec<[f64; 2]>| (0..l.len()).map(|i| l[i][0] * l[(i + 1) % l.len()][1] - l[(i + 1) % l.len()][0] * l[i][1]).sum::<f64>();
        0.5 * lines.iter().map(twice).sum::<f64>().abs()
    }

    const AREAS: [(Face, &str, f64); 6] = [
        (Face::Figures, "A", 0.162_151_495_6),
        (Face::Figures, "8", 0.195_434_490_8),
        (Face::Figures, "R", 0.185_861_229_9),
        (Face::Text, "B", 0.141_967_713_9),
        (Face::Bold, "8", 0.167_618_155_5),
        (Face::Bold, "R", 0.193_064_292_3),
    ];

    /// Areas of glyphs by another reader (Python fontTools AreaPen), in units of the em squared.
    #[test]
    fn areas_match_another_reader() {
        for (face, sign, wanted) in AREAS {
            let found = letter_lines(face, 1.0, sign, 1e-5);
            let lines = &found[0].as_ref().expect("an outline").lines_mm;
            assert!((area(lines) / wanted - 1.0).abs() < 2e-3, "{sign}: {} instead of {wanted}", area(lines));
        }
    }

    #[test]
    fn a_letter_without_an_outline_is_told() {
        let found = letter_lines(Face::Figures, 3.0, "A \u{5668}", 0.01);
        assert!(found[0].is_some() && found[1].as_ref().is_some_and(|space| space.lines_mm.is_empty()) && found[2].is_none());
    }
}

use meridian::Piece;
use solid::Body;
use solid::path::{self, Sweep};
use std::fmt::Write as _;

/// How near the polylines of curves stay to them: R12 knows no smooth curve.
const CHORD_MM: f64 = 0.001;
const OVERSHOOT_MM: f64 = 3.0;

/// The section through the axis as DXF (release 12, ASCII), full size in millimetres: x along the axis from the rod end, y across.
///
/// Both halves. Layers: OUTSIDE, BORE, EDGES (circles seen from the side) and CENTRE (chain line). Lines and arcs are exact; curves become
/// polylines within a thousandth of a millimetre.
pub fn dxf(body: &Body) -> Vec<u8> {
    let [low, high] = body.bounds_mm();
    let mut text = String::new();
    for (code, value) in [("999", "ringer: section in millimetres"), ("0", "SECTION"), ("2", "HEADER"), ("9", "$ACADVER"), ("1", "AC1009")]
    {
        pair(&mut text, code, value);
    }
    pair(&mut text, "9", "$EXTMIN");
    place(&mut text, 10, low[2] - OVERSHOOT_MM, -high[0]);
    pair(&mut text, "9", "$EXTMAX");
    place(&mut text, 10, high[2] + OVERSHOOT_MM, high[0]);
    pair(&mut text, "0", "ENDSEC");
    tables(&mut text);
    pair(&mut text, "0", "SECTION");
    pair(&mut text, "2", "ENTITIES");
    for side in [1.0, -1.0] {
        body.outer().iter().for_each(|piece| entity(&mut text, "OUTSIDE", piece, side));
        body.inner().iter().for_each(|piece| entity(&mut text, "BORE", piece, side));
    }
    for r_at in body.inner().iter().map(path::end).chain(body.outer().last().map(path::end)) {
        if r_at.r_mm > path::NOTHING_MM {
            line(&mut text, "EDGES", [r_at.z_mm, -r_at.r_mm], [r_at.z_mm, r_at.r_mm]);
        }
    }
    line(&mut text, "CENTRE", [low[2] - OVERSHOOT_MM, 0.0], [high[2] + OVERSHOOT_MM, 0.0]);
    pair(&mut text, "0", "ENDSEC");
    pair(&mut text, "0", "EOF");
    text.into_bytes()
}

/// Line types and layers; the chain line's dashes are in millimetres.
pub(crate) fn tables(text: &mut String) {
    pair(text, "0", "SECTION");
    pair(text, "2", "TABLES");
    for (code, value) in [("0", "TABLE"), ("2", "LTYPE"), ("70", "2")] {
        pair(text, code, value);
    }
    for (code, value) in [("0", "LTYPE"), ("2", "CONTINUOUS"), ("70", "0"), ("3", "full"), ("72", "65"), ("73", "0"), ("40", "0.0")] {
        pair(text, code, value);
    }
    for (code, value) in [("0", "LTYPE"), ("2", "CENTER"), ("70", "0"), ("3", "chain"), ("72", "65"), ("73", "4"), ("40", "7.62")] {
        pair(text, code, value);
    }
    for dash in ["6.0", "-0.75", "0.12", "-0.75"] {
        pair(text, "49", dash);
    }
    pair(text, "0", "ENDTAB");
    for (code, value) in [("0", "TABLE"), ("2", "LAYER"), ("70", "4")] {
        pair(text, code, value);
    }
    for (layer, line_type) in [("OUTSIDE", "CONTINUOUS"), ("BORE", "CONTINUOUS"), ("EDGES", "CONTINUOUS"), ("CENTRE", "CENTER")] {
        for (code, value) in [("0", "LAYER"), ("2", layer), ("70", "0"), ("62", "7"), ("6", line_type)] {
            pair(text, code, value);
        }
    }
    pair(text, "0", "ENDTAB");
    pair(text, "0", "ENDSEC");
}

pub(crate) fn entity(text: &mut String, layer: &str, piece: &Piece, side: f64) {
    match *piece {
        Piece::Line { from, to } => line(text, layer, [from.z_mm, side * from.r_mm], [to.z_mm, side * to.r_mm]),
        Piece::Arc { from, to, centre, turn } => {
            let sweep = Sweep::new(from, to, centre, turn);
            let (first, last) = (side * sweep.from_rad, side * (sweep.from_rad + sweep.sweep_rad));
            // The format's arcs run counter-clockwise.
            let (first, last) = if side * sweep.sweep_rad > 0.0 { (first, last) } else { (last, first) };
            pair(text, "0", "ARC");
            pair(text, "8", layer);
            place(text, 10, centre.z_mm, side * centre.r_mm);
            pair(text, "40", &real(sweep.radius_mm));
            pair(text, "50", &real(first.to_degrees().rem_euclid(360.0)));
            pair(text, "51", &real(last.to_degrees().rem_euclid(360.0)));
        }
        Piece::Curve { .. } => {
            pair(text, "0", "POLYLINE");
            pair(text, "8", layer);
            pair(text, "66", "1");
            place(text, 10, 0.0, 0.0);
            let steps = path::steps_for_chord(piece, CHORD_MM);
            for step in 0..=steps {
                let at = path::at(piece, step as f64 / steps as f64);
                pair(text, "0", "VERTEX");
                pair(text, "8", layer);
                place(text, 10, at.z_mm, side * at.r_mm);
            }
            pair(text, "0", "SEQEND");
            pair(text, "8", layer);
        }
    }
}

fn line(text: &mut String, layer: &str, from: [f64; 2], to: [f64; 2]) {
    pair(text, "0", "LINE");
    pair(text, "8", layer);
    place(text, 10, from[0], from[1]);
    place(text, 11, to[0], to[1]);
}

/// x, y, z under the group codes `code`, `code + 10`, `code + 20`.
pub(crate) fn place(text: &mut String, code: u32, x: f64, y: f64) {
    for (offset, value) in [(0, x), (10, y), (20, 0.0)] {
        pair(text, &(code + offset).to_string(), &real(value));
    }
}

/// A picometre is finer than any maker wants and keeps digits plain.
fn real(value: f64) -> String {
    let text = format!("{value:.9}");
    let text = text.trim_end_matches('0');
    let text = if text.ends_with('.') { format!("{text}0") } else { text.to_string() };
    if text == "-0.0" { "0.0".into() } else { text }
}

pub(crate) fn pair(text: &mut String, code: &str, value: &str) {
    // Writing to a String can't fail.
    let _ = write!(text, "{code:>3}\r\n{value}\r\n");
}

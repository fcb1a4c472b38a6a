//! What can be wrong about flat parts.

use super::{Check, listed};
use crate::document::{Document, DrawnPiece, Square};
use crate::read::Step::{Index, Key};

/// Pieces at most of a drawn line, and how far an arc's ends may differ in radius, mm: digits that were left out.
const MOST_DRAWN: usize = 2_000;
const ARC_OFF_MM: f64 = 0.01;

impl Check {
    pub(super) fn flat(&mut self, document: &Document) {
        for (i, photo) in document.photo.iter().enumerate() {
            if let Some(square) = &photo.square {
                self.square(i, square);
            }
        }
        let Some(flat) = &document.flat else { return };
        let at = |key| vec![Key("flat"), Key(key)];
        self.positive_size(at("thickness"), &flat.thickness);
        for (key, size) in [("edge_break", &flat.edge_break), ("tolerance", &flat.tolerance)] {
            if let Some(size) = size {
                self.positive_size(at(key), size);
            }
        }
        if let Some(within) = &flat.within {
            self.pixels(at("within"), within, 3);
        }
        for (i, hole) in flat.hole.iter().enumerate().take(200) {
            self.pixels(vec![Key("flat"), Key("hole"), Index(i)], hole, 3);
        }
        for (i, line) in flat.drawn.iter().enumerate().take(200) {
            self.drawn(i, line);
        }
        let photos = || document.photo.iter().map(|photo| &photo.name);
        match document.photo.iter().find(|photo| photo.name == flat.photo) {
            None => self.say(at("photo"), format!("no [[photo]] is named `{}`{}", flat.photo, listed(photos())), "name the photo that shows the part from above"),
            Some(photo) if photo.square.is_none() => self.say(
                at("photo"),
                format!("photo `{}` has nothing to square it up by", flat.photo),
                "add `square = { rectangle = [[x, y], ...], width = \"50 mm\", height = \"30 mm\" }` to it, or a circle or ruler in the part's plane",
            ),
            Some(photo) if photo.outline.is_none() && flat.within.is_none() => self.say(
                at("photo"),
                "neither a trace nor a polygon says where the part is",
                "add `within = [[x, y], ...]` round the part to [flat], or trace it with `outline` in [[photo]]",
            ),
            Some(photo) if photo.outline.is_none() && !flat.hole.is_empty() => {
                self.say(at("hole"), "holes are traced only where the outline is", "trace the outline too, or leave `hole` out: holes are found within the polygon")
            }
            Some(_) => {}
        }
        if document.photo.iter().any(|photo| photo.shaft.is_some() && photo.made.is_none()) {
            self.say(at("photo"), "a job is of a turned part or of a flat one, not of both", "leave `shaft` out of its photos, or [flat]");
        }
    }

    fn drawn(&mut self, line: usize, pieces: &[DrawnPiece]) {
        let at = |piece: usize| vec![Key("flat"), Key("drawn"), Index(line), Index(piece)];
        if pieces.is_empty() || pieces.len() > MOST_DRAWN {
            let path = vec![Key("flat"), Key("drawn"), Index(line)];
            self.say(
                path,
                format!("{} pieces were given; 1 to {MOST_DRAWN} were expected", pieces.len()),
                "each piece is { to = [x, y] } in mm, an arc with its `centre`, a curve with its two `controls`",
            );
            return;
        }
        for (i, piece) in pieces.iter().enumerate() {
            let places = [Some(piece.to), piece.centre, piece.controls.map(|c| c[0]), piece.controls.map(|c| c[1])];
            if !places.iter().flatten().flatten().all(|mm| mm.is_finite() && mm.abs() < 1e5) {
                self.say(at(i), "a place is not finite or farther than 100 m", "give places in mm");
            }
            if piece.controls.is_some() && piece.centre.is_some() {
                self.say(at(i), "a piece has `centre` or `controls`, not both", "an arc has a `centre`, a curve two `controls`");
            }
            let Some(centre) = piece.centre else { continue };
            let from = pieces[(i + pieces.len() - 1) % pieces.len()].to;
            let [a, b] = [from, piece.to].map(|p| (p[0] - centre[0]).hypot(p[1] - centre[1]));
            if (a - b).abs() > ARC_OFF_MM || a < ARC_OFF_MM {
                self.say(
                    at(i),
                    format!("the arc's ends are {a:.4} and {b:.4} mm from its centre"),
                    format!("an arc is as far from its centre throughout, within {ARC_OFF_MM} mm"),
                );
            }
        }
    }

    fn square(&mut self, i: usize, square: &Square) {
        let at = |key| vec![Key("photo"), Index(i), Key("square"), Key(key)];
        let given = [square.rectangle.is_some(), square.circle.is_some(), square.ruler.is_some()];
        if given.iter().filter(|given| **given).count() != 1 {
            self.say(
                vec![Key("photo"), Index(i), Key("square")],
                "one of `rectangle`, `circle` and `ruler` was expected",
                "a rectangle squares best: four corners with `width` and `height`",
            );
        }
        for (key, clicks, sizes) in [
            (
                "rectangle",
                square.rectangle.as_ref().map(|clicks| clicks.to_vec()),
                vec![("width", &square.width), ("height", &square.height)],
            ),
            ("circle", square.circle.clone(), vec![("diameter", &square.diameter)]),
            ("ruler", square.ruler.as_ref().map(|clicks| clicks.to_vec()), vec![("length", &square.length)]),
        ] {
            let Some(clicks) = clicks else { continue };
            self.pixels(
                at(key),
                &clicks,
                match key {
                    "circle" => 5,
                    "ruler" => 2,
                    _ => 4,
                },
            );
            for (name, size) in sizes {
                match size {
                    Some(size) => self.positive_size(at(name), size),
                    None => self.say(at(key), format!("`{key}` needs its `{name}`"), format!("add `{name} = \"50 mm\"` as it is known")),
                }
            }
        }
    }
}

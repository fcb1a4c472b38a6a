//! What can be wrong about flat parts.

use super::{Check, listed};
use crate::document::{Document, Square};
use crate::read::Step::{Index, Key};

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

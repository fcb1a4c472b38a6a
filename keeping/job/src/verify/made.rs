//! What can be wrong about tolerances, readings of made parts and the batch.

use super::{Check, LARGEST_MM, listed};
use crate::document::Document;
use crate::read::Step::{Index, Key, Name};

impl Check {
    pub(super) fn made(&mut self, document: &Document) {
        self.tolerance(document);
        self.parts(document);
        self.batch(document);
        for (i, photo) in document.photo.iter().enumerate() {
            let at = |key| vec![Key("photo"), Index(i), Key(key)];
            let Some(made) = &photo.made else { continue };
            if photo.shaft.is_none() {
                self.say(
                    at("made"),
                    "a photo of a made part needs a rod of known size to be compared by",
                    "put the part on its shaft or on a gauge pin, and name that in `shaft`",
                );
            }
            if !document.check.iter().any(|part| &part.part == made) {
                self.say(
                    at("made"),
                    format!("no [[check]] is about part `{made}`{}", listed(document.check.iter().map(|part| &part.part))),
                    format!("add `[[check]]` with `part = \"{made}\"`; it may have no readings yet"),
                );
            }
        }
    }

    fn tolerance(&mut self, document: &Document) {
        let Some(tolerance) = &document.tolerance else { return };
        for (name, sizes) in &tolerance.own {
            let path = || vec![Key("tolerance"), Key("own"), Name(name.clone())];
            let sane = sizes.0.iter().all(|size| size.mm.abs() <= 100.0);
            match sizes.0.as_slice() {
                [either] if either.mm > 0.0 && sane => {}
                [low, high] if low.mm < high.mm && sane => {}
                _ => self.say(
                    path(),
                    "one size above 0, or a lower and a greater upper deviation were expected",
                    "write \"0.05 mm\" for either way, or [\"-0.1 mm\", \"0 mm\"]",
                ),
            }
        }
        for (key, value) in [("de00", tolerance.de00), ("lot_de00", tolerance.lot_de00)] {
            if let Some(value) = value {
                self.range(vec![Key("tolerance"), Key(key)], value, 0.05, 50.0, "CIEDE2000");
            }
        }
    }

    fn parts(&mut self, document: &Document) {
        const MOST_PARTS: usize = 500;
        if document.check.len() > MOST_PARTS {
            self.say(
                vec![Key("check"), Index(MOST_PARTS)],
                format!("{} made parts; at most {MOST_PARTS} are read", document.check.len()),
                "leave the older ones in the record of their own batch",
            );
        }
        self.names_by(&document.check, "check", "part", |part| &part.part);
        for (i, part) in document.check.iter().enumerate() {
            let at = |key| vec![Key("check"), Index(i), Key(key)];
            for (name, sizes) in &part.readings {
                let path = || vec![Key("check"), Index(i), Key("readings"), Name(name.clone())];
                if sizes.0.is_empty() || sizes.0.len() > 1000 {
                    self.say(
                        path(),
                        format!("{} readings are given; 1 to 1000 were expected", sizes.0.len()),
                        "give what the caliper showed, or leave the size out",
                    );
                } else if let Some(size) = sizes.0.iter().find(|size| !(size.mm > 0.0 && size.mm <= LARGEST_MM)) {
                    self.positive_size(path(), size);
                }
            }
            if let Some(sigma) = &part.sigma {
                self.positive_size(at("sigma"), sigma);
            }
            if let Some(lab) = &part.lab {
                self.lab(at("lab"), lab);
            }
            self.sigma(at("lab_sigma"), part.lab_sigma);
            if let Some(pins) = &part.pins {
                let at = |key| vec![Key("check"), Index(i), Key("pins"), Key(key)];
                for (key, sizes) in [("enter", &pins.enter), ("stay_out", &pins.stay_out)] {
                    sizes.iter().flat_map(|sizes| sizes.0.iter().take(100)).for_each(|size| self.positive_size(at(key), size));
                }
                if let Some(sigma) = &pins.sigma {
                    self.positive_size(at("sigma"), sigma);
                }
                let most = |sizes: &Option<crate::Sizes>, start: f64, better: fn(f64, f64) -> f64| {
                    sizes.iter().flat_map(|s| &s.0).map(|s| s.mm).fold(start, better)
                };
                let (enters, out) = (most(&pins.enter, f64::NEG_INFINITY, f64::max), most(&pins.stay_out, f64::INFINITY, f64::min));
                if enters >= out {
                    self.say(
                        at("enter"),
                        format!("a pin of {enters} mm enters although one of {out} mm does not"),
                        "check which pin is which; a burr or dust keeps a pin out too",
                    );
                }
            }
        }
    }

    fn batch(&mut self, document: &Document) {
        let Some(batch) = &document.batch else { return };
        let at = |key| vec![Key("batch"), Key(key)];
        if let Some(scale) = batch.scale {
            self.range(at("scale"), scale, 0.5, 2.0, "as a factor (half a percent larger is 1.005)");
        }
        for (key, lab) in [("master", &batch.master), ("before_cure", &batch.before_cure)] {
            if let Some(lab) = lab {
                self.lab(at(key), lab);
            }
        }
        for (part, whole, [part_key, whole_key]) in
            [(batch.good, batch.made, ["good", "made"]), (batch.lost, batch.loads, ["lost", "loads"])]
        {
            match (part, whole) {
                (Some(part), Some(whole)) if part > whole => self.say(
                    at(part_key),
                    format!("{part} {part_key} of {whole} {whole_key} can't be"),
                    format!("`{part_key}` are counted among `{whole_key}`"),
                ),
                (Some(_), None) => self.say(at(part_key), format!("`{whole_key}` is missing beside it"), format!("add `{whole_key}`")),
                (None, Some(_)) if whole_key == "made" => self.say(at(whole_key), "how many of them were good is missing", "add `good`"),
                _ => {}
            }
        }
    }
}

//! What can be wrong about the colour wanted and what makes it: readings, resin, colourants, chips, target.

use super::{Check, listed};
use crate::document::{Backing, Document, NamedReading, Sample};
use crate::read::Step::{self, Index, Key};

impl Check {
    pub(super) fn colour(&mut self, document: &Document) {
        self.names(&document.reading, "reading", |reading| &reading.name);
        for (i, reading) in document.reading.iter().enumerate() {
            self.reading(i, reading);
        }
        if let Some(resin) = &document.resin {
            if let Some(thickness) = resin.thickness_mm {
                self.range(vec![Key("resin"), Key("thickness_mm")], thickness, 0.05, 200.0, "mm of thickness");
            }
            if let Some(Backing::Reflectance(reflectance)) = resin.backing {
                self.range(vec![Key("resin"), Key("backing")], reflectance, 0.0, 1.0, "reflectance");
            }
            if let Some(density) = resin.density_g_ml {
                self.range(vec![Key("resin"), Key("density_g_ml")], density, 0.3, 10.0, "g/mL");
            }
        }
        self.colourants(document);
        self.samples(document);
        self.target(document);
    }

    fn reading(&mut self, i: usize, reading: &NamedReading) {
        let at = |key| vec![Key("reading"), Index(i), Key(key)];
        match (&reading.lab, &reading.spectrum) {
            (Some(lab), None) => self.lab(at("lab"), lab),
            (None, Some(file)) => self.file(at("spectrum"), file),
            (Some(_), Some(_)) => {
                self.say(at("spectrum"), "a Lab and a file are given; one of them was expected", "say the colour one way")
            }
            (None, None) => self.say(
                vec![Key("reading"), Index(i)],
                "no colour is given; `lab` or `spectrum` was expected",
                "give the Lab, or the instrument's file",
            ),
        }
        if let Some(observer) = reading.observer.filter(|observer| ![2, 10].contains(observer)) {
            self.say(
                at("observer"),
                format!("{observer} degrees is no standard observer; 2 or 10 was expected"),
                "see what the instrument was set to",
            );
        }
        if reading.sample.is_some() && reading.spectrum.is_none() {
            self.say(at("sample"), "a sample is named, but no file that holds it", "add `spectrum = \"...\"`, or remove it");
        }
        self.sigma(at("sigma"), reading.sigma);
    }

    fn colourants(&mut self, document: &Document) {
        self.names(&document.colourant, "colourant", |colourant| &colourant.name);
        if document.colourant.len() > 12 {
            self.say(
                vec![Key("colourant"), Index(12)],
                format!("{} colourants are given; at most 12 can be searched", document.colourant.len()),
                "leave out those that can't matter for this colour",
            );
        }
        for (i, colourant) in document.colourant.iter().enumerate() {
            let at = |key| vec![Key("colourant"), Index(i), Key(key)];
            self.range(at("drop_ul"), colourant.drop_ul, 0.01, 5000.0, "uL of a drop");
            if let Some(cv) = colourant.drop_cv {
                self.range(at("drop_cv"), cv, 0.0, 1.0, "relative scatter (5 % is 0.05)");
            }
            if let Some(percent) = colourant.max_percent {
                self.range(at("max_percent"), percent, 0.0001, 100.0, "percent of the total");
            }
            if let Some(density) = colourant.density_g_ml {
                self.range(at("density_g_ml"), density, 0.3, 20.0, "g/mL");
            }
            if let Some(ml) = colourant.stock_ml {
                self.range(at("stock_ml"), ml, 0.0, 100_000.0, "mL left in the bottle");
            }
            if let Some(drops) = colourant.least_drops {
                self.range(at("least_drops"), f64::from(drops), 1.0, 1000.0, "drops");
            }
        }
    }

    fn samples(&mut self, document: &Document) {
        self.names(&document.sample, "sample", |sample| &sample.name);
        for (i, sample) in document.sample.iter().enumerate() {
            let at = |key| vec![Key("sample"), Index(i), Key(key)];
            self.range(at("volume_ml"), sample.volume_ml, 0.01, 100_000.0, "mL of resin");
            for (name, drops) in &sample.drops {
                let path = vec![Key("sample"), Index(i), Key("drops"), Step::Name(name.clone())];
                if !document.colourant.iter().any(|colourant| &colourant.name == name) {
                    self.say(
                        path,
                        format!("no [[colourant]] is named `{name}`{}", listed(document.colourant.iter().map(|c| &c.name))),
                        "name one of them, or add it",
                    );
                } else if *drops > 100_000 {
                    self.say(
                        path,
                        format!("{drops} drops were given; at most 100,000 are read"),
                        "is a decimal point missing in the volume?",
                    );
                }
            }
            self.grams(document, i, sample);
            let read = usize::from(sample.lab.is_some()) + usize::from(sample.spectrum.is_some());
            if read > 1 || (read == 0 && sample.region.is_none()) {
                self.say(
                    vec![Key("sample"), Index(i)],
                    format!("{read} readings are given; one of `lab`, `spectrum`, `region` was expected"),
                    "give the chip's colour one way; a `region` may stand beside either of the others",
                );
            }
            if let Some(lab) = &sample.lab {
                self.lab(at("lab"), lab);
            }
            if let Some(file) = &sample.spectrum {
                self.file(at("spectrum"), file);
            }
            if let Some(region) = &sample.region {
                self.pixels(vec![Key("sample"), Index(i), Key("region"), Key("polygon")], &region.polygon, 3);
                match document.photo.iter().find(|photo| photo.name == region.photo) {
                    None => self.say(
                        vec![Key("sample"), Index(i), Key("region"), Key("photo")],
                        format!("no [[photo]] is named `{}`", region.photo),
                        "name one of the photos",
                    ),
                    Some(photo) if photo.neutral.is_none() && photo.patch.is_empty() && read == 0 => self.say(
                        vec![Key("sample"), Index(i), Key("region"), Key("photo")],
                        format!("photo `{}` has no `neutral` patch", region.photo),
                        "mark the grey card that lies beside the chips",
                    ),
                    Some(_) => {}
                }
            }
            self.sigma(at("sigma"), sample.sigma);
        }
    }

    fn grams(&mut self, document: &Document, i: usize, sample: &Sample) {
        for (name, grams) in &sample.grams {
            let path = || vec![Key("sample"), Index(i), Key("grams"), Step::Name(name.clone())];
            self.range(path(), *grams, 0.0, 100_000.0, "g of colourant");
            match document.colourant.iter().find(|colourant| &colourant.name == name) {
                None => self.say(
                    path(),
                    format!("no [[colourant]] is named `{name}`{}", listed(document.colourant.iter().map(|c| &c.name))),
                    "name one of them, or add it",
                ),
                Some(colourant) if colourant.density_g_ml.is_none() => self.say(
                    path(),
                    format!("`{name}` was weighed in, but its density is not known"),
                    "add `density_g_ml` to its [[colourant]]",
                ),
                Some(_) if sample.drops.contains_key(name) => {
                    self.say(path(), format!("`{name}` is given in drops and in grams"), "give each colourant's amount once")
                }
                Some(_) => {}
            }
        }
        if let Some(sigma) = sample.grams_sigma {
            self.range(vec![Key("sample"), Index(i), Key("grams_sigma")], sigma, 0.0, 1000.0, "g of standard uncertainty");
        }
    }

    fn target(&mut self, document: &Document) {
        let Some(target) = &document.target else { return };
        let at = |key| vec![Key("target"), Key(key)];
        let ways = [target.lab.is_some(), target.from.is_some(), target.age.is_some()].iter().filter(|given| **given).count();
        if ways != 1 {
            self.say(
                vec![Key("target")],
                format!("{ways} colours are wanted; one of `lab`, `from`, `age` was expected"),
                "say once which colour is wanted",
            );
        }
        if let Some(lab) = &target.lab {
            self.lab(at("lab"), lab);
        }
        if let Some(from) = &target.from {
            let known = from == "photo"
                || document.photo.iter().any(|photo| &photo.name == from)
                || document.reading.iter().any(|reading| &reading.name == from);
            if !known {
                self.say(
                    at("from"),
                    format!("`{from}` is neither a photo nor a reading of this job"),
                    "write \"photo\", a photo's name, or the name of a [[reading]]",
                );
            }
        }
        if let Some(age) = &target.age {
            for (key, name) in [("new", &age.new), ("now", &age.now)] {
                if !document.reading.iter().any(|reading| &reading.name == name) && !document.photo.iter().any(|photo| &photo.name == name)
                {
                    self.say(
                        vec![Key("target"), Key("age"), Key(key)],
                        format!("`{name}` is neither a photo nor a reading of this job"),
                        "name a photo or a [[reading]]",
                    );
                }
            }
            self.range(vec![Key("target"), Key("age"), Key("share")], age.share, 0.0, 1.0, "share of the way from new to now");
        }
        self.sigma(at("sigma"), target.sigma);
        if let Some(ml) = target.sample_ml {
            self.range(at("sample_ml"), ml, 0.1, 100_000.0, "mL of resin");
        }
        if let Some(drops) = target.max_drops {
            self.range(at("max_drops"), f64::from(drops), 1.0, 1000.0, "drops");
        }
        if let Some(tolerance) = target.tolerance {
            self.range(at("tolerance"), tolerance, 0.05, 50.0, "CIEDE2000");
        }
        if let Some(most) = target.max_colourants {
            self.range(at("max_colourants"), f64::from(most), 1.0, 4.0, "colourants in one recipe");
        }
        if target.by_weight && document.tools.as_ref().and_then(|tools| tools.balance_g).is_none() {
            self.say(
                at("by_weight"),
                "recipes are wanted in grams, but no balance is described",
                "add `[tools]` with `balance_g = 0.01`, its smallest step",
            );
        }
        if target.lights.len() > 8 {
            self.say(
                at("lights"),
                format!("{} lights are given; at most 8 can be counted", target.lights.len()),
                "keep those that the part will be seen under",
            );
        }
        for (i, drift) in target.drift.iter().enumerate() {
            let at = |key| vec![Key("target"), Key("drift"), Index(i), Key(key)];
            if !drift.lab.iter().all(|v| v.is_finite() && v.abs() <= 50.0) {
                self.say(
                    at("lab"),
                    "no shift of a colour; numbers within 50 were expected",
                    "give how far L*, a*, b* move, e.g. [-0.5, 0.1, 1.2]",
                );
            }
            self.sigma(at("sigma"), Some(drift.sigma));
            if drift.source.trim().is_empty() {
                self.say(
                    at("source"),
                    "a drift without its source is a guess",
                    "say what moves the colour, over which time, and who measured it",
                );
            }
        }
    }
}

//! What can be wrong about tools, the book of pots, a scale-up as written down, and cure strips.

use super::{Check, listed};
use crate::document::{BookLine, Document};
use crate::read::Step::{Index, Key, Name};

/// What the bare resin is called among the things added.
const RESIN: &str = "resin";
const MOST_LINES: usize = 500;

impl Check {
    pub(super) fn book(&mut self, document: &Document) {
        self.tools(document);
        if document.book.len() > MOST_LINES {
            self.say(
                vec![Key("book"), Index(MOST_LINES)],
                format!("{} lines of the book; at most {MOST_LINES} are read", document.book.len()),
                "start a new book with the next batch",
            );
        }
        for (i, line) in document.book.iter().enumerate() {
            self.book_line(document, i, line);
        }
        self.scale_up(document);
        for (i, strip) in document.strip.iter().enumerate() {
            let at = |key| vec![Key("strip"), Index(i), Key(key)];
            self.range(at("exposure"), strip.exposure, 1e-6, 1e9, "mJ/cm2 (or seconds) of exposure");
            self.range(at("depth_um"), strip.depth_um, 0.1, 1e5, "um of cured depth");
            if let Some(sigma) = strip.sigma_um {
                self.range(at("sigma_um"), sigma, 0.01, 1e4, "um of standard uncertainty");
            }
        }
        if let Some(lamp) = &document.lamp {
            if let Some(nm) = lamp.nm {
                self.range(vec![Key("lamp"), Key("nm")], nm, 350.0, 470.0, "nm of a curing lamp");
            }
            if let Some(mm) = lamp.layer_mm {
                self.range(vec![Key("lamp"), Key("layer_mm")], mm, 0.005, 1.0, "mm of layer");
            }
        }
    }

    fn tools(&mut self, document: &Document) {
        let Some(tools) = &document.tools else { return };
        for (key, value, low, high, what) in [
            ("balance_g", tools.balance_g, 1e-6, 100.0, "g of step"),
            ("balance_sigma_g", tools.balance_sigma_g, 1e-7, 100.0, "g of repeatability"),
            ("dose_error", tools.dose_error, 1e-4, 0.5, "of relative doubt (2 % is 0.02)"),
        ] {
            if let Some(value) = value {
                self.range(vec![Key("tools"), Key(key)], value, low, high, what);
            }
        }
        if let Some(pipette) = &tools.pipette {
            for (key, value, low) in [
                ("nominal_ul", pipette.nominal_ul, 0.1),
                ("least_ul", pipette.least_ul, 0.01),
                ("bias_ul", pipette.bias_ul, 0.0),
                ("random_ul", pipette.random_ul, 0.0),
            ] {
                self.range(vec![Key("tools"), Key("pipette"), Key(key)], value, low, 1e5, "uL");
            }
        }
    }

    fn book_line(&mut self, document: &Document, i: usize, line: &BookLine) {
        let at = |key| vec![Key("book"), Index(i), Key(key)];
        let adds = !line.add.is_empty() || !line.drops.is_empty();
        let ways = usize::from(adds) + usize::from(line.pour_into.is_some()) + usize::from(line.take.is_some());
        if ways != 1 {
            self.say(
                vec![Key("book"), Index(i)],
                format!("{ways} things were done in this line; one of adding, pouring, taking was expected"),
                "give `add` and `drops`, or `pour_into` with `ml`, or `take` with `ml`; one line each",
            );
        }
        if !adds && line.ml.is_none() {
            self.say(vec![Key("book"), Index(i)], "how much was poured or taken is missing", "add `ml`");
        }
        if adds && line.ml.is_some() {
            self.say(at("ml"), "`ml` says how much is poured or taken; what is added says so itself", "write `add = { resin = 100.0 }`");
        }
        if let Some(ml) = line.ml {
            self.range(at("ml"), ml, 0.0, 1e6, "mL");
        }
        self.dosed(document, &["book"], Some(i), &line.add, &line.drops);
    }

    fn scale_up(&mut self, document: &Document) {
        let Some(scale) = &document.scale_up else { return };
        let at = |key| vec![Key("scale_up"), Key(key)];
        self.range(at("resin_ml"), scale.resin_ml, 0.01, 1e6, "mL of bare resin");
        if let Some(from) = scale.from.as_ref().filter(|from| !document.sample.iter().any(|sample| &sample.name == *from)) {
            self.say(
                at("from"),
                format!("no [[sample]] is named `{from}`{}", listed(document.sample.iter().map(|sample| &sample.name))),
                "name the chip that was scaled up, or leave `from` out for the best recipe",
            );
        }
        self.dosed(document, &["scale_up"], None, &scale.ml, &scale.drops);
        for (name, percent) in &scale.stock_percent {
            self.range(vec![Key("scale_up"), Key("stock_percent"), Name(name.clone())], *percent, 1e-4, 99.99, "percent of strength");
        }
        for (name, drops) in &scale.other_drop_ul {
            for ul in drops {
                self.range(vec![Key("scale_up"), Key("other_drop_ul"), Name(name.clone())], *ul, 0.01, 5000.0, "uL of a drop");
            }
        }
    }

    /// Amounts by name: each a colourant (or the resin, in a book), not below 0.
    fn dosed(
        &mut self,
        document: &Document,
        table: &[&'static str; 1],
        index: Option<usize>,
        ml: &std::collections::BTreeMap<String, f64>,
        drops: &std::collections::BTreeMap<String, u32>,
    ) {
        let is_book = index.is_some();
        let path = |key: &'static str, name: &str| {
            let head = [Some(Key(table[0])), index.map(Index), Some(Key(key)), Some(Name(name.into()))];
            head.into_iter().flatten().collect::<Vec<_>>()
        };
        let known = |name: &str, may_be_resin: bool| (may_be_resin && name == RESIN) || document.colourant.iter().any(|c| c.name == name);
        for (name, amount) in ml {
            let key = if is_book { "add" } else { "ml" };
            self.range(path(key, name), *amount, 0.0, 1e6, "mL");
            if !known(name, is_book) {
                self.unknown(path(key, name), name, document);
            }
        }
        for (name, n) in drops {
            self.range(path("drops", name), f64::from(*n), 0.0, 1e6, "drops");
            if !known(name, false) {
                self.unknown(path("drops", name), name, document);
            }
        }
    }

    fn unknown(&mut self, path: Vec<crate::read::Step>, name: &str, document: &Document) {
        self.say(
            path,
            format!("no [[colourant]] is named `{name}`{}", listed(document.colourant.iter().map(|c| &c.name))),
            "name one of them, or add it",
        );
    }
}

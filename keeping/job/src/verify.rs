//! What types can't say about a document: names that differ, references that lead somewhere, signs and ranges.

mod body;
mod book;
mod flat;
mod made;
mod pot;

use crate::document::{Document, KnownOf, Pixel};
use crate::read::{Finding, Step};
use crate::size::Size;
use Step::{Index, Key};
use std::collections::BTreeMap;

/// Lists at most this many things long are read; more is a broken or hostile file, not a job.
const MOST_ITEMS: usize = 10_000;
/// No part for a bench is larger, and no size smaller than a micrometre is meant.
const LARGEST_MM: f64 = 10_000.0;

pub(crate) fn verify(document: &Document) -> Vec<Finding> {
    let mut check = Check::default();
    check.known(document);
    check.photos(document);
    check.sizes(document);
    check.original(document);
    check.body(document);
    check.flat(document);
    check.colour(document);
    check.book(document);
    check.run(document);
    check.made(document);
    check.findings
}

#[derive(Default)]
struct Check {
    findings: Vec<Finding>,
}

impl Check {
    fn say(&mut self, path: Vec<Step>, text: impl Into<String>, way_out: impl Into<String>) {
        self.findings.push(Finding { path, text: text.into(), way_out: way_out.into() });
    }

    fn known(&mut self, document: &Document) {
        self.names(&document.known, "known", |known| &known.name);
        for (i, known) in document.known.iter().enumerate() {
            let at = |key| vec![Key("known"), Index(i), Key(key)];
            self.positive_size(at("value"), &known.value);
            if let Some(sigma) = &known.sigma {
                self.not_negative_size(at("sigma"), sigma);
            }
            if known.of == Some(KnownOf::Diameter) && known.at.is_none() {
                self.say(
                    at("of"),
                    "a diameter needs the place where it was taken",
                    "add `at = \"4 mm\"`: its distance from the end where the rod enters",
                );
            }
        }
    }

    fn photos(&mut self, document: &Document) {
        self.names(&document.photo, "photo", |photo| &photo.name);
        for (i, photo) in document.photo.iter().enumerate() {
            let at = |key| vec![Key("photo"), Index(i), Key(key)];
            self.file(at("file"), &photo.file);
            if let Some(shaft) = &photo.shaft {
                match document.known.iter().find(|known| &known.name == shaft) {
                    None => self.say(
                        at("shaft"),
                        format!("no [[known]] size is named `{shaft}`{}", listed(document.known.iter().map(|k| &k.name))),
                        "name one of the known sizes, or add it",
                    ),
                    Some(known) if !matches!(known.of, None | Some(KnownOf::Rod)) => {
                        self.say(at("shaft"), format!("`{shaft}` is a size of the part, not of a rod"), "name the rod's known diameter")
                    }
                    Some(_) => {}
                }
            }
            if let Some(axis) = &photo.axis {
                self.pixels(at("axis"), axis, 2);
                if (axis[0][0] - axis[1][0]).hypot(axis[0][1] - axis[1][1]) < 2.0 {
                    self.say(
                        at("axis"),
                        "the two clicks are at the same place",
                        "give where the rod enters the part, then the part's free end",
                    );
                }
            }
            if let Some(outline) = &photo.outline {
                self.pixels(at("outline"), outline, 8);
            }
            if let Some(region) = &photo.colour_region {
                self.pixels(at("colour_region"), region, 3);
            }
            if let Some(focal) = photo.focal_35mm {
                self.range(at("focal_35mm"), focal, 5.0, 2000.0, "mm of 35 mm equivalent focal length");
            }
            if let Some(neutral) = &photo.neutral {
                self.pixels(vec![Key("photo"), Index(i), Key("neutral"), Key("polygon")], &neutral.polygon, 3);
                self.range(
                    vec![Key("photo"), Index(i), Key("neutral"), Key("reflectance")],
                    neutral.reflectance,
                    0.01,
                    1.0,
                    "reflectance (18 % is 0.18)",
                );
            }
            for (j, patch) in photo.patch.iter().enumerate() {
                let at = |key| vec![Key("photo"), Index(i), Key("patch"), Index(j), Key(key)];
                self.pixels(at("polygon"), &patch.polygon, 3);
                self.lab(at("lab"), &patch.lab);
            }
        }
    }

    fn sizes(&mut self, document: &Document) {
        self.names(&document.size, "size", |size| &size.name);
        for (i, size) in document.size.iter().enumerate() {
            let at = |key| vec![Key("size"), Index(i), Key(key)];
            for (key, value) in [("choose", &size.choose), ("reading", &size.reading)] {
                if let Some(value) = value {
                    self.positive_size(at(key), value);
                }
            }
            if let Some(sigma) = &size.sigma {
                self.positive_size(at("sigma"), sigma);
            }
            if size.choose.is_none() && size.refuse.is_empty() && size.reading.is_none() {
                self.say(vec![Key("size"), Index(i)], "this entry decides nothing", "give `choose`, `refuse` or `reading`, or remove it");
            }
        }
    }

    fn original(&mut self, document: &Document) {
        let Some(original) = &document.original else { return };
        if let Some([low, high]) = original.shrinkage_percent {
            self.range(vec![Key("original"), Key("shrinkage_percent"), Index(0)], low, 0.0, 19.0, "percent of shrinkage");
            self.range(
                vec![Key("original"), Key("shrinkage_percent"), Index(1)],
                high,
                low.max(0.0),
                19.0,
                "percent of shrinkage, the greater second,",
            );
        }
        if let Some(draft) = original.draft_deg {
            self.range(vec![Key("original"), Key("draft_deg")], draft, 0.0, 19.0, "degrees of draft per side");
        }
    }

    fn run(&mut self, document: &Document) {
        let Some(run) = &document.run else { return };
        let at = |key| vec![Key("run"), Key(key)];
        self.range(at("wanted"), f64::from(run.wanted), 1.0, 100_000.0, "parts");
        if let Some(plate) = &run.plate {
            for (key, value) in [("width_mm", plate.width_mm), ("depth_mm", plate.depth_mm)] {
                self.range(vec![Key("run"), Key("plate"), Key(key)], value, 1.0, 5000.0, "mm of plate");
            }
            self.range(vec![Key("run"), Key("plate"), Key("gap_mm")], plate.gap_mm, 0.0, 500.0, "mm of gap");
        }
        match (run.made, run.good) {
            (Some(made), Some(good)) if good > made => {
                self.say(at("good"), format!("{good} good of {made} made can't be"), "good parts are counted among those made")
            }
            (Some(_), None) => self.say(at("made"), "how many of them were good is missing", "add `good`"),
            (None, Some(_)) => self.say(at("good"), "how many were made is missing", "add `made`"),
            _ => {}
        }
        if let Some(certainty) = run.certainty {
            self.range(at("certainty"), certainty, 0.5, 0.999_9, "certainty");
        }
        for (key, value, high, what) in [
            ("supports", run.supports, 10.0, "of the parts' volume (30 % is 0.3)"),
            ("loss", run.loss, 10.0, "share lost (10 % is 0.1)"),
            ("vat_least_ml", run.vat_least_ml, 100_000.0, "mL"),
            ("load_loss", run.load_loss, 0.99, "chance of losing a load (5 % is 0.05)"),
        ] {
            if let Some(value) = value {
                self.range(at(key), value, 0.0, high, what);
            }
        }
        if let Some(time) = &run.load_time {
            for (key, value, low, high, what) in [
                ("layer_mm", time.layer_mm, 0.001, 10.0, "mm of layer"),
                ("layer_s", time.layer_s, 0.0, 1e5, "seconds a layer"),
                ("handling_min", time.handling_min, 0.0, 1e5, "minutes of handling"),
            ] {
                self.range(vec![Key("run"), Key("load_time"), Key(key)], value, low, high, what);
            }
        }
        if let Some(prices) = &run.prices {
            for (key, value) in [
                ("resin_per_ml", prices.resin_per_ml),
                ("bench_per_hour", prices.bench_per_hour),
                ("per_load", prices.per_load),
                ("per_start", prices.per_start),
            ] {
                self.range(vec![Key("run"), Key("prices"), Key(key)], value, 0.0, 1e9, "of one currency");
            }
        }
    }

    fn names<T>(&mut self, items: &[T], table: &'static str, name: impl Fn(&T) -> &String) {
        self.names_by(items, table, "name", name);
    }

    fn names_by<T>(&mut self, items: &[T], table: &'static str, key: &'static str, name: impl Fn(&T) -> &String) {
        if items.len() > MOST_ITEMS {
            self.say(
                vec![Key(table), Index(MOST_ITEMS)],
                format!("{} entries; at most {MOST_ITEMS} are read", items.len()),
                "split the job",
            );
        }
        let mut first: BTreeMap<&str, usize> = BTreeMap::new();
        for (i, item) in items.iter().enumerate() {
            let name = name(item);
            if name.trim().is_empty() || name.chars().count() > 200 || name.chars().any(char::is_control) {
                self.say(
                    vec![Key(table), Index(i), Key(key)],
                    format!("a {key} of 1 to 200 printable characters was expected"),
                    "give it one",
                );
            }
            if let Some(before) = first.insert(name, i) {
                self.say(
                    vec![Key(table), Index(i), Key(key)],
                    format!("the {key} `{name}` is taken by [[{table}]] number {}", before + 1),
                    "give each its own name",
                );
            }
        }
    }

    /// A path inside the job folder: a document from elsewhere must not make us read the person's other files.
    fn file(&mut self, path: Vec<Step>, file: &str) {
        let inside = std::path::Path::new(file)
            .components()
            .all(|part| matches!(part, std::path::Component::Normal(_) | std::path::Component::CurDir));
        if file.trim().is_empty() || !inside || file.contains('\\') || file.contains('\0') {
            self.say(
                path,
                format!("`{file}` is no path inside the job folder"),
                "copy the file into the folder, e.g. to photos/, and name it from there with / between folders",
            );
        }
    }

    fn pixels(&mut self, path: Vec<Step>, points: &[Pixel], least: usize) {
        if points.len() < least || points.len() > MOST_ITEMS {
            self.say(
                path.clone(),
                format!("{} points were given; {least} to {MOST_ITEMS} were expected", points.len()),
                "each point is [x, y] in pixels",
            );
        }
        if let Some(i) = points.iter().position(|p| !p.iter().all(|v| v.is_finite() && v.abs() < 1e6)) {
            let path = path.into_iter().chain([Index(i)]).collect();
            self.say(path, format!("[{}, {}] is no place in a picture", points[i][0], points[i][1]), "give finite pixel coordinates");
        }
    }

    fn lab(&mut self, path: Vec<Step>, lab: &[f64; 3]) {
        let sane = lab.iter().all(|v| v.is_finite()) && (-1.0..=110.0).contains(&lab[0]) && lab[1].abs() <= 200.0 && lab[2].abs() <= 200.0;
        if !sane {
            self.say(
                path,
                format!("[{}, {}, {}] is no colour; L* of 0 to 100, a* and b* within 200 were expected", lab[0], lab[1], lab[2]),
                "give CIELAB for D65 and the 2 degree observer",
            );
        }
    }

    fn sigma(&mut self, path: Vec<Step>, sigma: Option<f64>) {
        if let Some(sigma) = sigma {
            self.range(path, sigma, 0.001, 50.0, "Lab units of standard uncertainty");
        }
    }

    fn range(&mut self, path: Vec<Step>, value: f64, low: f64, high: f64, what: &str) {
        // A NaN is in no range.
        if !(low..=high).contains(&value) {
            self.say(path, format!("{value} was given; {low} to {high} {what} was expected"), "correct the number");
        }
    }

    fn positive_size(&mut self, path: Vec<Step>, size: &Size) {
        if !(size.mm > 0.0 && size.mm <= LARGEST_MM) {
            self.say(
                path,
                format!("`{}` is {} mm; a size above 0 and up to {LARGEST_MM} mm was expected", size.written, size.mm),
                "give the size as measured, e.g. \"6 mm\" or \"1/4 in\"",
            );
        }
    }

    fn not_negative_size(&mut self, path: Vec<Step>, size: &Size) {
        if !(0.0..=LARGEST_MM).contains(&size.mm) {
            self.say(
                path,
                format!("`{}` is {} mm; 0 to {LARGEST_MM} mm was expected", size.written, size.mm),
                "give a standard uncertainty, e.g. \"0.02 mm\"",
            );
        }
    }
}

fn listed<'a>(names: impl Iterator<Item = &'a String>) -> String {
    let names: Vec<&str> = names.map(String::as_str).take(12).collect();
    if names.is_empty() { String::new() } else { format!("; there are: {}", names.join(", ")) }
}

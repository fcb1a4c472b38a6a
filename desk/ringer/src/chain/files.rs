//! The files under `out/`: the sheet on screen and paper, the result, and the body in every format. Nothing is written or set before it is asked for:
//! [`Sources`] keeps what the files are made from.

use super::body::chord_mm;
use super::drawing::{drawing, drawn_sizes, mould_marks, plate_drawing};
use super::evidence::Evidence;
use super::extra_files::{self, Part};
use super::memory::Memory;
use super::shape::Shape;
use super::thumbnails::thumbnails;
use super::{Failure, Says};
use export::{Material, Placed, Schema, StepHeader};
use ink::Figure;
use ink::pdf::Paper;
use job::document::{Document, Route};
use result::JobResult;
use sheet::{Fragments, JobSheet, SheetPhoto};
use solid::{Body, DEFAULT_TRIANGLE_LIMIT, Mesh, Plate, ViewMesh};
use std::sync::Arc;

/// Every file that make may write, in the order they are told; those that it did not write this time are removed.
pub(super) const KINDS: [Kind; 25] = [
    Kind { name: "sheet.html", for_people: false, ..Kind::part("") },
    Kind::paper("sheet.pdf", Paper::A4),
    Kind::paper("sheet-letter.pdf", Paper::Letter),
    Kind::paper("steps.pdf", Paper::A4),
    Kind::paper("steps-letter.pdf", Paper::Letter),
    Kind::paper("gauge.pdf", Paper::A4),
    Kind::paper("gauge-letter.pdf", Paper::Letter),
    Kind::paper("label.pdf", Paper::A4),
    Kind::paper("label-letter.pdf", Paper::Letter),
    Kind::paper("record.pdf", Paper::A4),
    Kind::paper("record-letter.pdf", Paper::Letter),
    Kind::part("part.step"),
    Kind::part("section.svg"),
    Kind::part("part.stl"),
    Kind::part("part.3mf"),
    Kind::part("section.dxf"),
    Kind::part("part.glb"),
    Kind::part("plate.3mf"),
    Kind::part("master.3mf"),
    Kind::part("master.stl"),
    Kind::part("fit-test.3mf"),
    Kind::part("fit-test.txt"),
    Kind { name: "learnt.toml", ..Kind::part("") },
    Kind { name: "shelf.toml", ..Kind::part("") },
    Kind { name: "result.json", for_people: false, ..Kind::part("") },
];

/// A kind of file.
pub(super) struct Kind {
    /// Its name under `out/`.
    pub name: &'static str,
    /// Whether the live sheet offers it; it is the sheet itself otherwise, or for programs.
    pub for_people: bool,
    /// The paper it is printed on, if it is printed.
    paper: Option<Paper>,
}

impl Kind {
    const fn paper(name: &'static str, paper: Paper) -> Self {
        Kind { name, for_people: true, paper: Some(paper) }
    }

    const fn part(name: &'static str) -> Self {
        Kind { name, for_people: true, paper: None }
    }
}

/// Chord of the mesh that is only looked at, mm: a tenth of a pixel on a sharp screen.
const VIEW_CHORD_MM: f64 = 0.02;
/// Room for the section on the job sheet, mm: the text's width on A4.
const SECTION_ROOM_MM: [f64; 2] = [150.0, 120.0];
/// Nothing is known of the colour: files that must name one take a mid grey.
const NO_COLOUR: [u8; 3] = [128, 128, 128];
/// The day that a STEP file must name when the document names none: any steady one, so that the same folder gives the same bytes.
const NO_DATE: &str = "2026-01-01";

/// What the files are made from, beside the result.
pub(super) struct Sources {
    document: Document,
    photos: Vec<SheetPhoto>,
    section: Option<Arc<Figure>>,
    materials: Vec<sheet::Material>,
    body: Option<Body>,
    plate: Option<Plate>,
    chord_mm: f64,
    meshes: Option<Arc<Meshes>>,
}

/// Meshes of a body, or why there are none.
pub struct Meshes {
    /// To be made from.
    made: Result<Mesh, String>,
    /// To be looked at.
    seen: Result<ViewMesh, String>,
}

/// The sheet in pieces, and what its files are made from. The result learns which files of the body there are.
pub(super) fn gather(
    evidence: Evidence,
    shape: Option<Shape>,
    plate: Option<Plate>,
    sheet: &mut JobResult,
    memory: &mut Memory,
) -> (Sources, Arc<Fragments>) {
    let photos = thumbnails(&evidence, sheet, memory);
    let materials = materials(&evidence);
    let chord_mm = chord_mm(&evidence);
    let body = shape.and_then(|shape| shape.body);
    let meshes = match (&body, &plate) {
        (Some(body), _) => Some(memory.meshes.get(format!("{body:?} {chord_mm}"), || meshes(body, chord_mm))),
        (None, Some(plate)) => Some(memory.meshes.get(format!("{plate:?} {chord_mm}"), || plate_meshes(plate, chord_mm))),
        (None, None) => None,
    };
    if let Some(meshes) = &meshes {
        refusals(meshes, sheet);
    }
    let section = body.as_ref().map(|body| {
        let sizes = drawn_sizes(sheet);
        let marks = mould_marks(&evidence.document);
        memory.sections.get(format!("{body:?} {sizes:?} {marks:?}"), || export::section(body, &sizes, SECTION_ROOM_MM, marks))
    });
    let outline = || plate.as_ref().map(|plate| Arc::new(export::outline_plate(plate, SECTION_ROOM_MM)));
    let section = section.or_else(outline);
    let sources = Sources { document: evidence.document, photos, section, materials, body, plate, chord_mm, meshes };
    let names = KINDS
        .iter()
        .filter(|kind| sources.is_of_body(kind.name) || extra_files::has(kind.name, &sources.document, sheet))
        .map(|kind| format!("out/{}", kind.name))
        .collect();
    if let Some(told) = &mut sheet.body {
        told.files = names;
    }
    let fragments = Arc::new(sheet::fragments(&sources.job(sheet), memory.drawn.as_deref()));
    memory.drawn = Some(fragments.clone());
    (sources, fragments)
}

fn meshes(body: &Body, chord_mm: f64) -> Meshes {
    Meshes {
        made: body.mesh(chord_mm, DEFAULT_TRIANGLE_LIMIT).map_err(|e| e.to_string()),
        seen: body.view_mesh(VIEW_CHORD_MM, DEFAULT_TRIANGLE_LIMIT).map_err(|e| e.to_string()),
    }
}

fn plate_meshes(plate: &Plate, chord_mm: f64) -> Meshes {
    Meshes { made: plate.mesh(chord_mm).map_err(|e| e.to_string()), seen: plate.view_mesh(VIEW_CHORD_MM).map_err(|e| e.to_string()) }
}

fn refusals(meshes: &Meshes, sheet: &mut JobResult) {
    for why in [meshes.made.as_ref().err(), meshes.seen.as_ref().err()].into_iter().flatten() {
        sheet.warn("body", None, format!("A file could not be made: {why}"), "Give a coarser `chord` in [body].");
    }
}

impl Sources {
    /// Whether a file of that name can be made.
    pub fn has(&self, name: &str, result: &JobResult) -> bool {
        match name {
            "sheet.html" | "sheet.pdf" | "sheet-letter.pdf" | "record.pdf" | "record-letter.pdf" | "result.json" => true,
            "steps.pdf" | "steps-letter.pdf" => !sheet::steps(&self.job(result)).is_empty(),
            "gauge.pdf" | "gauge-letter.pdf" => sheet::gauge(&self.job(result)).is_some(),
            "label.pdf" | "label-letter.pdf" => sheet::has_label(&self.job(result)),
            "learnt.toml" => learnt_lines(result).is_some(),
            "shelf.toml" => shelf_lines(result).is_some(),
            name => self.is_of_body(name) || extra_files::has(name, &self.document, result),
        }
    }

    /// The bytes of a file; `None` if there is none of that name.
    ///
    /// # Errors
    /// Its writer failed; an error of ours.
    pub fn file(&self, name: &str, result: &JobResult) -> Result<Option<Vec<u8>>, Failure> {
        let ours = |why: String| Failure::Ours(format!("error: {name}: {why}"));
        let Some(kind) = KINDS.iter().find(|kind| kind.name == name) else { return Ok(None) };
        let job = self.job(result);
        if let Some(paper) = kind.paper {
            let what = name.trim_end_matches(".pdf").trim_end_matches("-letter");
            return printed(&job, what, paper).map_err(|e| ours(e.to_string()));
        }
        match name {
            "sheet.html" => Ok(Some(sheet::html(&job).into_bytes())),
            "result.json" => steady_json(result).map(Some),
            "learnt.toml" => Ok(learnt_lines(result).map(String::into_bytes)),
            "shelf.toml" => Ok(shelf_lines(result).map(|lines| lines.as_bytes().to_vec())),
            _ => self.of_body(name, result).transpose().map_err(ours),
        }
    }

    fn job<'a>(&'a self, result: &'a JobResult) -> JobSheet<'a> {
        JobSheet {
            document: &self.document,
            result,
            photos: &self.photos,
            section: self.section.as_deref(),
            materials: &self.materials,
            sample: false,
        }
    }

    fn is_of_body(&self, name: &str) -> bool {
        let Some(meshes) = &self.meshes else { return false };
        match name {
            "part.step" | "section.svg" | "section.dxf" => true,
            "part.stl" | "part.3mf" => meshes.made.is_ok(),
            "part.glb" => meshes.seen.is_ok(),
            _ => false,
        }
    }

    fn of_body(&self, name: &str, result: &JobResult) -> Option<Result<Vec<u8>, String>> {
        let (meshes, title) = (self.meshes.as_ref()?, &self.document.title);
        let known_srgb = result.colour.as_ref().map(|colour| cie::screen(colour.lab).rgb);
        let srgb = known_srgb.unwrap_or(NO_COLOUR);
        let resin = self.document.resin.as_ref();
        let material = Material { name: resin.map_or("resin".into(), |resin| resin.name.clone()), srgb };
        let (made, seen) = (meshes.made.as_ref().ok(), meshes.seen.as_ref().ok());
        match name {
            "part.step" => self.step(known_srgb).map(Ok),
            "section.svg" => match (&self.body, &self.plate) {
                (Some(body), _) => Some(Ok(drawing(&self.document, body, result).to_svg().into_bytes())),
                (None, plate) => Some(Ok(plate_drawing(&self.document, plate.as_ref()?).to_svg().into_bytes())),
            },
            "section.dxf" => self.body.as_ref().map(export::dxf).or_else(|| self.plate.as_ref().map(export::dxf_plate)).map(Ok),
            "part.stl" => Some(export::stl(made?, title).map_err(|e| e.to_string())),
            "part.3mf" => Some(export::threemf(made?, title, &material, &[Placed::default()]).map_err(|e| e.to_string())),
            "part.glb" => Some(export::gltf(seen?, title, srgb).map_err(|e| e.to_string())),
            _ => {
                let turned = self.body.as_ref().map(|body| Part::Turned(body, self.chord_mm));
                let part = turned.or_else(|| self.plate.as_ref().map(|plate| Part::Flat(plate, self.chord_mm)))?;
                extra_files::bytes(name, &self.document, result, part, &material)
            }
        }
    }

    fn step(&self, srgb: Option<[u8; 3]>) -> Option<Vec<u8>> {
        let document = &self.document;
        let date = document.date.as_deref().filter(|date| is_iso_date(date)).unwrap_or(NO_DATE);
        let header = StepHeader {
            product: &document.title,
            author: document.maker.as_deref().unwrap_or(""),
            timestamp: &format!("{date}T00:00:00"),
            srgb,
            schema: Schema::default(),
        };
        let turned = self.body.as_ref().map(|body| export::step(body, &header));
        turned.or_else(|| self.plate.as_ref().map(|plate| export::step_plate(plate, &header)))
    }
}

/// A calendar date as ISO 8601 writes it, "2026-11-25".
fn is_iso_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let number = |part: &str, digits: usize| {
        (part.len() == digits && part.bytes().all(|c| c.is_ascii_digit())).then(|| part.parse::<u32>().ok()).flatten()
    };
    let [year, month, day] = parts[..] else { return false };
    let (Some(year), Some(month), Some(day)) = (number(year, 4), number(month, 2), number(day, 2)) else { return false };
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        2 => 28 + u32::from(leap),
        4 | 6 | 9 | 11 => 30,
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        _ => 0,
    };
    (1..=days).contains(&day)
}

/// A paper; `None` where the job has nothing for it yet.
fn printed(job: &JobSheet, what: &str, paper: Paper) -> Result<Option<Vec<u8>>, sheet::SheetError> {
    match what {
        "steps" => sheet::steps_pdf(job, paper),
        "gauge" => sheet::gauge_pdf(job, paper),
        "label" => sheet::label_pdf(job, paper),
        "record" => sheet::record_pdf(job, paper).map(Some),
        _ => sheet::pdf(job, paper).map(Some),
    }
}

/// This job's chips, for a person to copy into the next job's shelf.toml.
fn shelf_lines(sheet: &JobResult) -> Option<&String> {
    sheet.pot.as_ref().map(|pot| &pot.shelf_lines).filter(|lines| !lines.is_empty())
}

/// What the batch teaches, for a person to copy.
fn learnt_lines(sheet: &JobResult) -> Option<String> {
    let check = sheet.check.as_ref().filter(|check| !check.bench_lines.is_empty() || !check.sample_lines.is_empty())?;
    let mut text = format!("# What this batch teaches. Copy these lines into bench.toml:\n\n{}", check.bench_lines);
    if !check.sample_lines.is_empty() {
        text += &format!(
            "\n# And these into job.toml, so that the pot learns its colourants' strength from the batch:\n\n{}",
            check.sample_lines
        );
    }
    Some(text)
}

/// The result without what a clock said: the same folder gives the same bytes.
fn steady_json(sheet: &JobResult) -> Result<Vec<u8>, Failure> {
    let mut steady = sheet.clone();
    for photo in &mut steady.photos {
        photo.seconds = None;
    }
    let mut bytes =
        serde_json::to_vec_pretty(&steady).map_err(|e| Failure::Ours(format!("error: the result could not be written as JSON: {e}")))?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// What is handled on the way, for the cautions: a tinted resin that is printed is light-curing, unless nothing is tinted or made.
fn materials(evidence: &Evidence) -> Vec<sheet::Material> {
    let document = &evidence.document;
    let route = document.body.as_ref().and_then(|body| body.route);
    if route.is_none() && document.resin.is_none() && document.run.is_none() && document.colourant.is_empty() {
        return Vec::new();
    }
    match route.unwrap_or_default() {
        Route::Print => sheet::Material::PRINTED.to_vec(),
        // The master is printed before anything is cast from it.
        Route::Cast => sheet::Material::CAST.iter().chain(sheet::Material::PRINTED).copied().collect(),
        Route::Turn => vec![sheet::Material::Dust],
    }
}

#[cfg(test)]
mod tests {
    use super::is_iso_date;

    #[test]
    fn only_days_of_the_calendar_are_dates() {
        for (text, is) in [
            ("2026-11-25", true),
            ("2024-02-29", true),
            ("2026-02-29", false),
            ("1900-02-29", false),
            ("2026-13-01", false),
            ("2026-04-31", false),
            ("2026-1-5", false),
            ("25 November 2026", false),
            ("2026-11-25T00:00:00", false),
            ("+026-11-25", false),
            ("", false),
        ] {
            assert_eq!(is_iso_date(text), is, "{text}");
        }
    }
}

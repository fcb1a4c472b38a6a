//! The files under `out/`: the sheet on screen and paper, the result, and the body in every format.

use super::body::chord_mm;
use super::evidence::Evidence;
use super::shape::{Shape, size_label};
use super::{Failure, Says};
use export::{DrawnSize, Material, Placed, Schema, SizeKind, StepHeader, TitleBlock};
use ink::Figure;
use ink::pdf::Paper;
use photo::Crop;
use result::{Dimension, JobResult};
use sheet::{Fragments, JobSheet, SheetPhoto};
use solid::{Body, DEFAULT_TRIANGLE_LIMIT};

/// Every name that make may write; those that it did not write this time are removed.
pub(super) const NAMES: [&str; 19] = [
    "steps.pdf",
    "steps-letter.pdf",
    "gauge.pdf",
    "gauge-letter.pdf",
    "label.pdf",
    "label-letter.pdf",
    "record.pdf",
    "record-letter.pdf",
    "learnt.toml",
    "result.json",
    "sheet.html",
    "sheet.pdf",
    "sheet-letter.pdf",
    "part.step",
    "part.stl",
    "part.3mf",
    "part.glb",
    "section.svg",
    "section.dxf",
];

/// Chord of the mesh that is only looked at, mm: a tenth of a pixel on a sharp screen.
const VIEW_CHORD_MM: f64 = 0.02;

/// Room for the section on the job sheet, mm: the text's width on A4.
const SECTION_ROOM_MM: [f64; 2] = [150.0, 120.0];

/// Nothing is known of the colour: files that must name one take a mid grey.
const NO_COLOUR: [u8; 3] = [128, 128, 128];

/// Files to be written: name under `out/`, bytes.
pub(super) type Files = Vec<(String, Vec<u8>)>;

pub(super) fn build(evidence: &Evidence, shape: Option<&Shape>, sheet: &mut JobResult) -> Result<(Files, Fragments), Failure> {
    let mut files: Vec<(String, Vec<u8>)> = Vec::new();
    let body = shape.and_then(|shape| shape.body.as_ref());
    let section = body.map(|body| export::section(body, &drawn_sizes(sheet), SECTION_ROOM_MM));
    if let Some(body) = body {
        let drawing = drawing(evidence, body, sheet);
        files.extend(body_files(evidence, body, &drawing, sheet));
        let names = files.iter().map(|(name, _)| format!("out/{name}")).collect();
        if let Some(told) = &mut sheet.body {
            told.files = names;
        }
    }
    let photos = thumbnails(evidence, sheet);
    let materials = materials(evidence);
    let job = JobSheet {
        document: &evidence.document,
        result: sheet,
        photos: &photos,
        section: section.as_ref(),
        materials: &materials,
        sample: false,
    };
    files.push(("sheet.html".into(), sheet::html(&job).into_bytes()));
    for (name, paper) in [("sheet.pdf", Paper::A4), ("sheet-letter.pdf", Paper::Letter)] {
        files.push((name.into(), sheet::pdf(&job, paper).map_err(|e| Failure::Ours(format!("error: {e}")))?));
    }
    files.extend(papers(&job).map_err(|e| Failure::Ours(format!("error: {e}")))?);
    if let Some(learnt) = learnt_lines(job.result) {
        files.push(("learnt.toml".into(), learnt.into_bytes()));
    }
    let fragments = sheet::fragments(&job);
    files.push(("result.json".into(), steady_json(sheet)?));
    Ok((files, fragments))
}

/// What goes with the sheet: bench steps, gauge, labels, record, each on both papers.
fn papers(job: &JobSheet) -> Result<Vec<(String, Vec<u8>)>, sheet::SheetError> {
    let mut files = Vec::new();
    for (ending, paper) in [(".pdf", Paper::A4), ("-letter.pdf", Paper::Letter)] {
        let made = [
            ("steps", sheet::steps_pdf(job, paper)?),
            ("gauge", sheet::gauge_pdf(job, paper)?),
            ("label", sheet::label_pdf(job, paper)?),
            ("record", Some(sheet::record_pdf(job, paper)?)),
        ];
        files.extend(made.into_iter().filter_map(|(name, bytes)| Some((format!("{name}{ending}"), bytes?))));
    }
    Ok(files)
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

fn body_files(evidence: &Evidence, body: &Body, drawing: &Figure, sheet: &mut JobResult) -> Vec<(String, Vec<u8>)> {
    let document = &evidence.document;
    let known_srgb = sheet.colour.as_ref().map(|colour| cie::screen(colour.lab).rgb);
    let header = StepHeader {
        product: &document.title,
        author: document.maker.as_deref().unwrap_or(""),
        timestamp: "2026-01-01T00:00:00",
        srgb: known_srgb,
        schema: Schema::default(),
    };
    let mut files =
        vec![("part.step".to_string(), export::step(body, &header)), ("section.svg".to_string(), drawing.to_svg().into_bytes())];
    let material = Material {
        name: document.resin.as_ref().map_or("resin".into(), |resin| resin.name.clone()),
        srgb: known_srgb.unwrap_or(NO_COLOUR),
    };
    let mut refused = Vec::new();
    match body.mesh(chord_mm(evidence), DEFAULT_TRIANGLE_LIMIT) {
        Err(error) => refused.push(error.to_string()),
        Ok(mesh) => {
            for (name, bytes) in [
                ("part.stl", export::stl(&mesh, &document.title)),
                ("part.3mf", export::threemf(&mesh, &document.title, &material, &[Placed::default()])),
            ] {
                match bytes {
                    Ok(bytes) => files.push((name.into(), bytes)),
                    Err(error) => refused.push(error.to_string()),
                }
            }
        }
    }
    files.push(("section.dxf".into(), export::dxf(body)));
    match body
        .view_mesh(VIEW_CHORD_MM, DEFAULT_TRIANGLE_LIMIT)
        .map_err(|e| e.to_string())
        .and_then(|mesh| export::gltf(&mesh, &document.title, material.srgb).map_err(|e| e.to_string()))
    {
        Ok(bytes) => files.push(("part.glb".into(), bytes)),
        Err(error) => refused.push(error),
    }
    for why in refused {
        sheet.warn("body", None, format!("A file could not be made: {why}"), "Give a coarser `chord` in [body].");
    }
    files
}

fn drawn_sizes(sheet: &JobResult) -> Vec<DrawnSize> {
    let mut chosen: Vec<&Dimension> = Vec::new();
    for (i, size) in sheet.dimensions.iter().enumerate() {
        if i < 2 || (belongs_on_a_drawing(size) && !chosen.iter().any(|other| is_same(other, size))) {
            chosen.push(size);
        }
    }
    chosen.into_iter().map(drawn).chain(bore_sizes(sheet)).collect()
}

fn drawing(evidence: &Evidence, body: &Body, sheet: &JobResult) -> Figure {
    let sizes = drawn_sizes(sheet);
    let document = &evidence.document;
    let text = |field: &Option<String>| field.clone().unwrap_or_default();
    let title = TitleBlock {
        title: document.title.clone(),
        maker: text(&document.maker),
        date: text(&document.date),
        revision: text(&document.revision),
        page: "1 / 1".into(),
        material: document.resin.as_ref().map_or(String::new(), |resin| format!("resin, {}", resin.name)),
    };
    export::drawing(body, &sizes, &title)
}

/// A drawing says each thing once (ISO 129-1): diameters, and positions from one datum; lengths between positions follow from those, and what is
/// neither chosen nor surely seen is not a size to work to.
fn belongs_on_a_drawing(size: &Dimension) -> bool {
    match size.kind.as_str() {
        "diameter" => true,
        "position" => size.chosen.is_some(),
        _ => false,
    }
}

fn is_same(a: &Dimension, b: &Dimension) -> bool {
    a.kind == b.kind && (a.used_mm - b.used_mm).abs() < 0.02
}

fn drawn(size: &Dimension) -> DrawnSize {
    let (kind, z_mm) = match size.kind.as_str() {
        "diameter" => (SizeKind::Diameter, size.z_mm),
        // A position is a length from the rod end.
        "position" => (SizeKind::Length, [0.0, size.used_mm]),
        _ => (SizeKind::Length, size.z_mm),
    };
    DrawnSize {
        label: size_label(size),
        measured: format!("{:.2} \u{b1} {:.2}", size.value_mm, size.sigma_mm),
        kind,
        z_mm,
        value_mm: size.used_mm,
    }
}

fn bore_sizes(sheet: &JobResult) -> Vec<DrawnSize> {
    let Some(bore) = sheet.body.as_ref().and_then(|body| body.bore.as_ref()) else { return Vec::new() };
    let size = |kind, value_mm| DrawnSize { label: String::new(), measured: String::new(), kind, z_mm: [0.0, bore.depth_mm], value_mm };
    vec![size(SizeKind::Bore, bore.diameter_mm), size(SizeKind::Depth, bore.depth_mm)]
}

/// Photos as the sheet shows them: cut to the part with some ground round it, no larger than print needs.
fn thumbnails(evidence: &Evidence, sheet: &JobResult) -> Vec<SheetPhoto> {
    let longest_px = 1000;
    let one = |photo: &super::evidence::PhotoEvidence| {
        let picture = &photo.photo.picture;
        let name = evidence.entry(photo).name.clone();
        let crop = crop(sheet, &name, picture.width_px(), picture.height_px());
        let jpeg = photo::jpeg_thumbnail(picture, crop, longest_px, 85).ok()?;
        Some(SheetPhoto { name, jpeg, crop_px: [crop.left_px as f64, crop.top_px as f64, crop.width_px as f64, crop.height_px as f64] })
    };
    evidence.photos.iter().filter_map(one).collect()
}

fn crop(sheet: &JobResult, name: &str, width_px: usize, height_px: usize) -> Crop {
    let whole = Crop { left_px: 0, top_px: 0, width_px, height_px };
    let Some(photo) = sheet.photos.iter().find(|photo| photo.name == name) else { return whole };
    let edges = [&photo.outline.left, &photo.outline.right, &photo.outline.rod_left, &photo.outline.rod_right];
    let bounds = edges.into_iter().flatten().fold([f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY], |b, p| {
        [b[0].min(p[0]), b[1].min(p[1]), b[2].max(p[0]), b[3].max(p[1])]
    });
    if bounds[2] <= bounds[0] || bounds[3] <= bounds[1] {
        return whole;
    }
    let margin = 0.12 * (bounds[2] - bounds[0]).max(bounds[3] - bounds[1]);
    let left_px = (bounds[0] - margin).max(0.0) as usize;
    let top_px = (bounds[1] - margin).max(0.0) as usize;
    let right_px = ((bounds[2] + margin) as usize).clamp(left_px + 1, width_px.max(left_px + 1));
    let bottom_px = ((bounds[3] + margin) as usize).clamp(top_px + 1, height_px.max(top_px + 1));
    Crop { left_px, top_px, width_px: right_px - left_px, height_px: bottom_px - top_px }
}

/// What is handled on the way, for the cautions: a tinted resin that is printed is light-curing, unless nothing is tinted or made.
fn materials(evidence: &Evidence) -> Vec<sheet::Material> {
    let document = &evidence.document;
    if document.resin.is_none() && document.run.is_none() && document.colourant.is_empty() {
        return Vec::new();
    }
    sheet::Material::PRINTED.to_vec()
}

//! Stations outline, profile, sizes and body: photos with a rod -> the part's true profile -> round sizes -> the body to make.

use super::evidence::{Evidence, PhotoEvidence};
use super::memory::Memory;
use super::{Says, body_memo, ends, survived};
use crate::progress::Progress;
use job::document::{KnownOf, OriginalMade, SizeDecision};
use meridian::{Meridian, Piece, Turn};
use outline::{Clicks, EdgePoint, Outline};
use profile::{Camera, FocalGuess, KnownKind, KnownSize, Profile, SizeKind, View};
use quantity::{Length, Note, Noted, Source, inch_label, mm_label};
use result::{Candidate, Contours, Dimension, Doubted, JobResult, OutlineResult, PhotoResult, PieceResult, PoseResult, ProfileResult};
use solid::Body;
use std::sync::Arc;
use std::time::Instant;

/// An outline as it was found, or why it was not.
pub(super) type Found = Arc<Result<Noted<Outline>, String>>;

/// What later stations need of the shape.
pub(super) struct Shape {
    /// The body to make.
    pub body: Option<Body>,
    /// Its meridian, with the chosen sizes put back.
    pub meridian: Option<Meridian>,
    /// Found outlines by the photo's place in the document.
    pub outlines: Vec<(usize, Found)>,
    /// Poses by the photo's name.
    pub profile: Option<Arc<Result<Noted<Profile>, String>>>,
}

/// Doubt of a rod's size where none is given, as a share of it: a bar bought as h9 is within 0.6 % under its nominal (ISO 286-1), so 0.2 %
/// covers what a person who says "1/4 in" most likely knows.
pub(super) const ROD_SIGMA_SHARE: f64 = 0.0005;
/// Standard uncertainty of a caliper reading on a part, mm (common practice for a 0.01 mm caliper, no source).
const CALIPER_SIGMA_MM: f64 = 0.02;
/// Lengths below this are taken for broken edges, not for sizes that were designed (common practice, no source).
const SMALLEST_STEP_MM: f64 = 1.0;

pub(super) fn work_out(evidence: &Evidence, sheet: &mut JobResult, memory: &mut Memory, progress: &Progress) -> Option<Shape> {
    for photo in &evidence.photos {
        sheet.warn_all("evidence", Some(&evidence.entry(photo).name), &photo.photo.notes);
    }
    let with_rod: Vec<&PhotoEvidence> =
        evidence.photos.iter().filter(|photo| evidence.entry(photo).shaft.is_some() && evidence.entry(photo).made.is_none()).collect();
    if with_rod.is_empty() {
        sheet.missing("outline", "no photo shows a rod of known size");
        sheet.missing("profile", "no outline");
        return None;
    }
    let mut shape = Shape { body: None, meridian: None, outlines: Vec::new(), profile: None };
    let (mut views, mut keys) = (Vec::new(), Vec::new());
    for photo in with_rod {
        let entry = evidence.entry(photo);
        progress.step(&format!("{}: finding the outline", entry.name));
        let started = Instant::now();
        let (key, found) = outline_of(evidence, photo, memory);
        shape.outlines.push((photo.index, found.clone()));
        match found.as_ref() {
            Err(why) => {
                sheet.warn(
                    "outline",
                    Some(&entry.name),
                    format!("No outline was found: {why}"),
                    "Give two clicks on the axis, or trace the outline yourself (`outline` in job.toml).",
                );
            }
            Ok(found) => {
                sheet.warn_all("outline", Some(&entry.name), &found.notes);
                if let Some(view) = view(evidence, photo, &found.value, sheet) {
                    keys.push(key_of(&key, &view));
                    views.push(view);
                }
                sheet.photos.push(photo_result(evidence, photo, &found.value, started.elapsed().as_secs_f64()));
            }
        }
    }
    if views.is_empty() {
        sheet.missing("profile", "no photo gave an outline");
        return Some(shape);
    }
    progress.step("fitting the profile");
    let known = known_sizes(evidence);
    let fitted = memory.profiles.get(format!("{keys:?} {known:?}"), || fitted(&views, &known));
    match fitted.as_ref() {
        Err(why) => sheet.missing("profile", why),
        Ok(found) => {
            sheet.warn_all("profile", None, &found.notes);
            let mut told = found.value.clone();
            let marked = evidence.photos.iter().all(|photo| evidence.entry(photo).axis.is_some());
            ends::widen(&mut told, &views, marked, sheet);
            poses(&told, sheet);
            progress.step("weighing the sizes");
            let (meridian, body) = sizes_and_body(evidence, &told, &views, sheet, memory, progress);
            (shape.meridian, shape.body) = (Some(meridian), body);
        }
    }
    shape.profile = Some(fitted);
    Some(shape)
}

/// All views together; where that fails, the one view that says most by itself, and a note that says so.
fn fitted(views: &[View], known: &[KnownSize]) -> Result<Noted<Profile>, String> {
    let fit = |views: &[View]| survived("profile", || profile::fit(views, known).map_err(|e| e.to_string()));
    let together = fit(views);
    let Err(why) = &together else { return together };
    if views.len() < 2 {
        return together;
    }
    let length_sigma = |profile: &Profile| profile.dimensions.first().map_or(f64::INFINITY, |length| length.sigma_mm / length.value_mm);
    let alone = views.iter().filter_map(|view| Some((&view.name, fit(std::slice::from_ref(view)).ok()?)));
    let best = alone.min_by(|a, b| length_sigma(&a.1.value).total_cmp(&length_sigma(&b.1.value)));
    let (name, mut profile) = best.ok_or_else(|| why.clone())?;
    let text = format!("The photos could not be fitted together ({why}); photo {name} alone is used.");
    profile.notes.insert(0, Note::new(text, "Check the clicks and the outline on the other photos, or take them out."));
    Ok(profile)
}

/// A made part's profile from its own photo, by the same stations as the original's.
pub(super) fn made_profile(
    evidence: &Evidence,
    photo: &PhotoEvidence,
    sheet: &mut JobResult,
    memory: &mut Memory,
) -> Arc<Result<Noted<Profile>, String>> {
    let (key, found) = outline_of(evidence, photo, memory);
    let view = match found.as_ref() {
        Err(why) => Err(why.clone()),
        Ok(found) => view(evidence, photo, &found.value, sheet).ok_or_else(|| "its rod is not known".to_string()),
    };
    match view {
        Err(why) => Arc::new(Err(why)),
        Ok(view) => memory.profiles.get(format!("{} alone", key_of(&key, &view)), || fitted(&[view], &[])),
    }
}

/// A view by what its outline was found from, which is shorter than its thousand places.
fn key_of(outline: &str, view: &View) -> String {
    format!("{} {outline} {:?} {:?}", view.name, view.camera, view.rod_diameter)
}

/// The outline, and the key of all that it was found from.
fn outline_of(evidence: &Evidence, photo: &PhotoEvidence, memory: &mut Memory) -> (String, Found) {
    let entry = evidence.entry(photo);
    let clicks = entry.axis.map(|[rod_entry, free_end]| Clicks { rod_entry, free_end });
    let key = format!("{} {clicks:?} {:?}", photo.key, entry.outline);
    let search = || {
        let found = match (&entry.outline, clicks) {
            (Some(_), None) => return Err("a trace (`outline`) needs the two clicks (`axis`) beside it, to tell rod from free end".into()),
            (Some(trace), Some(clicks)) => outline::from_trace(&photo.photo.picture, clicks, trace),
            (None, clicks) => outline::find(&photo.photo.picture, clicks),
        };
        found.map_err(|e| e.to_string())
    };
    memory.outlines.room_for(evidence.photos.len());
    (key.clone(), memory.outlines.get(key, || survived("outline", search)))
}

fn view(evidence: &Evidence, photo: &PhotoEvidence, outline: &Outline, sheet: &mut JobResult) -> Option<View> {
    let entry = evidence.entry(photo);
    let known = evidence.document.known.iter().find(|known| Some(&known.name) == entry.shaft.as_ref())?;
    let source = known.source.clone().unwrap_or_else(|| "no source given".into());
    let sigma_mm = match &known.sigma {
        Some(sigma) => sigma.mm,
        None => {
            let sigma_mm = ROD_SIGMA_SHARE * known.value.mm;
            let text = format!("The rod `{}` is {} to within {:.3} mm (one sigma).", known.name, known.value.written, sigma_mm);
            if !sheet.assumptions.iter().any(|a| a.text == text) {
                sheet.assume("evidence", text, "[[known]] sigma");
            }
            sigma_mm
        }
    };
    Some(View {
        name: entry.name.clone(),
        outline: outline.clone(),
        camera: camera(evidence, photo),
        rod_diameter: Length { mm: known.value.mm, sigma_mm, source: Source(source) },
    })
}

fn camera(evidence: &Evidence, photo: &PhotoEvidence) -> Camera {
    let (width_px, height_px) = (photo.photo.picture.width_px(), photo.photo.picture.height_px());
    let focal = focal_guesses(evidence, photo)
        .into_iter()
        .map(|(focal_px, sigma_px, odds, source)| FocalGuess { focal_px, sigma_px, odds, source })
        .collect();
    // A phone's or compact camera's picture is corrected to a few per cent at the corner; 0.02 at r = f is 1 % at the edge of a 50 mm frame.
    Camera { width_px, height_px, focal, k1: (0.0, 0.006) }
}

/// The document's word, else what the camera wrote down.
fn focal_guesses(evidence: &Evidence, photo: &PhotoEvidence) -> Vec<(f64, f64, f64, String)> {
    let (width_px, height_px) = (photo.photo.picture.width_px(), photo.photo.picture.height_px());
    match evidence.entry(photo).focal_35mm {
        Some(focal_35mm) => photo::focal_from_35mm(
            focal_35mm,
            if focal_35mm.fract() == 0.0 { 1.0 } else { 0.1 },
            width_px as f64,
            height_px as f64,
            "focal_35mm in job.toml",
        )
        .into_iter()
        .map(|g| (g.focal_px, g.sigma_px, g.odds, g.source))
        .collect(),
        None => {
            photo.photo.facts.focal_guesses(width_px, height_px).into_iter().map(|g| (g.focal_px, g.sigma_px, g.odds, g.source)).collect()
        }
    }
}

fn known_sizes(evidence: &Evidence) -> Vec<KnownSize> {
    let known = evidence.document.known.iter().filter_map(|known| {
        let (kind, at_z_mm) = match known.of? {
            KnownOf::Rod => return None,
            KnownOf::OverallLength => (KnownKind::OverallLength, None),
            KnownOf::GreatestDiameter => (KnownKind::GreatestDiameter, None),
            KnownOf::Stock => (KnownKind::Stock, None),
            KnownOf::Diameter => (KnownKind::Diameter, known.at.as_ref().map(|at| at.mm)),
        };
        let sigma_mm = known.sigma.as_ref().map_or(CALIPER_SIGMA_MM, |sigma| sigma.mm);
        let source = Source(known.source.clone().unwrap_or_default());
        Some(KnownSize { name: known.name.clone(), kind, at_z_mm, value: Length { mm: known.value.mm, sigma_mm, source } })
    });
    known.collect()
}

fn photo_result(evidence: &Evidence, photo: &PhotoEvidence, outline: &Outline, seconds: f64) -> PhotoResult {
    let places = |edge: &[EdgePoint]| edge.iter().map(|p| p.at_px).collect::<Vec<_>>();
    let sigmas = |edge: &[EdgePoint]| edge.iter().map(|p| p.sigma_px).collect::<Vec<_>>();
    let (left, right) = halves(outline);
    let mut all: Vec<f64> = sigmas(&outline.part);
    all.sort_by(f64::total_cmp);
    let sources: Vec<String> = focal_guesses(evidence, photo).into_iter().map(|g| g.3).collect();
    PhotoResult {
        name: evidence.entry(photo).name.clone(),
        size_px: [photo.photo.picture.width_px(), photo.photo.picture.height_px()],
        outline: OutlineResult {
            left: places(left),
            right: places(&right),
            left_sigma_px: sigmas(left),
            right_sigma_px: sigmas(&right),
            sigma_px: all.get(all.len() / 2).copied().unwrap_or(f64::MAX).hypot(outline.part_bias_sigma_px),
            rod_left: places(&outline.rod_left),
            rod_right: places(&outline.rod_right),
            axis: [outline.axis.rod_entry, outline.axis.free_end],
        },
        seconds: Some(seconds),
        tilt_deg: None,
        distance_mm: None,
        focal_px: None,
        focal_source: if sources.is_empty() { "not known: the camera left no word of it".into() } else { sources.join("; or ") },
        model: None,
        residual_px: None,
        pose: None,
    }
}

/// The part's outline cut at the free end: the left half from the rod on, the right half from the rod on.
fn halves(outline: &Outline) -> (&[EdgePoint], Vec<EdgePoint>) {
    let [ax, ay] = outline.axis.rod_entry;
    let along = [outline.axis.free_end[0] - ax, outline.axis.free_end[1] - ay];
    let height = |p: &EdgePoint| (p.at_px[0] - ax) * along[0] + (p.at_px[1] - ay) * along[1];
    let top = outline.part.iter().enumerate().max_by(|a, b| height(a.1).total_cmp(&height(b.1))).map_or(0, |(i, _)| i);
    let (left, right) = outline.part.split_at(top);
    (left, right.iter().rev().copied().collect())
}

fn poses(profile: &Profile, sheet: &mut JobResult) {
    for pose in &profile.poses {
        let Some(photo) = sheet.photos.iter_mut().find(|photo| photo.name == pose.name) else { continue };
        let doubted = |(value, sigma): (f64, f64)| (value.is_finite() && sigma.is_finite()).then_some(Doubted { value, sigma });
        photo.tilt_deg = doubted(pose.tilt_deg);
        photo.distance_mm = doubted(pose.distance_mm);
        photo.focal_px = doubted(pose.focal_px);
        photo.residual_px = pose.residual_px.is_finite().then_some(pose.residual_px);
        photo.pose = Some(PoseResult { origin_mm: pose.axis_origin_mm, direction: pose.axis_direction, focal_px: pose.focal_px.0 })
            .filter(|told| told.origin_mm.iter().chain(&told.direction).all(|v| v.is_finite()) && told.focal_px.is_finite());
        photo.model = Some(Contours { left: pose.contour_left.clone(), right: pose.contour_right.clone() });
    }
}

fn sizes_and_body(
    evidence: &Evidence,
    fitted: &Profile,
    views: &[View],
    sheet: &mut JobResult,
    memory: &mut Memory,
    progress: &Progress,
) -> (Meridian, Option<Body>) {
    sheet.dimensions = fitted.dimensions.iter().map(measured_only).collect();
    let shaft = views.first().map(|view| sizes::Shaft { stated: view.rod_diameter.clone() });
    let mut asked =
        sizes::Evidence::new(fitted.dimensions.iter().enumerate().map(|(i, d)| to_size(i, d)).collect(), fitted.covariance.clone(), shaft);
    asked.process = process(evidence, sheet);
    asked.decisions = decisions(evidence, fitted, sheet);
    let inferred = memory.odds.get(format!("{asked:?}"), || sizes::infer(&asked).map_err(|e| e.to_string()));
    match inferred.as_ref() {
        Err(why) => sheet.missing("sizes", why),
        Ok(inferred) => {
            sheet.warn_all("sizes", None, &inferred.notes);
            odds(&inferred.value, &evidence.document.size, sheet);
        }
    }
    let chosen: Vec<(usize, f64)> =
        sheet.dimensions.iter().enumerate().filter(|(_, d)| d.chosen.is_some()).map(|(i, d)| (i, d.used_mm)).collect();
    let refitted = profile::refit(fitted, &chosen);
    sheet.profile = Some(profile_result(fitted, &refitted.meridian));
    progress.step("building the body");
    let body = body_memo::work_out(evidence, &refitted.meridian, sheet, memory);
    (refitted.meridian, body)
}

fn process(evidence: &Evidence, sheet: &mut JobResult) -> sizes::Process {
    let Some(original) = &evidence.document.original else {
        sheet.assume("sizes", "The original was turned to size.", "[original] made");
        return sizes::Process::Turned;
    };
    match original.made {
        OriginalMade::Turned => sizes::Process::Turned,
        OriginalMade::Bar => sizes::Process::Bar,
        OriginalMade::Moulded => {
            // ABS, polystyrene, acetate: 0.3 to 0.8 % holds most of them (moulders' reference tables); phenolics lie there too.
            let [low, high] = original.shrinkage_percent.unwrap_or([0.3, 0.8]);
            sizes::Process::Moulded { shrink_low: low / 100.0, shrink_high: high / 100.0, draft_deg: original.draft_deg.unwrap_or(1.0) }
        }
    }
}

fn to_size(index: usize, d: &profile::NamedSize) -> sizes::Measured {
    let kind = match d.kind {
        SizeKind::Diameter => sizes::Kind::Diameter,
        SizeKind::Length => sizes::Kind::Length,
        SizeKind::Position => sizes::Kind::Position,
    };
    let role = match index {
        0 | 1 => sizes::Role::Overall,
        // A step this small is the breaking of an edge: it seldom stands on a drawing.
        _ if d.kind != SizeKind::Diameter && d.value_mm < SMALLEST_STEP_MM => sizes::Role::Doubtful,
        _ => sizes::Role::Feature,
    };
    sizes::Measured { name: d.name.clone(), kind, role, z_mm: d.z_mm, value_mm: d.value_mm }
}

fn measured_only(d: &profile::NamedSize) -> Dimension {
    let kind = match d.kind {
        SizeKind::Diameter => "diameter",
        SizeKind::Length => "length",
        SizeKind::Position => "position",
    };
    Dimension {
        name: d.name.clone(),
        kind: kind.into(),
        z_mm: d.z_mm,
        value_mm: d.value_mm,
        sigma_mm: d.sigma_mm,
        candidates: Vec::new(),
        chosen: None,
        used_mm: d.value_mm,
        against_sigmas: None,
        source: "photos".into(),
    }
}

/// The document's decisions; one about a size that this part does not have is named, not silently dropped.
fn decisions(evidence: &Evidence, fitted: &Profile, sheet: &mut JobResult) -> Vec<sizes::Decision> {
    let mut decisions = Vec::new();
    for decision in &evidence.document.size {
        let name = decision.name.clone();
        if name != "shaft" && !fitted.dimensions.iter().any(|d| d.name == name) {
            let names: Vec<&str> = fitted.dimensions.iter().map(|d| d.name.as_str()).collect();
            sheet.warn(
                "sizes",
                None,
                format!("The document decides about `{name}`, but no such size was found."),
                format!("Name one of these in [[size]]: {}.", names.join(", ")),
            );
            continue;
        }
        if let Some(choose) = &decision.choose {
            decisions.push(sizes::Decision::Choose { name: name.clone(), mm: choose.mm });
        }
        decisions.extend(decision.refuse.iter().map(|refused| sizes::Decision::Refuse { name: name.clone(), mm: refused.mm }));
        if let Some(reading) = &decision.reading {
            let sigma_mm = decision.sigma.as_ref().map_or(CALIPER_SIGMA_MM, |sigma| sigma.mm);
            decisions.push(sizes::Decision::Reading { name, mm: reading.mm, sigma_mm });
        }
    }
    decisions
}

fn odds(inferred: &sizes::Inference, decisions: &[SizeDecision], sheet: &mut JobResult) {
    let system = &inferred.system;
    sheet.system = [("mm", system.mm), ("inch", system.inch), ("mixed", system.mixed), ("not round", system.not_round)]
        .into_iter()
        .map(|(name, odds)| (name.to_string(), odds))
        .collect();
    for (dimension, size) in sheet.dimensions.iter_mut().zip(&inferred.sizes) {
        dimension.candidates = size.candidates.iter().map(|c| Candidate { label: c.label.clone(), mm: c.mm, odds: c.odds }).collect();
        dimension.chosen = size.chosen.as_ref().map(|c| c.label.clone());
        dimension.used_mm = size.chosen.as_ref().map_or(size.refined_mm, |c| c.mm);
        dimension.against_sigmas = size.against_sigmas.filter(|s| s.is_finite());
        if let Some(decision) = decisions.iter().find(|decision| decision.name == dimension.name) {
            dimension.source = if decision.choose.is_some() { "chosen in job.toml" } else { "photos and what job.toml says" }.into();
        }
    }
    if let Some(best) = &inferred.best_measurement {
        sheet.warn("sizes", None, format!("One measurement would settle the most: {}.", best.name), best.text.clone());
    }
    if let Some(shaft) = inferred.shaft.first().filter(|shaft| shaft.odds < 0.5 || inferred.shaft.len() > 1) {
        let rest: Vec<String> = inferred.shaft.iter().map(|s| format!("{} {:.0} in 100", s.label, 100.0 * s.odds)).collect();
        if inferred.shaft.get(1).is_some_and(|second| second.odds > 0.05) {
            sheet.warn(
                "sizes",
                None,
                format!("The rod itself may be another size ({}); all sizes would move with it.", rest.join(", ")),
                format!("Measure the rod with a caliper; {} is the likeliest.", shaft.label),
            );
        }
    }
}

fn profile_result(fitted: &Profile, meridian: &Meridian) -> ProfileResult {
    ProfileResult {
        points: fitted.points.iter().map(|p| [p.z_mm, p.r_mm, p.sigma_r_mm]).collect(),
        seen: fitted.points.iter().map(|p| p.seen).collect(),
        pieces: meridian.pieces().iter().map(piece_result).collect(),
    }
}

fn piece_result(piece: &Piece) -> PieceResult {
    let pair = |p: &meridian::Point| [p.z_mm, p.r_mm];
    let plain = |kind: &str, from, to| PieceResult {
        kind: kind.into(),
        from: pair(from),
        to: pair(to),
        centre: None,
        clockwise: None,
        controls: None,
    };
    match piece {
        Piece::Line { from, to } => plain("line", from, to),
        Piece::Arc { from, to, centre, turn } => {
            PieceResult { centre: Some(pair(centre)), clockwise: Some(*turn == Turn::Clockwise), ..plain("arc", from, to) }
        }
        Piece::Curve { from, control1, control2, to } => {
            PieceResult { controls: Some([pair(control1), pair(control2)]), ..plain("curve", from, to) }
        }
    }
}

/// A size as a drawing letters it.
pub(super) fn size_label(dimension: &Dimension) -> String {
    match &dimension.chosen {
        Some(label) => label.clone(),
        None if dimension.candidates.first().is_some_and(|c| c.label.ends_with("in")) => {
            inch_label((dimension.used_mm / 0.0254).round() * 0.0254)
        }
        None => mm_label((dimension.used_mm * 100.0).round() / 100.0),
    }
}

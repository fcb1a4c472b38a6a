use crate::carve::{Run, carve};
use crate::close::{Closed, close, filled};
use crate::joint::{Border, Condition, Fitted, Given, Layout, Mark, PER_VIEW, State, Task, ViewState, improve, noise_scale, normals};
use crate::lens::Lens;
use crate::pose;
use crate::sight::{Axis, Sight, Stand};
use crate::types::{Camera, KnownKind, KnownSize, NamedSize, Pose, Profile, ProfilePoint, SizeKind, View};
use crate::ProfileError;
use meridian::{Meridian, Piece, Point};
use nalgebra::{DMatrix, DVector};
use outline::EdgePoint;
use quantity::{Note, Noted};
use solve::Loss;

/// Most views that are fitted together.
const MOST_VIEWS: usize = 16;
/// Least points of the part and of each rod edge.
const LEAST_PART: usize = 30;
const LEAST_ROD: usize = 6;
/// Distance of meridian nodes, px of the photo.
const SPACING_PX: f64 = 3.0;
/// Most nodes along the outline; larger pictures get wider spacing.
const MOST_NODES: f64 = 320.0;
/// Focal length when nothing is known: the middle of lenses in use (26 to 105 mm equivalent; log-normal, one sigma a factor 1.6).
/// Common practice, no source.
const USUAL_35MM: f64 = 45.0;
const USUAL_LN_SIGMA: f64 = 0.45;

/// Fits poses and one meridian to all views.
///
/// # Errors
/// Only when there is nothing to fit: no views, too few points, edges that bound no rod, sizes that are none. Weak evidence gives a wide answer.
pub fn fit(views: &[View], known: &[KnownSize]) -> Result<Noted<Profile>, ProfileError> {
    check(views, known)?;
    let mut singles = Vec::new();
    for view in views {
        singles.push(single(view)?);
    }
    let single = singles.into_iter().next().ok_or(ProfileError::NoViews)?;
    let fitted = single.fitted;
    let task = single.task;
    let _ = known;
    let closed = close(&fitted.state.runs, task.spacing_mm).ok_or_else(|| ProfileError::NoBody { view: views[0].name.clone() })?;
    let profile = report(views, &task, &fitted, &closed)?;
    Ok(Noted { value: profile, notes: Vec::<Note>::new() })
}

fn check(views: &[View], known: &[KnownSize]) -> Result<(), ProfileError> {
    if views.is_empty() {
        return Err(ProfileError::NoViews);
    }
    if views.len() > MOST_VIEWS {
        return Err(ProfileError::TooManyViews { found: views.len(), most: MOST_VIEWS });
    }
    let sizes = views.iter().map(|v| (format!("rod diameter of view {}", v.name), &v.rod_diameter)).chain(known.iter().map(|k| (k.name.clone(), &k.value)));
    for (name, size) in sizes {
        if !(size.mm > 1e-3 && size.mm < 1e4 && size.sigma_mm >= 0.0 && size.sigma_mm.is_finite()) {
            return Err(ProfileError::NotASize { name, found: size.mm });
        }
    }
    for view in views {
        for (what, found, least) in [("the part", view.outline.part.len(), LEAST_PART), ("the rod's edges", view.outline.rod_left.len().min(view.outline.rod_right.len()), LEAST_ROD)] {
            if found < least {
                return Err(ProfileError::TooFewPoints { view: view.name.clone(), what, found, least });
            }
        }
    }
    Ok(())
}

struct Single {
    task: Task,
    fitted: Fitted,
}

/// Mean and sigma of ln f, px, for each rival.
fn focal_rivals(camera: &Camera) -> Vec<(f64, f64, f64)> {
    if camera.focal.is_empty() {
        let diagonal = (camera.width_px as f64).hypot(camera.height_px as f64);
        return vec![((USUAL_35MM / 43.267 * diagonal).ln(), USUAL_LN_SIGMA, 1.0)];
    }
    camera.focal.iter().filter(|g| g.focal_px > 1.0 && g.focal_px.is_finite()).map(|g| (g.focal_px.ln(), (g.sigma_px / g.focal_px).clamp(1e-4, 1.0), g.odds.max(1e-6))).collect()
}

fn single(view: &View) -> Result<Single, ProfileError> {
    let mut best: Option<(f64, Single)> = None;
    let mut why = ProfileError::NoBody { view: view.name.clone() };
    for (ln_focal, sigma, odds) in focal_rivals(&view.camera) {
        let starts: &[f64] = if sigma > 0.2 { &[-0.6, 0.0, 0.6] } else { &[0.0] };
        for start in starts {
            match fit_from(view, (ln_focal, sigma), ln_focal + start) {
                Ok(single) => {
                    if std::env::var("DEBUG").is_ok() { let w = &single.fitted.weights[0]; eprintln!("start {start}: cost {} f {} believed {} of {}", single.fitted.cost, single.fitted.state.views[0].lens.focal_px, w.iter().filter(|w| **w > 0.3).count(), w.len()); }
                    let cost = single.fitted.cost - 2.0 * odds.ln();
                    if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                        best = Some((cost, single));
                    }
                }
                Err(error) => why = error,
            }
        }
    }
    best.map(|(_, single)| single).ok_or(why)
}

fn fit_from(view: &View, ln_focal: (f64, f64), start: f64) -> Result<Single, ProfileError> {
    let no_body = || ProfileError::NoBody { view: view.name.clone() };
    let lens = Lens { centre_px: [0.5 * view.camera.width_px as f64, 0.5 * view.camera.height_px as f64], focal_px: start.exp(), k1: view.camera.k1.0 };
    let radius = 0.5 * view.rod_diameter.mm;
    let clicks = [view.outline.axis.rod_entry, view.outline.axis.free_end];
    let mut axis = pose::from_rod(&view.outline.rod_left, &view.outline.rod_right, &lens, radius, clicks)
        .ok_or(ProfileError::NoRod { view: view.name.clone(), reason: "their planes through the camera do not meet ahead of it" })?;
    axis.origin += axis.along * pose::height_of(&axis, &lens, clicks[0]);
    let px_mm = axis.origin.norm() / lens.focal_px;
    let spacing_mm = px_mm * SPACING_PX.max(view.outline.part.len() as f64 / 2.0 / MOST_NODES);
    let given = Given {
        marks: marks(view),
        rod: 0,
        ln_focal,
        k1: view.camera.k1,
        part_bias_sigma_px: view.outline.part_bias_sigma_px,
        rod_bias_sigma_px: view.outline.rod_bias_sigma_px,
    };
    let mut task = Task {
        views: vec![given],
        rods: vec![(radius, 0.5 * view.rod_diameter.sigma_mm)],
        conditions: Vec::new(),
        smooth_mm: 0.1 * spacing_mm,
        spacing_mm,
    };
    let mut state = State { views: vec![ViewState { axis, lens, part_bias_px: 0.0, rod_bias_px: 0.0 }], rods: vec![radius], runs: Vec::new() };
    let mut believed = vec![1.0; task.views[0].marks.len()];
    let mut fitted = None;
    for (loss, steps) in [(Loss::Cauchy(2.385), 8), (Loss::Cauchy(2.385), 8), (Loss::Tukey(6.0), 20)] {
        state.runs = carved(&task, &state, &believed);
        if std::env::var("DEBUG").is_ok() { eprintln!("runs {:?}", state.runs.iter().map(|r| (r.len(), r[0], r[r.len()-1])).collect::<Vec<_>>()); }
        if state.runs.is_empty() {
            return Err(no_body());
        }
        let found = improve(&task, state.clone(), loss, steps).ok_or_else(no_body)?;
        rescale(&mut task, &found);
        believed = found.weights[0].clone();
        state = found.state.clone();
        fitted = Some(found);
    }
    fitted.map(|fitted| Single { task, fitted }).ok_or_else(no_body)
}

fn marks(view: &View) -> Vec<Mark> {
    let take = |edge: &[EdgePoint], border: Border| -> Vec<Mark> {
        let usable = |p: &&EdgePoint| p.at_px[0].is_finite() && p.at_px[1].is_finite() && p.sigma_px.is_finite();
        edge.iter().filter(usable).map(|p| Mark { at_px: p.at_px, sigma_px: p.sigma_px.max(0.05), border }).collect()
    };
    let outline = &view.outline;
    [take(&outline.part, Border::Part), take(&outline.rod_left, Border::Rod), take(&outline.rod_right, Border::Rod), take(&outline.rod_joint, Border::Joint)].concat()
}

/// Sigmas grow to what the residuals show.
fn rescale(task: &mut Task, found: &Fitted) {
    for (given, residuals) in task.views.iter_mut().zip(&found.residuals_px) {
        for border in [Border::Part, Border::Rod, Border::Joint] {
            let scale = noise_scale(given, residuals, border);
            if scale > 1.0 {
                given.marks.iter_mut().filter(|m| m.border == border).for_each(|m| m.sigma_px *= scale);
            }
        }
    }
}

/// Runs carved with the marks that were believed.
fn carved(task: &Task, state: &State, believed: &[f64]) -> Vec<Run> {
    let view = &state.views[0];
    let stand = Stand::new(view.axis);
    let marks = task.views[0].marks.iter().zip(believed);
    let sights: Vec<Sight> = marks.filter(|(m, b)| m.border == Border::Part && **b > 0.3).map(|(m, _)| stand.sight(&view.lens.ray(m.at_px).d)).collect();
    carve(&sights, task.spacing_mm)
}

fn report(views: &[View], task: &Task, fitted: &Fitted, closed: &Closed) -> Result<Profile, ProfileError> {
    let state = &fitted.state;
    let layout = &fitted.layout;
    let z0 = closed.ends_mm[0];
    let chain = filled(&state.runs, closed, task.spacing_mm);
    let mut sigmas = Vec::new();
    for (r, run) in state.runs.iter().enumerate() {
        let normals = normals(run);
        sigmas.extend((0..run.len()).map(|i| {
            let at = layout.nodes_from[r] + i;
            fitted.covariance[(at, at)].max(0.0).sqrt() / normals[i][1].abs().max(0.3)
        }));
    }
    let mut seen_sigmas = sigmas.into_iter();
    let mut points: Vec<ProfilePoint> = Vec::new();
    for (p, seen) in &chain {
        let sigma_r_mm = if *seen { seen_sigmas.next().unwrap_or(task.spacing_mm) } else { 3.0 * task.spacing_mm };
        points.push(ProfilePoint { z_mm: p[0] - z0, r_mm: p[1], sigma_r_mm, seen: *seen });
    }
    let length = closed.ends_mm[1] - z0;
    let (dims, covariance) = overall(state, layout, fitted, closed);
    let mut pieces = Vec::new();
    let mut at = Point { z_mm: 0.0, r_mm: 0.0 };
    for p in points.iter() {
        let to = Point { z_mm: p.z_mm, r_mm: p.r_mm };
        pieces.push(Piece::Line { from: at, to });
        at = to;
    }
    pieces.push(Piece::Line { from: at, to: Point { z_mm: length, r_mm: 0.0 } });
    let meridian = Meridian::new(pieces).map_err(|e| { if std::env::var("DEBUG").is_ok() { eprintln!("{e}"); } ProfileError::NoBody { view: views[0].name.clone() } })?;
    let poses = views.iter().enumerate().map(|(v, view)| pose_of(view, v, state, fitted, closed, task)).collect();
    Ok(Profile { points, meridian, dimensions: dims, covariance, poses })
}

fn overall(state: &State, layout: &Layout, fitted: &Fitted, closed: &Closed) -> (Vec<NamedSize>, DMatrix<f64>) {
    let length = closed.ends_mm[1] - closed.ends_mm[0];
    let (r, i) = crate::joint::widest(&state.runs).unwrap_or((0, 0));
    let widest = state.runs[r][i];
    let mut rows = vec![DVector::zeros(layout.count), DVector::zeros(layout.count)];
    let last = state.runs.len() - 1;
    rows[0][layout.ends_from + 2 * last + 1] = 1.0;
    let n = normals(&state.runs[last]);
    rows[0][layout.nodes_from[last] + n.len() - 1] = n[n.len() - 1][0];
    rows[0][layout.nodes_from[0]] -= normals(&state.runs[0])[0][0];
    rows[1][layout.nodes_from[r] + i] = 2.0;
    let jac = DMatrix::from_columns(&rows);
    let mut cov = jac.transpose() * &fitted.covariance * &jac;
    cov[(0, 0)] += closed.ends_sigma_mm[0].powi(2) + closed.ends_sigma_mm[1].powi(2);
    let z = widest[0] - closed.ends_mm[0];
    let sizes = vec![
        NamedSize { name: "overall length".into(), kind: SizeKind::Length, z_mm: [0.0, length], value_mm: length, sigma_mm: cov[(0, 0)].sqrt() },
        NamedSize { name: "greatest diameter".into(), kind: SizeKind::Diameter, z_mm: [z, z], value_mm: 2.0 * widest[1], sigma_mm: cov[(1, 1)].sqrt() },
    ];
    (sizes, cov)
}

fn pose_of(view: &View, v: usize, state: &State, fitted: &Fitted, closed: &Closed, task: &Task) -> Pose {
    let s = &state.views[v];
    let cov = |i: usize| fitted.covariance[(v * PER_VIEW + i, v * PER_VIEW + i)].max(0.0).sqrt();
    let origin = s.axis.origin + s.axis.along * closed.ends_mm[0];
    let middle = s.axis.origin + s.axis.along * (0.5 * (closed.ends_mm[0] + closed.ends_mm[1]));
    let believed: Vec<f64> = fitted.residuals_px[v].iter().zip(&fitted.weights[v]).zip(&task.views[v].marks).filter(|((_, w), m)| **w > 0.2 && m.border == Border::Part).map(|((r, _), _)| r * r).collect();
    Pose {
        name: view.name.clone(),
        axis_origin_mm: origin.into(),
        axis_direction: s.axis.along.into(),
        focal_px: (s.lens.focal_px, s.lens.focal_px * cov(5)),
        k1: (s.lens.k1, cov(6)),
        tilt_deg: (s.axis.along.z.clamp(-1.0, 1.0).asin().to_degrees(), cov(1).to_degrees()),
        distance_mm: (middle.norm(), cov(2)),
        residual_px: (believed.iter().sum::<f64>() / believed.len().max(1) as f64).sqrt(),
        contour_left: Vec::new(),
        contour_right: Vec::new(),
    }
}

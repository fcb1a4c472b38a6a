use crate::carve::{Run, carve, refined};
use crate::chain::{Chain, chain_of};
use crate::features::features;
use crate::sizes::named_sizes;
use crate::trace::meridian_of;
use crate::joint::{BIASES, Border, Condition, Fitted, Given, Mark, PER_VIEW, State, Task, ViewState, growth, improve, yardstick};
use crate::lens::Lens;
use crate::pose;
use crate::sight::{Axis, Sight, Stand};
use crate::types::{Camera, KnownSize, Pose, Profile, ProfilePoint, View};
use crate::ProfileError;
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
    let profile = report(views, &task, &fitted)?;
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

/// Fits one view: a rough fit from every rival focal length, then the best of them finely.
fn single(view: &View) -> Result<Single, ProfileError> {
    let mut rough: Vec<(f64, Single)> = Vec::new();
    let mut why = ProfileError::NoBody { view: view.name.clone() };
    for (ln_focal, sigma, odds) in focal_rivals(&view.camera) {
        let starts: &[f64] = if sigma > 0.2 { &[-0.5, 0.0, 0.5] } else { &[0.0] };
        for start in starts {
            match start_from(view, (ln_focal, sigma), ln_focal + start).and_then(|s| rounds(view, s, &ROUGH)) {
                Ok(single) => rough.push((yardstick(&single.task, &single.fitted) - 2.0 * odds.ln(), single)),
                Err(error) => why = error,
            }
        }
    }
    rough.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut best: Option<(f64, Single)> = None;
    let least = rough.first().map_or(0.0, |r| r.0);
    for (cost, single) in rough.into_iter().take(2).filter(|r| r.0 < 1.5 * least + 200.0) {
        if std::env::var("DEBUG").is_ok() { eprintln!("rough {cost} k1 {} f {}", single.fitted.state.views[0].lens.k1, single.fitted.state.views[0].lens.focal_px); }
        match rounds(view, Start { task: single.task, state: single.fitted.state, believed: single.fitted.weights[0].clone() }, &FINE) {
            Ok(single) => {
                let cost = yardstick(&single.task, &single.fitted);
                if std::env::var("DEBUG").is_ok() { eprintln!("fine {cost} f {} nodes {} biases {:?} prior {}", single.fitted.state.views[0].lens.focal_px, single.fitted.layout.count, single.fitted.state.views[0].biases_px, ((single.fitted.state.views[0].lens.focal_px.ln() - single.task.views[0].ln_focal.0)/single.task.views[0].ln_focal.1).powi(2)); }
                if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                    best = Some((cost, single));
                }
            }
            Err(error) => why = error,
        }
    }
    if let (true, Some((_, s))) = (std::env::var("RODS").is_ok(), &best) {
        for (m, (r, w)) in s.task.views[0].marks.iter().zip(s.fitted.residuals_px[0].iter().zip(&s.fitted.weights[0])) {
            if m.border == Border::Rod { let b: f64 = m.biased.iter().map(|(k, c)| c * s.fitted.state.views[0].biases_px[*k]).sum(); eprintln!("{:?} own {:.3} sigma {:.3} res {r:.3} bias {b:.3} gap {:.3} w {w:.2} slot {}", m.at_px, m.own_px, m.sigma_px, r + b, m.biased[0].0); }
        }
        eprintln!("rod {:?}", s.fitted.state.rods);
    }
    best.map(|(_, single)| single).ok_or(why)
}

/// Node spacing (in the fine spacing), loss and steps of each round.
type Rounds = [(f64, Loss, usize)];
const ROUGH: [(f64, Loss, usize); 1] = [(2.0, Loss::Cauchy(2.385), 20)];
const FINE: [(f64, Loss, usize); 2] = [(1.0, Loss::Cauchy(2.385), 8), (1.0, Loss::Tukey(6.0), 20)];

struct Start {
    task: Task,
    state: State,
    believed: Vec<f64>,
}

fn start_from(view: &View, ln_focal: (f64, f64), start: f64) -> Result<Start, ProfileError> {
    let lens = Lens { centre_px: [0.5 * view.camera.width_px as f64, 0.5 * view.camera.height_px as f64], focal_px: start.exp(), k1: view.camera.k1.0 };
    let radius = 0.5 * view.rod_diameter.mm;
    let clicks = [view.outline.axis.rod_entry, view.outline.axis.free_end];
    let mut axis = pose::from_rod(&view.outline.rod_left, &view.outline.rod_right, &lens, radius, clicks)
        .ok_or(ProfileError::NoRod { view: view.name.clone(), reason: "their planes through the camera do not meet ahead of it" })?;
    axis.origin += axis.along * pose::height_of(&axis, &lens, clicks[0]);
    let mut lens = lens;
    if let Ok(t) = std::env::var("TRUTH") { let v: Vec<f64> = t.split(',').filter_map(|x| x.parse().ok()).collect(); axis.origin = nalgebra::Vector3::new(v[0], v[1], v[2]); axis.along = nalgebra::Vector3::new(v[3], v[4], v[5]); lens.focal_px = v[6]; lens.k1 = v[7]; }
    let px_mm = axis.origin.norm() / lens.focal_px;
    let spacing_mm = px_mm * SPACING_PX.max(extent_px(&view.outline.part) / MOST_NODES);
    let given = Given {
        marks: marks(view),
        rod: 0,
        ln_focal,
        k1: view.camera.k1,
        part_bias_sigma_px: view.outline.part_bias_sigma_px,
        rod_bias_sigma_px: view.outline.rod_bias_sigma_px,
    };
    let believed = vec![1.0; given.marks.len()];
    let task = Task {
        views: vec![given],
        rods: vec![(radius, 0.5 * view.rod_diameter.sigma_mm)],
        conditions: Vec::new(),
        spacing_mm,
    };
    let state = State { views: vec![ViewState { axis, lens, biases_px: [0.0; BIASES] }], rods: vec![radius], runs: Vec::new() };
    Ok(Start { task, state, believed })
}

/// Half the length of the way round an outline, px.
fn extent_px(part: &[EdgePoint]) -> f64 {
    0.5 * part.windows(2).map(|p| (p[1].at_px[0] - p[0].at_px[0]).hypot(p[1].at_px[1] - p[0].at_px[1])).filter(|d| d.is_finite()).sum::<f64>()
}

fn rounds(view: &View, start: Start, rounds: &Rounds) -> Result<Single, ProfileError> {
    let no_body = || ProfileError::NoBody { view: view.name.clone() };
    let Start { mut task, mut state, mut believed } = start;
    let fine_mm = task.spacing_mm;
    let mut fitted = None;
    for (wide, loss, steps) in rounds {
        task.spacing_mm = fine_mm * wide;
        state.runs = carved(&task, &state, &believed);
        if state.runs.is_empty() {
            return Err(no_body());
        }
        let mut found = improve(&task, state, *loss, *steps).ok_or_else(no_body)?;
        if *wide <= 1.0 {
            state = found.state;
            state.runs = state.runs.iter().map(|run| refined(run, task.spacing_mm)).collect();
            found = improve(&task, state, *loss, *steps).ok_or_else(no_body)?;
        }
        task.spacing_mm = fine_mm;
        rescale(&mut task, &found);
        believed.clone_from(&found.weights[0]);
        state = found.state.clone();
        fitted = Some(found);
    }
    fitted.map(|fitted| Single { task, fitted }).ok_or_else(no_body)
}

/// Most marks of the part, of each rod edge, and of the joint; more are averaged in groups of neighbours.
const MOST_MARKS: [usize; 3] = [1400, 150, 100];

fn marks(view: &View) -> Vec<Mark> {
    let outline = &view.outline;
    let [[ax, ay], [bx, by]] = [outline.axis.rod_entry, outline.axis.free_end];
    let on_left = |q: [f64; 2]| (q[0] - ax) * (by - ay) - (q[1] - ay) * (bx - ax) > 0.0;
    let mut part = merged(&outline.part, Border::Part, MOST_MARKS[0]);
    part.iter_mut().for_each(|m| m.biased[0] = (if on_left(m.at_px) { 0 } else { 1 }, 1.0));
    let edge = |points: &[EdgePoint], first: usize| {
        let mut marks = merged(points, Border::Rod, MOST_MARKS[1]);
        // From -1 at one end of the edge to 1 at the other.
        let last = (marks.len().max(2) - 1) as f64;
        marks.iter_mut().enumerate().for_each(|(i, m)| m.biased = [(first, 1.0), (first + 1, 2.0 * i as f64 / last - 1.0)]);
        marks
    };
    let (left, right) = (edge(&outline.rod_left, 2), edge(&outline.rod_right, 4));
    if std::env::var("NOJOINT").is_ok() { return [part, left, right].concat(); }
    [part, left, right, merged(&outline.rod_joint, Border::Joint, MOST_MARKS[2])].concat()
}

/// No edge point is surer than this, px.
const LEAST_SIGMA_PX: f64 = 0.05;

fn mark(at_px: [f64; 2], own_px: f64, border: Border) -> Mark {
    Mark { at_px, own_px, sigma_px: own_px, border, biased: [(0, 0.0); 2] }
}

/// Usable points, neighbours averaged until at most `most` are left; the mean of n independent points is as sure as their weights say.
fn merged(edge: &[EdgePoint], border: Border, most: usize) -> Vec<Mark> {
    let usable: Vec<&EdgePoint> = edge.iter().filter(|p| p.at_px.iter().all(|x| x.abs() < 1e6) && p.sigma_px < 1e3 && p.sigma_px >= 0.0).collect();
    let group = usable.len().div_ceil(most).max(1);
    // Neighbours farther apart than this straddle a gap and are not averaged, px.
    let apart = 3.0 * group as f64;
    let mut marks = Vec::new();
    for chunk in usable.chunks(group) {
        let (Some(first), Some(last)) = (chunk.first(), chunk.last()) else { continue };
        if (first.at_px[0] - last.at_px[0]).hypot(first.at_px[1] - last.at_px[1]) > apart {
            marks.extend(chunk.iter().map(|p| mark(p.at_px, p.sigma_px.max(LEAST_SIGMA_PX), border)));
            continue;
        }
        let mut sum = [0.0; 3];
        for p in chunk {
            let weight = 1.0 / p.sigma_px.max(LEAST_SIGMA_PX).powi(2);
            sum = [sum[0] + weight * p.at_px[0], sum[1] + weight * p.at_px[1], sum[2] + weight];
        }
        marks.push(mark([sum[0] / sum[2], sum[1] / sum[2]], (1.0 / sum[2]).sqrt(), border));
    }
    marks
}

/// Sigmas grow to what the residuals show.
fn rescale(task: &mut Task, found: &Fitted) {
    for (given, residuals) in task.views.iter_mut().zip(&found.residuals_px) {
        for border in [Border::Part, Border::Rod, Border::Joint] {
            let growth = growth(given, residuals, border);
            given.marks.iter_mut().filter(|m| m.border == border).for_each(|m| m.sigma_px = m.own_px * growth);
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

fn report(views: &[View], task: &Task, fitted: &Fitted) -> Result<Profile, ProfileError> {
    let no_body = || ProfileError::NoBody { view: views.first().map_or(String::new(), |v| v.name.clone()) };
    let chain = chain_of(fitted, task.spacing_mm).ok_or_else(no_body)?;
    let features = features(&chain);
    let (dimensions, covariance) = named_sizes(&chain, &features, &fitted.covariance);
    let meridian = meridian_of(&chain, &features).ok_or_else(no_body)?;
    let points = chain.nodes.iter().map(|n| ProfilePoint { z_mm: n.at[0], r_mm: n.at[1], sigma_r_mm: n.whole_sigma_mm / n.normal[1].abs().max(0.3), seen: n.seen });
    let points = points.collect();
    let poses = views.iter().enumerate().map(|(v, view)| pose_of(view, v, &fitted.state, fitted, &chain, task)).collect();
    Ok(Profile { points, meridian, dimensions, covariance, poses })
}

fn pose_of(view: &View, v: usize, state: &State, fitted: &Fitted, chain: &Chain, task: &Task) -> Pose {
    let s = &state.views[v];
    let cov = |i: usize| fitted.covariance[(v * PER_VIEW + i, v * PER_VIEW + i)].max(0.0).sqrt();
    let origin = s.axis.origin + s.axis.along * chain.zero_mm;
    let middle = s.axis.origin + s.axis.along * (chain.zero_mm + 0.5 * chain.length_mm);
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

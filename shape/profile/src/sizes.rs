//! Named sizes with their covariance.

use crate::chain::{Chain, Form, covariance_of};
use crate::features::{Corner, Feature, Features, Kind, length_form, mean_form};
use crate::segment::Shape;
use crate::types::{NamedSize, SizeKind};
use nalgebra::DMatrix;

/// A size before its covariance is known.
struct Draft {
    size: NamedSize,
    form: Form,
    /// Doubt that no other size shares.
    own_mm: f64,
}

/// Most sizes that are named; a part with more is no drawing any more.
const MOST_SIZES: usize = 40;

/// Overall length, greatest diameter, then every feature in order; and the covariance of their values.
pub(crate) fn named_sizes(chain: &Chain, features: &Features, covariance: &DMatrix<f64>) -> (Vec<NamedSize>, DMatrix<f64>) {
    let mut drafts: Vec<Draft> = Vec::new();
    let mut names: Vec<String> = Vec::new();
    for (i, feature) in features.list.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|k| features.corners.get(k));
        drafts.extend(of_feature(chain, features, i, feature, before, features.corners.get(i)));
    }
    let mut all = vec![overall_length(chain), greatest_diameter(chain, &drafts)];
    all.extend(drafts);
    all.truncate(MOST_SIZES);
    for draft in all.iter_mut() {
        draft.size.name = unique(&draft.size.name, &mut names);
    }
    let forms: Vec<Form> = all.iter().map(|d| d.form.clone()).collect();
    let mut cov = covariance_of(&forms, covariance);
    for (i, draft) in all.iter().enumerate() {
        cov[(i, i)] += draft.own_mm * draft.own_mm;
    }
    // The greatest diameter is mostly one of the named ones: then the two are one number.
    if let Some(twin) = (2..all.len()).find(|&i| {
        all[i].size.kind == SizeKind::Diameter && all[i].size.z_mm == all[1].size.z_mm && all[i].size.value_mm == all[1].size.value_mm
    }) {
        (cov[(1, twin)], cov[(twin, 1)]) = (cov[(1, 1)], cov[(1, 1)]);
    }
    for (i, draft) in all.iter_mut().enumerate() {
        draft.size.sigma_mm = cov[(i, i)].max(0.0).sqrt();
    }
    (all.into_iter().map(|d| d.size).collect(), cov)
}

fn unique(name: &str, names: &mut Vec<String>) -> String {
    let mut candidate = name.to_string();
    let mut count = 1;
    while names.contains(&candidate) {
        count += 1;
        candidate = format!("{name} {count}");
    }
    names.push(candidate.clone());
    candidate
}

fn draft(name: &str, kind: SizeKind, z_mm: [f64; 2], value_mm: f64, form: Form, own_mm: f64) -> Draft {
    Draft { size: NamedSize { name: name.into(), kind, z_mm, value_mm, sigma_mm: 0.0 }, form, own_mm }
}

fn overall_length(chain: &Chain) -> Draft {
    let mut form = Form::new();
    length_form(chain, 1.0, &mut form);
    let own_mm = chain.closed.ends_sigma_mm[0].hypot(chain.closed.ends_sigma_mm[1]);
    draft("overall length", SizeKind::Length, [0.0, chain.length_mm], chain.length_mm, form, own_mm)
}

/// The largest of the named diameters where it is the chain's largest radius; else the chain's largest node, smoothed over three.
fn greatest_diameter(chain: &Chain, drafts: &[Draft]) -> Draft {
    let smooth = |i: usize| {
        let mut three = [chain.nodes[i - 1].at[1], chain.nodes[i].at[1], chain.nodes[i + 1].at[1]];
        three.sort_by(f64::total_cmp);
        three[1]
    };
    let widest = (1..chain.nodes.len().saturating_sub(1)).filter(|&i| chain.nodes[i].seen).max_by(|&a, &b| smooth(a).total_cmp(&smooth(b)));
    let least = widest.map_or(0.0, |i| 2.0 * smooth(i));
    let named = drafts
        .iter()
        .filter(|d| d.size.kind == SizeKind::Diameter && (d.size.value_mm / least - 1.0).abs() < 0.004 && !d.size.name.starts_with("cone"));
    if let Some(d) = named.max_by(|a, b| a.size.value_mm.total_cmp(&b.size.value_mm)) {
        return draft("greatest diameter", SizeKind::Diameter, d.size.z_mm, d.size.value_mm, d.form.clone(), d.own_mm);
    }
    let i = widest.unwrap_or(0);
    let mut form = Form::new();
    mean_form(chain, i.saturating_sub(1)..=(i + 1).min(chain.nodes.len() - 1), [0.0, 1.0], 2.0, &mut form);
    draft("greatest diameter", SizeKind::Diameter, [chain.nodes[i].at[0]; 2], least, form, 0.1 * chain.spacing_mm)
}

fn of_feature(
    chain: &Chain,
    features: &Features,
    i: usize,
    feature: &Feature,
    before: Option<&Corner>,
    after: Option<&Corner>,
) -> Vec<Draft> {
    let start = before.map_or(0.0, |c| c.at[0]);
    let end = after.map_or(chain.length_mm, |c| c.at[0]);
    let seen = (feature.first..=feature.last).any(|k| chain.nodes[k].seen);
    let mut drafts = Vec::new();
    match (feature.kind, feature.shape) {
        (Kind::Cylinder, Shape::Line { at, .. }) if seen => {
            let mut form = Form::new();
            mean_form(chain, feature.first..=feature.last, [0.0, 1.0], 2.0, &mut form);
            let name = cylinder_name(features, i);
            drafts.push(draft(&format!("{name} diameter"), SizeKind::Diameter, [start, end], 2.0 * at[1], form, 0.004 * chain.spacing_mm));
            drafts.extend(span(chain, name, before, after, end));
        }
        (Kind::Cone, _) if seen => {
            for (corner, z) in [(before, start), (after, end)] {
                let Some(c) = corner else { continue };
                let other = if z == start { end } else { start };
                let larger = c.at[1] >= if z == start { after.map_or(0.0, |c| c.at[1]) } else { before.map_or(0.0, |c| c.at[1]) };
                let _ = other;
                let form: Form = c.radius.iter().map(|&(k, x)| (k, 2.0 * x)).collect();
                drafts.push(draft(
                    if larger { "cone large diameter" } else { "cone small diameter" },
                    SizeKind::Diameter,
                    [z, z],
                    2.0 * c.at[1],
                    form,
                    0.03 * chain.spacing_mm,
                ));
            }
            drafts.extend(span(chain, "cone", before, after, end));
        }
        (Kind::Convex | Kind::Concave, Shape::Arc { centre, radius_mm, convex }) if seen => {
            let inside = centre[0] > chain.nodes[feature.first].at[0] - 0.02 * radius_mm
                && centre[0] < chain.nodes[feature.last].at[0] + 0.02 * radius_mm;
            let apex = if convex { centre[1] + radius_mm } else { centre[1] - radius_mm };
            let name = arc_name(chain, convex, centre, radius_mm);
            if inside && apex > 0.0 {
                let near = |k: &usize| (chain.nodes[*k].at[0] - centre[0]).abs() < (0.3 * radius_mm).max(2.0 * chain.spacing_mm);
                let window: Vec<usize> = (feature.first..=feature.last).filter(near).collect();
                let (lo, hi) = (window.first().copied().unwrap_or(feature.first), window.last().copied().unwrap_or(feature.last));
                let mut form = Form::new();
                mean_form(chain, lo..=hi, [0.0, 1.0], 2.0, &mut form);
                drafts.push(draft(
                    &format!("{name} diameter"),
                    SizeKind::Diameter,
                    [centre[0]; 2],
                    2.0 * apex,
                    form,
                    0.01 * chain.spacing_mm,
                ));
                let mut form = Form::new();
                crate::features::zero_form(chain, -1.0, &mut form);
                mean_form(chain, feature.first..=feature.last, [1.0, 0.0], 1.0, &mut form);
                drafts.push(draft(
                    &format!("{name} middle position"),
                    SizeKind::Position,
                    [centre[0]; 2],
                    centre[0],
                    form,
                    0.1 * chain.spacing_mm,
                ));
            }
            drafts.extend(span(chain, name, before, after, end));
        }
        _ => {}
    }
    drafts.retain(|d| d.size.value_mm > 0.0 && d.size.value_mm.is_finite());
    drafts
}

/// Where a feature starts and ends, and how long it is; what the end faces already say is left out.
fn span(chain: &Chain, name: &str, before: Option<&Corner>, after: Option<&Corner>, end: f64) -> Vec<Draft> {
    let mut drafts = Vec::new();
    let first = before.filter(|c| c.at[0] > 2.0 * chain.spacing_mm);
    let last = after.filter(|_| end < chain.length_mm - 2.0 * chain.spacing_mm);
    if let Some(c) = last {
        drafts.push(draft(
            &format!("{name} end position"),
            SizeKind::Position,
            [c.at[0]; 2],
            c.at[0],
            c.height.clone(),
            c.extra_mm + 0.03 * chain.spacing_mm,
        ));
    }
    if let (Some(a), Some(b)) = (first, after) {
        let mut form = b.height.clone();
        form.extend(a.height.iter().map(|&(k, x)| (k, -x)));
        drafts.push(draft(
            &format!("{name} length"),
            SizeKind::Length,
            [a.at[0], b.at[0]],
            b.at[0] - a.at[0],
            form,
            a.extra_mm.hypot(b.extra_mm) + 0.04 * chain.spacing_mm,
        ));
    }
    drafts
}

/// By its place among the cylinders: larger or smaller than both neighbours, or at an end.
fn cylinder_name(features: &Features, i: usize) -> &'static str {
    let radius = |f: &Feature| if let (Kind::Cylinder, Shape::Line { at, .. }) = (f.kind, f.shape) { Some(at[1]) } else { None };
    let own = radius(&features.list[i]).unwrap_or(0.0);
    let before = features.list[..i].iter().rev().find_map(radius);
    let after = features.list[i + 1..].iter().find_map(radius);
    match (before, after) {
        (None, None) => "body",
        (Some(a), Some(b)) if own > a && own > b => "collar",
        (Some(a), Some(b)) if own < a && own < b => "neck",
        (Some(_), Some(_)) => "middle",
        (None, Some(b)) if own > b => "flange",
        (None, Some(_)) => "stem",
        (Some(a), None) if own > a => "head",
        (Some(_), None) => "spigot",
    }
}

fn arc_name(chain: &Chain, convex: bool, centre: [f64; 2], radius_mm: f64) -> &'static str {
    let greatest = chain.nodes.iter().map(|n| n.at[1]).fold(0.0, f64::max);
    match convex {
        false => "neck",
        true if centre[1].abs() < 0.1 * radius_mm => "ball",
        true if radius_mm > 0.4 * greatest => "bulb",
        true => "bead",
    }
}

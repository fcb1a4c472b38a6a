use crate::{Polygon, TargetError};
use nalgebra::{Matrix2, SymmetricEigen, Vector2, Vector3};

/// Where a turned part's axis lies in the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axis {
    /// Where the rod enters, px.
    pub rod_entry: [f64; 2],
    /// The free end, px.
    pub free_end: [f64; 2],
    /// Tilt of the axis out of the picture's plane, > 0 when the free end is farther; `None` when not known.
    pub tilt_deg: Option<f64>,
}

impl Axis {
    /// A narrow strip along the axis from 20 to 80 % of its length, 5 % of it to each side: on nearly every turned part this lies on the body. For
    /// [`crate::read_spot`] where no outline was found.
    pub fn strip(&self) -> Result<Polygon, TargetError> {
        let (start, end) = (Vector2::from(self.rod_entry), Vector2::from(self.free_end));
        let along = end - start;
        let aside = Vector2::new(-along.y, along.x) * 0.05;
        let corners = [start + along * 0.2 + aside, start + along * 0.8 + aside, start + along * 0.8 - aside, start + along * 0.2 - aside];
        Polygon::new(&corners.map(Into::into), "the strip along the axis")
    }
}

/// Which way a flat card faces, and how well that is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Facing {
    /// Unit vector out of the card; x right, y down, z away from the camera.
    pub normal: Vector3<f64>,
    /// One sigma of its direction, degrees.
    pub sigma_deg: f64,
}

impl Facing {
    /// Toward the camera, as cards are laid for a photo: with what is usual about it, 20 degrees.
    pub(crate) fn camera() -> Facing {
        Facing { normal: -Vector3::z(), sigma_deg: 20.0 }
    }

    /// From the corners of a rectangular patch: its two pairs of sides meet at two vanishing points, whose directions are those of its
    /// sides. Where these do not come out at right angles to within 7 degrees the patch is no rectangle (or the focal length is far off), and the
    /// patch is taken to face the camera.
    pub(crate) fn of_patch(polygon: &Polygon, focal_px: Option<f64>, width_px: usize, height_px: usize) -> Facing {
        let Some(corners) = polygon.corners(0.04) else { return Facing::camera() };
        // An unknown focal length: 28 to 50 mm on film are usual, 1.05 in the middle of that; the normal depends on it weakly.
        let focal = focal_px.filter(|f| f.is_finite() && *f > 1.0).unwrap_or(1.05 * width_px.max(height_px) as f64);
        let rays = corners.map(|[x, y]| Vector3::new(x - width_px as f64 / 2.0, y - height_px as f64 / 2.0, focal) / focal);
        let side = |i: usize| rays[i].cross(&rays[(i + 1) % 4]);
        let (first, second) = (side(0).cross(&side(2)), side(1).cross(&side(3)));
        let (Some(first), Some(second)) = (first.try_normalize(1e-12), second.try_normalize(1e-12)) else { return Facing::camera() };
        let Some(normal) = first.cross(&second).try_normalize(1e-6) else { return Facing::camera() };
        if first.dot(&second).abs() > 0.12 || normal.z.abs() < 0.3 {
            return Facing::camera();
        }
        // Corners marked a little inside the card bend the vanishing points by their share: some degrees on a steep card.
        let sigma_deg = if focal_px.is_some() { 5.0 } else { 9.0 };
        Facing { normal: if normal.z < 0.0 { normal } else { -normal }, sigma_deg }
    }
}

/// A turned body as its outline shows it: enough to say which way its surface faces at each pixel, as if seen from far away.
pub(crate) struct TurnedShape {
    along: Vector2<f64>,
    start: f64,
    step: f64,
    /// Axis beside the direction: offset at `start`, and change per px.
    offset: [f64; 2],
    half_width: Vec<f64>,
    slope: Vec<f64>,
    tilt_rad: f64,
    /// Whether the tilt was given.
    pub tilt_known: bool,
}

impl TurnedShape {
    /// From the outline, along the given axis or the one that the places inside it suggest. `None` where the outline has no width.
    pub(crate) fn new(outline: &Polygon, axis: Option<Axis>, inside: &[[f64; 2]]) -> Option<TurnedShape> {
        let tilt = axis.and_then(|a| a.tilt_deg).filter(|t| t.is_finite() && t.abs() < 80.0);
        let given = axis.and_then(|a| {
            Vector2::new(a.free_end[0] - a.rod_entry[0], a.free_end[1] - a.rod_entry[1])
                .try_normalize(1e-9)
                .filter(|v| v.iter().all(|x| x.is_finite()))
        });
        let (shape, _) = match given {
            Some(along) => TurnedShape::along(outline, along, tilt)?,
            None => {
                let [long, short, elongation] = principal(inside)?;
                let by_long = TurnedShape::along(outline, Vector2::from(long), tilt)?;
                let by_short = TurnedShape::along(outline, Vector2::from(short), tilt)?;
                // A round body is a mirror image about its axis; a bar is so about both directions, and its axis is the longer.
                if elongation[0] < 1.5 && by_short.1 < 0.5 * by_long.1 { by_short } else { by_long }
            }
        };
        Some(shape)
    }

    /// Which way the surface faces at a place: unit vector out of the body. `None` outside.
    pub(crate) fn normal(&self, at: [f64; 2]) -> Option<Vector3<f64>> {
        let (u, v) = self.split(at);
        let bin = ((u - self.start) / self.step) as usize;
        let (half, slope) = (*self.half_width.get(bin)?, *self.slope.get(bin)?);
        let across = (v - self.offset[0] - self.offset[1] * (u - self.start)) / half;
        if !across.is_finite() || across.abs() > 1.0 {
            return None;
        }
        let (sin, cos) = self.tilt_rad.sin_cos();
        let axis = Vector3::new(self.along.x * cos, self.along.y * cos, sin);
        let side = Vector3::new(-self.along.y, self.along.x, 0.0);
        let mut front = axis.cross(&side);
        if front.z > 0.0 {
            front = -front;
        }
        (side * across + front * (1.0 - across * across).sqrt() - axis * slope).try_normalize(1e-9)
    }

    fn split(&self, at: [f64; 2]) -> (f64, f64) {
        let place = Vector2::from(at);
        (self.along.dot(&place), -self.along.y * place.x + self.along.x * place.y)
    }

    /// The shape along a direction, and how far it is from mirror-symmetric (mean offset over mean half width).
    fn along(outline: &Polygon, along: Vector2<f64>, tilt: Option<f64>) -> Option<(TurnedShape, f64)> {
        let place = |p: [f64; 2]| (along.x * p[0] + along.y * p[1], -along.y * p[0] + along.x * p[1]);
        let us = || outline.points().iter().map(|p| place(*p).0);
        let (start, end) = (us().fold(f64::INFINITY, f64::min), us().fold(f64::NEG_INFINITY, f64::max));
        // Bins of one px, at most 2000.
        let step = ((end - start) / 2000.0).max(1.0);
        let bins = ((end - start) / step) as usize + 1;
        let (mut low, mut high) = (vec![f64::INFINITY; bins], vec![f64::NEG_INFINITY; bins]);
        for (a, b) in outline.edges() {
            let ((ua, va), (ub, vb)) = (place(a), place(b));
            let steps = ((ub - ua).abs() / step * 2.0).ceil().max(1.0) as usize;
            for i in 0..=steps {
                let share = i as f64 / steps as f64;
                let (u, v) = (ua + share * (ub - ua), va + share * (vb - va));
                let bin = (((u - start) / step) as usize).min(bins - 1);
                low[bin] = low[bin].min(v);
                high[bin] = high[bin].max(v);
            }
        }
        let middles: Vec<(f64, f64, f64)> = (0..bins)
            .filter(|&i| high[i] > low[i])
            .map(|i| ((i as f64 + 0.5) * step, 0.5 * (low[i] + high[i]), 0.5 * (high[i] - low[i])))
            .collect();
        let offset = weighted_line(&middles)?;
        let weight: f64 = middles.iter().map(|m| m.2).sum();
        let asymmetry = middles.iter().map(|m| m.2 * (m.1 - offset[0] - offset[1] * m.0).abs() / m.2.max(1.0)).sum::<f64>() / weight;
        let half: Vec<f64> = (0..bins).map(|i| if high[i] > low[i] { 0.5 * (high[i] - low[i]) } else { 0.0 }).collect();
        let half_width = smooth(&half, (bins / 120).max(1));
        let slope = (0..bins)
            .map(|i| {
                let (before, after) = (i.saturating_sub(1), (i + 1).min(bins - 1));
                (half_width[after] - half_width[before]) / (step * (after - before).max(1) as f64)
            })
            .collect();
        let tilt_rad = tilt.unwrap_or(0.0).to_radians();
        Some((TurnedShape { along, start, step, offset, half_width, slope, tilt_rad, tilt_known: tilt.is_some() }, asymmetry))
    }
}

/// Line through (x, y) weighted by the third.
fn weighted_line(points: &[(f64, f64, f64)]) -> Option<[f64; 2]> {
    let w: f64 = points.iter().map(|p| p.2).sum();
    if points.len() < 4 || w <= 0.0 {
        return None;
    }
    let (mx, my) = (points.iter().map(|p| p.2 * p.0).sum::<f64>() / w, points.iter().map(|p| p.2 * p.1).sum::<f64>() / w);
    let sxx: f64 = points.iter().map(|p| p.2 * (p.0 - mx).powi(2)).sum();
    let sxy: f64 = points.iter().map(|p| p.2 * (p.0 - mx) * (p.1 - my)).sum();
    let slope = if sxx > 0.0 { sxy / sxx } else { 0.0 };
    Some([my - slope * mx, slope])
}

/// Running mean over `reach` to each side.
fn smooth(values: &[f64], reach: usize) -> Vec<f64> {
    (0..values.len())
        .map(|i| {
            let window = &values[i.saturating_sub(reach)..(i + reach + 1).min(values.len())];
            window.iter().sum::<f64>() / window.len() as f64
        })
        .collect()
}

/// Long and short direction of a cloud of places, and its elongation (in the first place of the third).
fn principal(places: &[[f64; 2]]) -> Option<[[f64; 2]; 3]> {
    let n = places.len() as f64;
    if places.len() < 4 {
        return None;
    }
    let middle = places.iter().map(|p| Vector2::from(*p)).sum::<Vector2<f64>>() / n;
    let spread: Matrix2<f64> = places.iter().map(|p| Vector2::from(*p) - middle).map(|d| d * d.transpose()).sum();
    let eigen = SymmetricEigen::new(spread);
    let long = if eigen.eigenvalues[0] >= eigen.eigenvalues[1] { 0 } else { 1 };
    let direction = |i: usize| [eigen.eigenvectors[(0, i)], eigen.eigenvectors[(1, i)]];
    let elongation = (eigen.eigenvalues[long] / eigen.eigenvalues[1 - long].max(1e-12)).sqrt();
    Some([direction(long), direction(1 - long), [elongation, 0.0]])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A card's corners thrown by a pinhole camera; its normal must come back (made-up truth).
    #[test]
    fn a_cards_facing_is_found_from_its_corners() {
        for (tilt_x, tilt_y) in [(0.0f64, 0.0f64), (0.3, -0.2), (-0.5, 0.4), (0.05, 0.6)] {
            let right = Vector3::new(tilt_y.cos(), 0.0, tilt_y.sin());
            let down = Vector3::new(-tilt_x.sin() * tilt_y.sin(), tilt_x.cos(), tilt_x.sin() * tilt_y.cos());
            let corner = |x: f64, y: f64| {
                let p = Vector3::new(-20.0, 15.0, 150.0) + right * x + down * y;
                [800.0 + 1700.0 * p.x / p.z, 600.0 + 1700.0 * p.y / p.z]
            };
            let card = Polygon::new(&[corner(-20.0, -14.0), corner(20.0, -14.0), corner(20.0, 14.0), corner(-20.0, 14.0)], "card")
                .expect("a region");
            let found = Facing::of_patch(&card, Some(1700.0), 1600, 1200);
            let truth = right.cross(&down).normalize() * -1.0;
            assert!(found.normal.dot(&truth) > 0.999_99, "{found:?}, truth {truth:?}");
            assert!(found.sigma_deg < 10.0);
        }
        let no_card = Polygon::new(&[[100.0, 100.0], [400.0, 150.0], [300.0, 400.0], [90.0, 180.0]], "it").expect("a region");
        assert_eq!(Facing::of_patch(&no_card, Some(1700.0), 1600, 1200), Facing::camera());
    }

    /// Normals of a sphere and of a cylinder by closed form, the axis given or found.
    #[test]
    fn surfaces_face_as_they_should() {
        let circle: Vec<[f64; 2]> =
            (0..720).map(|i| f64::from(i).to_radians() / 2.0).map(|t| [300.0 + 100.0 * t.cos(), 200.0 + 100.0 * t.sin()]).collect();
        let ball = Polygon::new(&circle, "ball").expect("a region");
        let inside: Vec<[f64; 2]> = (0..400).map(|i| [220.0 + f64::from(i % 20) * 8.0, 120.0 + f64::from(i / 20) * 8.0]).collect();
        let shape = TurnedShape::new(&ball, None, &inside).expect("a body");
        for (x, y) in [(0.0, 0.0), (50.0, 0.0), (0.0, 50.0), (-40.0, 30.0)] {
            let truth = Vector3::new(x, y, -(10_000.0f64 - x * x - y * y).sqrt()) / 100.0;
            let found = shape.normal([300.0 + x, 200.0 + y]).expect("inside");
            assert!(found.dot(&truth) > 3f64.to_radians().cos(), "{found:?}, truth {truth:?}");
        }
        let bar = Polygon::new(&[[100.0, 100.0], [500.0, 100.0], [500.0, 200.0], [100.0, 200.0]], "bar").expect("a region");
        let axis = Axis { rod_entry: [100.0, 150.0], free_end: [500.0, 150.0], tilt_deg: Some(20.0) };
        let found = TurnedShape::new(&bar, Some(axis), &[]).expect("a body").normal([300.0, 150.0]).expect("inside");
        // The free end is farther by 20 degrees: the surface in the middle leans by as much toward the free end.
        let truth = Vector3::new(20f64.to_radians().sin(), 0.0, -20f64.to_radians().cos());
        assert!(found.dot(&truth) > 0.9999, "{found:?}");
    }
}

use crate::TargetError;

/// A region of a picture: the inside of a closed ring of points, px, (0, 0) the corner of the first pixel. Where the ring crosses itself
/// the even-odd rule holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Polygon {
    points: Vec<[f64; 2]>,
}

/// More points than any trace has; bounds the work on a hostile document.
const MOST_POINTS: usize = 20_000;

impl Polygon {
    /// A checked region. `what` names it in the error: "the grey patch".
    ///
    /// At least three points, at most 20 000, all finite, an area of at least one px.
    pub fn new(points: &[[f64; 2]], what: &str) -> Result<Polygon, TargetError> {
        let bad = |why: &str| Err(TargetError::BadPolygon { what: what.into(), why: why.into() });
        if points.len() < 3 {
            return bad("it has fewer than three points");
        }
        if points.len() > MOST_POINTS {
            return bad("it has more than 20 000 points");
        }
        if points.iter().flatten().any(|v| !v.is_finite() || v.abs() > 1e6) {
            return bad("a coordinate is not a place in a picture");
        }
        let polygon = Polygon { points: points.to_vec() };
        if polygon.area_px() < 1.0 {
            return bad("it encloses less than one pixel");
        }
        Ok(polygon)
    }

    /// The ring's points.
    pub fn points(&self) -> &[[f64; 2]] {
        &self.points
    }

    /// Area enclosed, px^2.
    pub fn area_px(&self) -> f64 {
        0.5 * self.edges().map(|(a, b)| a[0] * b[1] - a[1] * b[0]).sum::<f64>().abs()
    }

    /// Mean of the corners, px.
    pub fn middle(&self) -> [f64; 2] {
        let n = self.points.len() as f64;
        [0, 1].map(|i| self.points.iter().map(|p| p[i]).sum::<f64>() / n)
    }

    /// The same shape drawn in toward its middle.
    pub(crate) fn shrunk(&self, factor: f64) -> Polygon {
        let middle = self.middle();
        Polygon { points: self.points.iter().map(|p| [0, 1].map(|i| middle[i] + factor * (p[i] - middle[i]))).collect() }
    }

    pub(crate) fn edges(&self) -> impl Iterator<Item = ([f64; 2], [f64; 2])> {
        let next = self.points.iter().cycle().skip(1);
        self.points.iter().zip(next).map(|(a, b)| (*a, *b))
    }

    /// Pixels whose centres lie inside, as `(row, first column, last column + 1)`, cut to a picture of this size, top to bottom.
    pub(crate) fn spans(&self, width_px: usize, height_px: usize) -> Vec<(usize, usize, usize)> {
        let mut crossings: Vec<(usize, f64)> = Vec::new();
        for (a, b) in self.edges() {
            let (top, bottom) = if a[1] <= b[1] { (a, b) } else { (b, a) };
            // Rows whose centre lies in [top, bottom).
            let first = (top[1] - 0.5).ceil().max(0.0) as usize;
            let end = ((bottom[1] - 0.5).ceil().max(0.0) as usize).min(height_px);
            for row in first..end {
                let share = (row as f64 + 0.5 - top[1]) / (bottom[1] - top[1]);
                crossings.push((row, top[0] + share * (bottom[0] - top[0])));
            }
        }
        crossings.sort_by(|p, q| p.0.cmp(&q.0).then(p.1.total_cmp(&q.1)));
        let column = |x: f64| ((x - 0.5).ceil().max(0.0) as usize).min(width_px);
        let pairs = crossings.chunk_by(|p, q| p.0 == q.0).flat_map(|row| row.chunks_exact(2));
        pairs.map(|pair| (pair[0].0, column(pair[0].1), column(pair[1].1))).filter(|(_, first, end)| end > first).collect()
    }

    /// The four corners where the shape is a quadrilateral but for wobbles of `share` of its size; `None` for other shapes.
    pub(crate) fn corners(&self, share: f64) -> Option<[[f64; 2]; 4]> {
        let tolerance = share * self.area_px().sqrt();
        let mut kept = self.points.clone();
        // Take out the flattest corner again and again while it is flat.
        while kept.len() > 4 {
            let height = |i: usize| {
                let (a, b, c) = (kept[(i + kept.len() - 1) % kept.len()], kept[i], kept[(i + 1) % kept.len()]);
                distance_to_line(b, a, c)
            };
            let flattest = (0..kept.len()).min_by(|&i, &j| height(i).total_cmp(&height(j)))?;
            if height(flattest) > tolerance {
                return None;
            }
            kept.remove(flattest);
        }
        kept.try_into().ok()
    }
}

fn distance_to_line(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let length = dx.hypot(dy);
    if length == 0.0 { (p[0] - a[0]).hypot(p[1] - a[1]) } else { ((p[0] - a[0]) * dy - (p[1] - a[1]) * dx).abs() / length }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pixel_centres_inside_are_counted() {
        let square = Polygon::new(&[[1.0, 1.0], [4.0, 1.0], [4.0, 3.0], [1.0, 3.0]], "it").expect("a region");
        assert_eq!(square.spans(10, 10), vec![(1, 1, 4), (2, 1, 4)]);
        assert_eq!(square.spans(3, 2), vec![(1, 1, 3)]);
        // A circle's pixels come to its area (closed form), to the length of its edge in px.
        let circle: Vec<[f64; 2]> =
            (0..360).map(|i| f64::from(i).to_radians()).map(|t| [50.3 + 40.0 * t.cos(), 48.9 + 40.0 * t.sin()]).collect();
        let count: usize = Polygon::new(&circle, "it").expect("a region").spans(200, 200).iter().map(|(_, a, b)| b - a).sum();
        assert!((count as f64 - std::f64::consts::PI * 1600.0).abs() < 30.0, "{count}");
    }

    #[test]
    fn senseless_rings_are_refused() {
        for points in [
            vec![],
            vec![[0.0, 0.0]; 2],
            vec![[0.0, 0.0]; 9],
            vec![[0.0, f64::NAN], [9.0, 0.0], [9.0, 9.0]],
            vec![[0.0, 1e300], [9.0, 0.0], [9.0, 9.0]],
        ] {
            assert!(matches!(Polygon::new(&points, "it"), Err(TargetError::BadPolygon { .. })), "{points:?}");
        }
    }

    #[test]
    fn corners_of_a_wobbly_card_are_found() {
        let card = [[0.0, 0.0], [50.0, 0.3], [100.0, 0.0], [101.0, 40.0], [100.0, 80.0], [0.0, 80.0]];
        let corners = Polygon::new(&card, "it").expect("a region").corners(0.03).expect("four");
        assert_eq!(corners, [[0.0, 0.0], [100.0, 0.0], [100.0, 80.0], [0.0, 80.0]]);
        let round: Vec<[f64; 2]> = (0..12).map(|i| f64::from(30 * i).to_radians()).map(|t| [40.0 * t.cos(), 40.0 * t.sin()]).collect();
        assert!(Polygon::new(&round, "it").expect("a region").corners(0.03).is_none());
    }
}

use crate::FlatError;
use nalgebra::{DMatrix, DVector, Matrix2, Matrix3, Vector3};
use quantity::{Note, Noted};

/// Something of known size that lies in the part's plane. Places in px of the upright picture, sizes in mm.
#[derive(Clone, Debug, PartialEq)]
pub enum Square {
    /// Corners from the top left one, clockwise as they are seen.
    Rectangle {
        /// The four corners.
        corners_px: [[f64; 2]; 4],
        /// Along the first side.
        width_mm: f64,
        /// Along the second side.
        height_mm: f64,
    },
    /// Five or more places round a circle.
    Circle {
        /// The places.
        places_px: Vec<[f64; 2]>,
        /// Its diameter.
        diameter_mm: f64,
    },
    /// Two ends of a known length; the photo is taken as square on.
    Ruler {
        /// The ends.
        ends_px: [[f64; 2]; 2],
        /// How far they are apart.
        length_mm: f64,
    },
}

/// The part's plane: from pixels to millimetres, x to the right and y up, with doubt.
#[derive(Clone, Debug, PartialEq)]
pub struct Plane {
    to_mm: Matrix3<f64>,
    /// The same with one click or size off by one sigma, one each.
    varied: Vec<Matrix3<f64>>,
    /// What parallel projection leaves out: places in this distance about the middle, px, are off by themselves times the distance over this.
    perspective: Option<([f64; 2], f64)>,
}

/// Tilt that a photo taken as square on has all the same, degrees, one sigma (common practice, no source).
const FREEHAND_TILT_DEG: f64 = 3.0;
/// Largest coordinate in a picture, px.
const LARGEST_PX: f64 = 1e6;

/// Squares a photo up. `click_sigma_px` is how surely a click is set, `size_sigma` the relative doubt of the known sizes, `picture_px` the longer side of the picture.
///
/// # Errors
/// Clicks that fall together, lie in one line or are not finite; sizes that are none.
pub fn squared(square: &Square, click_sigma_px: f64, size_sigma: f64, picture_px: f64) -> Result<Noted<Plane>, FlatError> {
    check(square, click_sigma_px, size_sigma, picture_px)?;
    let to_mm = solved(square)?;
    let mut varied = Vec::new();
    for index in 0..clicks(square) {
        for axis in 0..2 {
            varied.extend(solved(&moved(square, index, axis, click_sigma_px)).ok());
        }
    }
    for size in 0..2 {
        varied.extend(resized(square, size, 1.0 + size_sigma).and_then(|square| solved(&square).ok()));
    }
    let mut notes = Vec::new();
    let perspective = match square {
        Square::Rectangle { .. } => None,
        Square::Circle { places_px, .. } => {
            let conic = Conic::through(places_px)?;
            notes.push(Note::new(
                "A circle alone squares the photo up as if it were taken from far away.",
                "Click the corners of a known rectangle in the part's plane instead, or take the photo from farther off.",
            ));
            // Lens not known: not wider than 36 mm on the long side of a 35 mm frame (phones have 24 to 28, their owners stand back).
            Some((conic.centre, picture_px / conic.tilt_tan().max(FREEHAND_TILT_DEG.to_radians().tan())))
        }
        Square::Ruler { ends_px: [a, b], .. } => {
            notes.push(Note::new(
                format!("A ruler alone squares nothing up: the photo is taken as square on, within {FREEHAND_TILT_DEG} degrees."),
                "Click the corners of a known rectangle in the part's plane.",
            ));
            Some(([0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])], picture_px / FREEHAND_TILT_DEG.to_radians().tan()))
        }
    };
    Ok(Noted { value: Plane { to_mm, varied, perspective }, notes })
}

impl Plane {
    /// A pixel's place in the plane, mm; not finite beyond the horizon.
    pub fn place_mm(&self, px: [f64; 2]) -> [f64; 2] {
        through(&self.to_mm, px)
    }

    /// Standard doubt of a distance from the middle of the known thing to this place, mm: clicks, sizes, and what parallel projection leaves out.
    pub fn sigma_mm(&self, px: [f64; 2]) -> f64 {
        let [x, y] = self.place_mm(px);
        let clicks: f64 = self.varied.iter().map(|varied| through(varied, px)).map(|[a, b]| (a - x).powi(2) + (b - y).powi(2)).sum();
        let flattened = self.perspective.map_or(0.0, |(middle, reach_px)| {
            let [cx, cy] = self.place_mm(middle);
            (x - cx).hypot(y - cy) * (px[0] - middle[0]).hypot(px[1] - middle[1]) / reach_px
        });
        (clicks + flattened * flattened).sqrt()
    }

    /// Standard doubt of the length between two places, mm.
    pub fn length_sigma_mm(&self, a: [f64; 2], b: [f64; 2]) -> f64 {
        let length = |map: &Matrix3<f64>| {
            let ([x, y], [u, v]) = (through(map, a), through(map, b));
            (x - u).hypot(y - v)
        };
        let own = length(&self.to_mm);
        let clicks: f64 = self.varied.iter().map(|varied| (length(varied) - own).powi(2)).sum();
        let flattened = self.perspective.map_or(0.0, |(middle, reach_px)| {
            let far = [a, b].iter().map(|p| (p[0] - middle[0]).hypot(p[1] - middle[1])).fold(0.0, f64::max);
            own * far / reach_px
        });
        (clicks + flattened * flattened).sqrt()
    }

    /// Millimetres a pixel at a place: how wide one is in the plane.
    pub fn scale_mm(&self, px: [f64; 2]) -> f64 {
        let at = |dx: f64, dy: f64| self.place_mm([px[0] + dx, px[1] + dy]);
        let ([x0, y0], [x1, y1], [x2, y2]) = (at(0.0, 0.0), at(1.0, 0.0), at(0.0, 1.0));
        ((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)).abs().sqrt()
    }
}

fn through(map: &Matrix3<f64>, [x, y]: [f64; 2]) -> [f64; 2] {
    let v = map * Vector3::new(x, y, 1.0);
    [v.x / v.z, v.y / v.z]
}

fn check(square: &Square, click: f64, size: f64, picture: f64) -> Result<(), FlatError> {
    if !(click.is_finite() && click > 0.0 && (0.0..0.5).contains(&size) && picture > 1.0 && picture < LARGEST_PX) {
        return Err(FlatError::square("the doubt of clicks or sizes is no doubt"));
    }
    let (places, sizes): (&[[f64; 2]], Vec<f64>) = match square {
        Square::Rectangle { corners_px, width_mm, height_mm } => (corners_px, vec![*width_mm, *height_mm]),
        Square::Circle { places_px, diameter_mm } => (places_px, vec![*diameter_mm]),
        Square::Ruler { ends_px, length_mm } => (ends_px, vec![*length_mm]),
    };
    if places.iter().flatten().any(|x| x.is_nan() || x.abs() >= LARGEST_PX) || places.len() > 1000 {
        return Err(FlatError::square("a click is no place in a picture"));
    }
    if sizes.iter().any(|mm| !(*mm > 1e-3 && *mm < 1e5)) {
        return Err(FlatError::square("a known size is not between 0.001 mm and 100 m"));
    }
    Ok(())
}

fn clicks(square: &Square) -> usize {
    match square {
        Square::Rectangle { .. } => 4,
        Square::Circle { places_px, .. } => places_px.len(),
        Square::Ruler { .. } => 2,
    }
}

fn moved(square: &Square, index: usize, axis: usize, by: f64) -> Square {
    let mut square = square.clone();
    let places: &mut [[f64; 2]] = match &mut square {
        Square::Rectangle { corners_px, .. } => corners_px,
        Square::Circle { places_px, .. } => places_px,
        Square::Ruler { ends_px, .. } => ends_px,
    };
    if let Some(place) = places.get_mut(index) {
        place[axis] += by;
    }
    square
}

fn resized(square: &Square, size: usize, by: f64) -> Option<Square> {
    let mut square = square.clone();
    match (&mut square, size) {
        (Square::Rectangle { width_mm, .. }, 0) => *width_mm *= by,
        (Square::Rectangle { height_mm, .. }, _) => *height_mm *= by,
        (Square::Circle { diameter_mm, .. }, 0) => *diameter_mm *= by,
        (Square::Ruler { length_mm, .. }, 0) => *length_mm *= by,
        _ => return None,
    }
    Some(square)
}

fn solved(square: &Square) -> Result<Matrix3<f64>, FlatError> {
    match square {
        Square::Rectangle { corners_px, width_mm: w, height_mm: h } => {
            homography(corners_px, &[[0.0, *h], [*w, *h], [*w, 0.0], [0.0, 0.0]])
        }
        Square::Circle { places_px, diameter_mm } => Ok(Conic::through(places_px)?.to_circle(0.5 * diameter_mm)),
        Square::Ruler { ends_px: [a, b], length_mm } => {
            let px = (a[0] - b[0]).hypot(a[1] - b[1]);
            if px < 2.0 {
                return Err(FlatError::square("the ruler's two clicks are at one place"));
            }
            let k = length_mm / px;
            Ok(Matrix3::new(k, 0.0, -k * a[0], 0.0, -k, k * a[1], 0.0, 0.0, 1.0))
        }
    }
}

/// The projective map of four places to four others (direct linear transformation; eight equations, pixels brought near 1 first).
fn homography(from: &[[f64; 2]; 4], to: &[[f64; 2]; 4]) -> Result<Matrix3<f64>, FlatError> {
    let turn = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    let turns: Vec<f64> = (0..4).map(|i| turn(from[i], from[(i + 1) % 4], from[(i + 2) % 4])).collect();
    // Pixels grow downward: clockwise as seen is above 0.
    if !turns.iter().all(|t| *t > 4.0) {
        return Err(FlatError::square("the four corners must go clockwise round a rectangle as it is seen, from its top left corner"));
    }
    let scale = 1.0 / from.iter().flatten().fold(1.0_f64, |most, x| most.max(x.abs()));
    let (mut a, mut b) = (DMatrix::zeros(8, 8), DVector::zeros(8));
    for (i, ([x, y], [u, v])) in from.iter().map(|p| p.map(|x| x * scale)).zip(to).enumerate() {
        for (row, value, line) in [(2 * i, *u, [x, y, 1.0, 0.0, 0.0, 0.0]), (2 * i + 1, *v, [0.0, 0.0, 0.0, x, y, 1.0])] {
            line.iter().enumerate().for_each(|(k, entry)| a[(row, k)] = *entry);
            (a[(row, 6)], a[(row, 7)], b[row]) = (-value * x, -value * y, value);
        }
    }
    let h = a.lu().solve(&b).ok_or_else(|| FlatError::square("three of the four corners lie in one line"))?;
    let map = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0);
    Ok(map * Matrix3::new(scale, 0.0, 0.0, 0.0, scale, 0.0, 0.0, 0.0, 1.0))
}

/// An ellipse: (p - centre)' q (p - centre) = 1.
struct Conic {
    centre: [f64; 2],
    q: Matrix2<f64>,
}

impl Conic {
    /// The conic nearest to places in the algebraic sense, about their middle; an ellipse or nothing.
    fn through(places: &[[f64; 2]]) -> Result<Conic, FlatError> {
        let bad = || FlatError::square("the places do not lie round a circle seen aslant; click five or more, spread all round it");
        if places.len() < 5 {
            return Err(bad());
        }
        let n = places.len() as f64;
        let middle = [0, 1].map(|i| places.iter().map(|p| p[i]).sum::<f64>() / n);
        let spread = places.iter().map(|p| (p[0] - middle[0]).hypot(p[1] - middle[1])).sum::<f64>() / n;
        if spread < 1.0 {
            return Err(bad());
        }
        let mut a = DMatrix::zeros(places.len(), 5);
        for (i, p) in places.iter().enumerate() {
            let [x, y] = [0, 1].map(|k| (p[k] - middle[k]) / spread);
            [x * x, x * y, y * y, x, y].iter().enumerate().for_each(|(k, entry)| a[(i, k)] = *entry);
        }
        let c = a.svd(true, true).solve(&DVector::from_element(places.len(), 1.0), 1e-9).map_err(|_| bad())?;
        let m = Matrix2::new(c[0], 0.5 * c[1], 0.5 * c[1], c[2]);
        let linear = nalgebra::Vector2::new(c[3], c[4]);
        let centre = m.try_inverse().ok_or_else(bad)? * linear * -0.5;
        let rest = 1.0 + (centre.transpose() * m * centre)[0];
        let q = m / rest;
        let eigen = q.symmetric_eigen().eigenvalues;
        if !(eigen.iter().all(|e| *e > 1e-6 && e.is_finite()) && rest > 0.0) {
            return Err(bad());
        }
        Ok(Conic { centre: [middle[0] + spread * centre.x, middle[1] + spread * centre.y], q: q / (spread * spread) })
    }

    /// Parallel projection's way back: the ellipse stretched to its circle.
    fn to_circle(&self, radius_mm: f64) -> Matrix3<f64> {
        let eigen = self.q.symmetric_eigen();
        let root =
            eigen.eigenvectors * Matrix2::from_diagonal(&eigen.eigenvalues.map(|e| e.max(0.0).sqrt())) * eigen.eigenvectors.transpose();
        let m = root * radius_mm;
        let [cx, cy] = self.centre;
        let shift = [-(m[(0, 0)] * cx + m[(0, 1)] * cy), -(m[(1, 0)] * cx + m[(1, 1)] * cy)];
        // y up.
        Matrix3::new(m[(0, 0)], m[(0, 1)], shift[0], -m[(1, 0)], -m[(1, 1)], -shift[1], 0.0, 0.0, 1.0)
    }

    /// Tangent of the tilt: the axes' ratio is its cosine.
    fn tilt_tan(&self) -> f64 {
        let eigen = self.q.symmetric_eigen().eigenvalues;
        let cosine = (eigen.min() / eigen.max()).sqrt().clamp(1e-3, 1.0);
        (1.0 / (cosine * cosine) - 1.0).sqrt()
    }
}

use crate::CameraFacts;

/// One reading of what the camera says about its focal length.
#[derive(Clone, Debug, PartialEq)]
pub struct FocalGuess {
    /// Focal length in px of the picture at hand.
    pub focal_px: f64,
    /// One sigma, px.
    pub sigma_px: f64,
    /// 0..1; those of one photo sum to 1.
    pub odds: f64,
    /// Where it came from, in words.
    pub source: String,
}

/// Width and diagonal of a 35 mm frame, mm: 36 x 24.
const FRAME_WIDTH_MM: f64 = 36.0;
const FRAME_DIAGONAL_MM: f64 = 43.266_615_305_567_87;

/// A lens keeps its nominal focal length to about this share (one sigma; common practice, no source). Close up a lens that moves as a
/// whole is longer still, by the magnification; that needs the distance, so the profile step must allow for it, not this one.
const LENS_SHARE: f64 = 0.01;

/// Two sizes of one picture count as the same shape to this share of the ratio of their sides.
const SHAPE_SHARE: f64 = 0.01;

impl CameraFacts {
    /// What the facts say about the focal length in px of a picture of this size (upright or not: only its longer and shorter side count).
    /// Empty when they say nothing.
    ///
    /// - True focal length and pixels per mm on the sensor, where both are there, corrected when the picture was scaled after the
    ///   camera recorded it.
    /// - Else the 35 mm equivalent, read both ways that makers use (see [`focal_from_35mm`]).
    /// - Where the two contradict each other (software that scaled the picture and kept the old tags), both, with odds.
    pub fn focal_guesses(&self, width_px: usize, height_px: usize) -> Vec<FocalGuess> {
        if width_px == 0 || height_px == 0 {
            return Vec::new();
        }
        let [long, short] = sides([width_px, height_px]);
        let by_sensor = self.by_sensor(long, short);
        let by_film = self.by_film(long, short);
        match (by_sensor.is_empty(), by_film.is_empty()) {
            (true, _) => by_film,
            (false, true) => by_sensor,
            // 8 % holds both readings of the 35 mm tag, its rounding and the lens; a scaled picture is off by more.
            (false, false) => {
                let agree = |a: &FocalGuess| by_film.iter().any(|b| (a.focal_px / b.focal_px - 1.0).abs() < 0.08);
                let agreed: Vec<FocalGuess> = by_sensor.iter().filter(|&a| agree(a)).cloned().collect();
                if agreed.is_empty() {
                    shared(by_sensor, 0.3).into_iter().chain(shared(by_film, 0.7)).collect()
                } else {
                    shared(agreed, 1.0)
                }
            }
        }
    }

    fn by_sensor(&self, long: f64, short: f64) -> Vec<FocalGuess> {
        let (Some(focal_mm), Some(per_mm)) = (self.focal_mm, self.sensor_px_per_mm) else { return Vec::new() };
        // Pixels are square; where the two resolutions differ, their spread is doubt.
        let (mean, spread) = ((per_mm[0] * per_mm[1]).sqrt(), (per_mm[0] / per_mm[1]).ln().abs() / 2.0);
        let share = (LENS_SHARE.powi(2) + rounding_share(focal_mm).powi(2) + spread.powi(2)).sqrt();
        let guess = |scale: f64, odds: f64, how: &str| {
            let focal_px = focal_mm * mean * scale;
            let source = format!("EXIF: focal length {focal_mm} mm and {mean:.2} px/mm on the sensor{how}");
            FocalGuess { focal_px, sigma_px: focal_px * share, odds, source }
        };
        match self.scaling(long, short) {
            Scaling::Whole(scale) if (scale - 1.0).abs() < 1e-3 => vec![guess(1.0, 1.0, "")],
            Scaling::Whole(scale) => vec![guess(scale, 1.0, &format!(", picture scaled by {scale:.4} since"))],
            Scaling::Unknown => vec![guess(1.0, 1.0, ", taken for unscaled")],
            Scaling::Cropped(scale) => {
                vec![
                    guess(1.0, 0.5, ", picture cropped, not scaled"),
                    guess(scale, 0.5, &format!(", picture cropped and scaled by {scale:.4}")),
                ]
            }
        }
    }

    fn by_film(&self, long: f64, short: f64) -> Vec<FocalGuess> {
        let Some(focal_35mm) = self.focal_35mm else { return Vec::new() };
        let source = format!("EXIF: {focal_35mm} mm as on 35 mm film");
        // The tag speaks of the frame the camera recorded.
        let Some(recorded) = self.recorded_px.map(sides) else { return focal_from_35mm(focal_35mm, 1.0, long, short, &source) };
        let of_frame =
            |scale: f64, how: &str| focal_from_35mm(focal_35mm, 1.0, recorded[0] * scale, recorded[1] * scale, &format!("{source}{how}"));
        match self.scaling(long, short) {
            Scaling::Cropped(scale) => {
                let unscaled = shared(of_frame(1.0, ", picture cropped, not scaled"), 0.5);
                unscaled.into_iter().chain(shared(of_frame(scale, ", picture cropped and scaled"), 0.5)).collect()
            }
            _ => focal_from_35mm(focal_35mm, 1.0, long, short, &source),
        }
    }

    fn scaling(&self, long: f64, short: f64) -> Scaling {
        let Some([recorded_long, recorded_short]) = self.recorded_px.map(sides) else { return Scaling::Unknown };
        let (by_long, by_short) = (long / recorded_long, short / recorded_short);
        // Rounding to whole px moves the ratio too, in small pictures.
        if (by_long / by_short - 1.0).abs() <= SHAPE_SHARE + 1.0 / short {
            Scaling::Whole(by_long)
        } else {
            Scaling::Cropped(by_long.max(by_short))
        }
    }
}

/// What happened to the picture since the camera recorded it.
enum Scaling {
    /// Scaled by this factor, all of it there.
    Whole(f64),
    /// Cropped: it was scaled by this factor if the crop kept one side whole, else by an unknown one.
    Cropped(f64),
    /// The camera recorded no size.
    Unknown,
}

/// The focal length in px that a 35 mm equivalent stands for, for a frame of these sides, px: by the diagonal, f35 sqrt(W^2 + H^2) /
/// 43.267 mm (CIPA DCG-001), and by the width, f35 W / 36 mm (W the longer side), which some makers use. Equal odds; one guess where they
/// agree within a tenth of their doubt, as on 3:2 frames. `step_mm` is the grid the value was rounded to: 1 for the EXIF tag.
pub fn focal_from_35mm(focal_35mm: f64, step_mm: f64, side_a_px: f64, side_b_px: f64, source: &str) -> Vec<FocalGuess> {
    let usable = [focal_35mm, side_a_px, side_b_px].iter().all(|v| v.is_finite() && *v > 0.0) && step_mm.is_finite() && step_mm >= 0.0;
    if !usable {
        return Vec::new();
    }
    let rounding = step_mm / 12f64.sqrt() / focal_35mm;
    let share = (rounding.powi(2) + LENS_SHARE.powi(2)).sqrt();
    let guess =
        |focal_px: f64, odds: f64, how: &str| FocalGuess { focal_px, sigma_px: focal_px * share, odds, source: format!("{source}{how}") };
    let by_diagonal = focal_35mm * side_a_px.hypot(side_b_px) / FRAME_DIAGONAL_MM;
    let by_width = focal_35mm * side_a_px.max(side_b_px) / FRAME_WIDTH_MM;
    if (by_diagonal / by_width - 1.0).abs() < 0.1 * share {
        return vec![guess(0.5 * (by_diagonal + by_width), 1.0, ", by diagonal or width alike")];
    }
    vec![guess(by_diagonal, 0.5, ", by the diagonal"), guess(by_width, 0.5, ", by the width")]
}

fn sides([a, b]: [usize; 2]) -> [f64; 2] {
    [a.max(b) as f64, a.min(b) as f64]
}

/// The same guesses with their odds summing to `total`.
fn shared(mut guesses: Vec<FocalGuess>, total: f64) -> Vec<FocalGuess> {
    let sum: f64 = guesses.iter().map(|g| g.odds).sum();
    guesses.iter_mut().for_each(|g| g.odds *= total / sum);
    guesses
}

/// One sigma of rounding to the last decimal that is used, as a share: 5.4 mm was rounded to 0.1 mm.
fn rounding_share(focal_mm: f64) -> f64 {
    let step = [1.0, 0.1, 0.01].into_iter().find(|step| ((focal_mm / step).round() * step - focal_mm).abs() < 1e-6).unwrap_or(0.001);
    step / 12f64.sqrt() / focal_mm
}

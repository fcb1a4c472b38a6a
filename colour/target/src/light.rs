use crate::correction::{Checked, Correction, known_linear};
use crate::patch::{self, PatchPixels};
use crate::{Polygon, TargetError};
use nalgebra::{Matrix2, Matrix3, Vector2, Vector3};
use photo::Picture;
use quantity::{Note, Noted};

/// A patch known to be grey.
#[derive(Clone, Debug, PartialEq)]
pub struct NeutralPatch {
    /// Where.
    pub polygon: Polygon,
    /// Its reflectance, 0..1: 0.18 for a grey card.
    pub reflectance: f64,
}

/// A patch of known colour.
#[derive(Clone, Debug, PartialEq)]
pub struct KnownPatch {
    /// Where.
    pub polygon: Polygon,
    /// CIELAB, D65, 2 degrees.
    pub lab: [f64; 3],
}

/// The light in a photo: what a perfect white would read, and how that falls off across the picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Light {
    /// Linear camera values of a perfect white at `at`.
    pub white: [f64; 3],
    /// Where `white` holds, px: the middle of the neutral patch.
    pub at: [f64; 2],
    /// Reflectance of the neutral patch, where `tone` turns: 1 without one.
    pub anchor: f64,
    /// The camera's contrast: its values grow as light to this power. 1 unless grey steps in the picture say otherwise.
    pub tone: f64,
    /// Fall of the light, d ln E per px, across and down.
    pub fall: [f64; 2],
    /// What happens after the balance.
    pub correction: Correction,
    /// Mean CIEDE2000 of the known patches, each foretold from the others; `None` without patches.
    pub residual_de00: Option<f64>,
    /// Covariance of ln R, ln G, ln B of the white.
    pub covariance: [[f64; 3]; 3],
    /// Root mean square error in a* and b* of the patches; `None` where too few patches tell.
    pub chroma_rms: Option<f64>,
    /// What it rests on, in words.
    pub source: String,
}

/// How well a card's stated grey is kept, one sigma: level, and each channel against the others. Common practice for printed and moulded
/// cards, no source.
const CARD_LEVEL_SIGMA: f64 = 0.02;
const CARD_TINT_SIGMA: f64 = 0.008;

/// A camera whose channels are only balanced gets colours wrong by about 6 % of their chroma and half a unit (one sigma of a* and b*):
/// simulation with two cameras' sensitivities in daylight, mean CIEDE2000 0.6 to 2.8 over 24 patches (design notes, "Photos").
const CAMERA_SHARE: f64 = 0.06;
const CAMERA_FLOOR: f64 = 0.5;

/// A change of colour of the light across one patch that is told, and one that is refused (ln of red over blue).
const TINT_TOLD: f64 = 0.05;
const TINT_REFUSED: f64 = 0.12;

/// Scatter of a patch that cannot be noise of a usable photo.
const SCATTER_REFUSED: f64 = 0.2;

impl Light {
    /// Finds the light from what is known in the picture. Neutral patch: the white, and the fall from its own pixels. Known patches:
    /// the white where there is no neutral patch, more on the fall, and a correction of the camera's colours when there are enough.
    pub fn find(picture: &Picture, neutral: Option<&NeutralPatch>, patches: &[KnownPatch]) -> Result<Noted<Light>, TargetError> {
        if neutral.is_none() && patches.is_empty() {
            return Err(TargetError::NoLight);
        }
        let mut notes = Vec::new();
        let grey = neutral.map(|patch| read_neutral(picture, patch, &mut notes)).transpose()?;
        let known = read_known(picture, patches, &mut notes)?;
        let fall = fall_of_light(grey.iter().map(|(pixels, _)| pixels).chain(known.iter().map(|k| &k.pixels)));
        let (white, at) = match &grey {
            Some((pixels, reflectance)) => (pixels.mean.map(|v| v / reflectance), pixels.at),
            None => white_of_patches(&known, fall).ok_or(TargetError::NoLight)?,
        };
        let mut light = Light {
            white,
            at,
            anchor: grey.as_ref().map_or(1.0, |(_, reflectance)| *reflectance),
            tone: 1.0,
            fall: fall.into(),
            correction: Correction::Balance,
            residual_de00: None,
            covariance: white_covariance(&grey, &known).into(),
            chroma_rms: None,
            source: source_words(neutral.is_some(), patches.len()),
        };
        if !known.is_empty() {
            light.straighten(&known, &mut notes);
            light.correct(&known, &mut notes)?;
        }
        Ok(Noted { value: light, notes })
    }

    /// Reflectance, linear sRGB, of what reads `linear` at `at`, if it were turned to the light as the neutral patch is.
    pub fn reflectance(&self, linear: [f64; 3], at: [f64; 2]) -> [f64; 3] {
        let fall = self.fall_to(at).exp();
        self.correction.apply(std::array::from_fn(|i| self.straight(linear[i] / (self.white[i] * fall))))
    }

    /// Undoes the camera's contrast, which leaves the neutral patch where it is.
    fn straight(&self, balanced: f64) -> f64 {
        if self.tone == 1.0 { balanced } else { self.anchor * (balanced.max(0.0) / self.anchor).powf(1.0 / self.tone) }
    }

    /// Cameras that please the eye steepen the picture: a power of light is the first-order model of it. Four grey steps that span 30 L*
    /// are needed to tell it from uneven light; a power within three of its sigmas, or 4 %, of 1 is left alone.
    fn straighten(&mut self, known: &[Known], notes: &mut Vec<Note>) {
        let greys: Vec<(f64, f64)> = known.iter().filter(|k| k.chroma < 6.0 && k.lightness > 15.0).map(|k| self.grey_step(k)).collect();
        let n = greys.len() as f64;
        let (mx, my) = (greys.iter().map(|g| g.0).sum::<f64>() / n, greys.iter().map(|g| g.1).sum::<f64>() / n);
        let (sxx, sxy) = greys.iter().fold((0.0, 0.0), |(xx, xy), (x, y)| (xx + (x - mx).powi(2), xy + (x - mx) * (y - my)));
        let lightness = || known.iter().filter(|k| k.chroma < 6.0).map(|k| k.lightness);
        if greys.len() < 4 || lightness().fold(0.0, f64::max) - lightness().fold(100.0, f64::min) < 30.0 {
            return;
        }
        let tone = sxy / sxx;
        let left = greys.iter().map(|(x, y)| (y - my - tone * (x - mx)).powi(2)).sum::<f64>() / (n - 2.0);
        let sigma = (left / sxx).sqrt();
        if (tone - 1.0).abs() > (3.0 * sigma).max(0.04) && (0.5..2.0).contains(&tone) {
            self.tone = tone;
            let text = format!(
                "The grey steps show that the camera made the picture {} (power {tone:.2}); it was undone.",
                if tone > 1.0 { "steeper" } else { "flatter" }
            );
            notes.push(Note::new(text, "Switch off picture styles in the camera, or develop the raw file without a tone curve."));
        }
    }

    /// ln of known and of read luminance of a grey patch.
    fn grey_step(&self, known: &Known) -> (f64, f64) {
        let fall = self.fall_to(known.pixels.at).exp();
        let read = patch::luminance(std::array::from_fn(|i| known.pixels.mean[i] / (self.white[i] * fall)));
        (patch::luminance(known.linear).max(1e-3).ln(), read.max(1e-4).ln())
    }

    /// ln of the light at a place over that at the neutral patch.
    ///
    /// The fall is measured on the patch and carried on to the part: 0.85 of it, since a lamp's fall flattens away from the steepest
    /// place, and at most a factor 2.
    pub fn fall_to(&self, at: [f64; 2]) -> f64 {
        let carried = self.fall[0] * (at[0] - self.at[0]) + self.fall[1] * (at[1] - self.at[1]);
        (0.85 * carried).clamp(-0.7, 0.7)
    }

    /// Doubt of [`Light::fall_to`], one sigma of ln: a third of what was carried on, and 3 % for what the patch cannot show.
    pub fn fall_sigma(&self, at: [f64; 2]) -> f64 {
        (0.35 * self.fall_to(at)).hypot(0.03)
    }

    /// One sigma of a* and b* that the camera's colours bring to a colour of this chroma.
    pub fn camera_sigma(&self, chroma: f64) -> f64 {
        let uncorrected = CAMERA_FLOOR + CAMERA_SHARE * chroma;
        // Patches tell it; but a few patches can agree by chance, so the measured error is never trusted below 0.3.
        self.chroma_rms.map_or(uncorrected, |rms| rms.max(0.3))
    }

    fn correct(&mut self, known: &[Known], notes: &mut Vec<Note>) -> Result<(), TargetError> {
        let balanced: Vec<[f64; 3]> = known.iter().map(|k| self.reflectance(k.pixels.mean, k.pixels.at)).collect();
        let truth: Vec<[f64; 3]> = known.iter().map(|k| k.linear).collect();
        let Checked { correction, left_out_de00, chroma_rms } = Correction::choose(&balanced, &truth);
        let mean = left_out_de00.iter().sum::<f64>() / left_out_de00.len() as f64;
        let worst = (0..left_out_de00.len()).max_by(|&a, &b| left_out_de00[a].total_cmp(&left_out_de00[b])).unwrap_or(0);
        if mean > 12.0 {
            return Err(TargetError::PatchesContradict { de00: mean, worst: worst + 1 });
        }
        if mean > 4.0 {
            let text = format!("The known patches are met to {mean:.1} (CIEDE2000) on average only, worst patch {}.", worst + 1);
            notes.push(Note::new(text, "Check that each patch is marked with its own colour, and that no shadow or gloss lies on it."));
        }
        self.correction = correction;
        self.residual_de00 = Some(mean);
        // Fewer than four patches say more about themselves than about the camera.
        self.chroma_rms = (known.len() >= 4).then_some(chroma_rms);
        Ok(())
    }
}

struct Known {
    pixels: PatchPixels,
    linear: [f64; 3],
    lightness: f64,
    chroma: f64,
}

fn read_neutral(picture: &Picture, patch: &NeutralPatch, notes: &mut Vec<Note>) -> Result<(PatchPixels, f64), TargetError> {
    if !(0.01..=1.0).contains(&patch.reflectance) {
        let (what, value) = ("the neutral patch's reflectance".into(), patch.reflectance);
        return Err(TargetError::BadNumber { what, value, expected: "it must lie between 0.01 and 1; a grey card has 0.18".into() });
    }
    let pixels = patch::pixels(picture, &patch.polygon, "the neutral patch")?;
    refuse_unusable(&pixels, "the neutral patch", 0.02)?;
    if pixels.mean.iter().any(|&v| v < 2.0 * patch::DARKEST) {
        return Err(TargetError::TooDark { what: "the neutral patch".into() });
    }
    let (change, error) = pixels.tint_change;
    let place = "from one end of the neutral patch to the other";
    if change > TINT_REFUSED && change > 5.0 * error {
        // A step in the patch looks like a change of tint too; one light fading into another leaves no scatter.
        let step = pixels.scatter > 0.08;
        let uneven = TargetError::Uneven { what: "the neutral patch".into(), percent: 100.0 * pixels.scatter };
        return Err(if step { uneven } else { TargetError::MixedLight { percent: 100.0 * change, place: place.into() } });
    }
    if change > TINT_TOLD && change > 5.0 * error {
        let text = format!("The colour of the light changes by {:.0} % {place}: it may be mixed.", 100.0 * change);
        notes.push(Note::new(text, "Take the photo in one light only."));
    }
    if pixels.mean.iter().any(|&v| v < 0.01) {
        notes.push(Note::new("The neutral patch is very dark in the photo, so noise enters every colour.", "Expose longer."));
    }
    Ok((pixels, patch.reflectance))
}

fn refuse_unusable(pixels: &PatchPixels, what: &str, most_clipped: f64) -> Result<(), TargetError> {
    if pixels.clipped > most_clipped {
        return Err(TargetError::Clipped { what: what.into(), percent: 100.0 * pixels.clipped });
    }
    if pixels.scatter > SCATTER_REFUSED {
        return Err(TargetError::Uneven { what: what.into(), percent: 100.0 * pixels.scatter });
    }
    Ok(())
}

/// Known patches; those burnt out or too dark are left aside and said so.
fn read_known(picture: &Picture, patches: &[KnownPatch], notes: &mut Vec<Note>) -> Result<Vec<Known>, TargetError> {
    let mut known = Vec::new();
    for (i, patch) in patches.iter().enumerate() {
        if let Some(&value) = patch.lab.iter().find(|v| !v.is_finite() || v.abs() > 200.0) {
            let expected = "Lab of a patch must be ordinary numbers".into();
            return Err(TargetError::BadNumber { what: format!("a coordinate of patch {}", i + 1), value, expected });
        }
        let what = format!("patch {}", i + 1);
        match patch::pixels(picture, &patch.polygon, &what).and_then(|pixels| refuse_unusable(&pixels, &what, 0.02).map(|()| pixels)) {
            Ok(pixels) => {
                let [lightness, a, b] = patch.lab;
                known.push(Known { pixels, linear: known_linear(patch.lab), lightness, chroma: a.hypot(b) });
            }
            Err(error) => notes.push(Note::new(format!("A patch was left aside: {error}."), "")),
        }
    }
    Ok(known)
}

/// Pools the falls seen inside each patch: what a patch's own colour is does not matter there.
fn fall_of_light<'a>(patches: impl Iterator<Item = &'a PatchPixels>) -> Vector2<f64> {
    let (mut matrix, mut right) = (Matrix2::zeros(), Vector2::zeros());
    for pixels in patches {
        matrix += pixels.fall_matrix;
        right += pixels.fall_right;
    }
    matrix.try_inverse().map_or(Vector2::zeros(), |inverse| inverse * right)
}

/// The white that the known patches agree on: least squares for each channel, the fall taken out. Needs light in every channel.
fn white_of_patches(known: &[Known], fall: Vector2<f64>) -> Option<([f64; 3], [f64; 2])> {
    let n = known.len() as f64;
    let at = [0, 1].map(|i| known.iter().map(|k| k.pixels.at[i]).sum::<f64>() / n);
    let white = [0, 1, 2].map(|i| {
        let sums = known.iter().fold((0.0, 0.0), |(top, bottom), k| {
            let fallen = (fall.x * (k.pixels.at[0] - at[0]) + fall.y * (k.pixels.at[1] - at[1])).clamp(-0.7, 0.7).exp();
            let truth = k.linear[i].max(0.0);
            (top + truth * k.pixels.mean[i] / fallen, bottom + truth * truth)
        });
        sums.0 / sums.1
    });
    white.iter().all(|w| w.is_finite() && *w > 0.0).then_some((white, at))
}

fn white_covariance(grey: &Option<(PatchPixels, f64)>, known: &[Known]) -> Matrix3<f64> {
    let noise = match grey {
        Some((pixels, _)) => Vector3::from(pixels.relative_error),
        // Patches agree to about 4 % each (print, gloss, uneven light); their number helps.
        None => Vector3::repeat(0.04 / (known.len().max(1) as f64).sqrt()),
    };
    Matrix3::repeat(CARD_LEVEL_SIGMA.powi(2)) + Matrix3::from_diagonal(&noise.map(|s| s * s + CARD_TINT_SIGMA.powi(2)))
}

fn source_words(neutral: bool, patches: usize) -> String {
    match (neutral, patches) {
        (true, 0) => "a neutral patch".into(),
        (true, n) => format!("a neutral patch and {n} patches of known colour"),
        (false, n) => format!("{n} patches of known colour"),
    }
}

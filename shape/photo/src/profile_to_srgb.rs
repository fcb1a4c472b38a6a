use crate::CameraFacts;
use crate::decode::Stored;
use moxcms::{CmsError, ColorProfile, DataColorSpace, Layout, RenderingIntent, TransformOptions};
use quantity::Note;

/// Converts the stored pixels to sRGB by the embedded profile and says what had to be assumed. The profile's white is carried to the
/// white of sRGB (relative colorimetric), which is what a white-balanced photo means.
pub(crate) fn convert(stored: &mut Stored, facts: &CameraFacts) -> Option<Note> {
    let Some(icc) = stored.icc.take() else {
        return (!stored.says_srgb).then(|| assumed(facts)).flatten();
    };
    // Work on a copy of one row at a time and write back only when every row went well: half a converted picture is worse than none.
    match transform(&stored.rgb, &icc) {
        Ok(converted) => {
            stored.rgb = converted;
            None
        }
        Err(error) => Some(Note::new(
            format!("The photo's colour profile is broken or of a kind not read here ({error:?}); it was ignored and sRGB assumed."),
            "Export the photo again as sRGB; until then trust its shape, not its colour.",
        )),
    }
}

fn assumed(facts: &CameraFacts) -> Option<Note> {
    match facts.colour_space {
        Some(1) => None,
        Some(0xffff) => Some(Note::new(
            "The camera says the photo is not in sRGB, yet no colour profile is embedded; it was read as sRGB, so strong colours come out too pale.",
            "Export the photo again as sRGB, or with its profile.",
        )),
        _ => Some(Note::new("The photo carries no colour profile; sRGB is assumed, as is common.", "")),
    }
}

fn transform(rgb: &[u8], icc: &[u8]) -> Result<Vec<u8>, CmsError> {
    let profile = ColorProfile::new_from_slice(icc)?;
    let srgb = ColorProfile::new_srgb();
    let options = TransformOptions { rendering_intent: RenderingIntent::RelativeColorimetric, ..TransformOptions::default() };
    if profile.color_space == DataColorSpace::Gray {
        let table = grey_table(&profile, &srgb, options)?;
        return Ok(rgb.chunks_exact(3).flat_map(|pixel| table[usize::from(pixel[0])]).collect());
    }
    let executor = profile.create_transform_8bit(Layout::Rgb, &srgb, Layout::Rgb, options)?;
    let mut converted = vec![0; rgb.len()];
    executor.transform(rgb, &mut converted)?;
    Ok(converted)
}

fn grey_table(profile: &ColorProfile, srgb: &ColorProfile, options: TransformOptions) -> Result<[[u8; 3]; 256], CmsError> {
    let executor = profile.create_transform_8bit(Layout::Gray, srgb, Layout::Rgb, options)?;
    let codes: Vec<u8> = (0..=255).collect();
    let mut flat = [0u8; 768];
    executor.transform(&codes, &mut flat)?;
    Ok(std::array::from_fn(|i| [flat[3 * i], flat[3 * i + 1], flat[3 * i + 2]]))
}

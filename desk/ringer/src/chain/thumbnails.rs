use super::evidence::{Evidence, PhotoEvidence};
use super::memory::Memory;
use photo::Crop;
use result::JobResult;
use sheet::SheetPhoto;

/// Longest side, px: 150 mm on paper at 170 dots an inch.
const LONGEST_PX: usize = 1000;

/// Photos as the sheet shows them: cut to the part with some ground round it, no larger than print needs.
pub(super) fn thumbnails(evidence: &Evidence, sheet: &JobResult, memory: &mut Memory) -> Vec<SheetPhoto> {
    memory.thumbnails.room_for(evidence.photos.len());
    let one = |photo: &PhotoEvidence| {
        let picture = &photo.photo.picture;
        let name = &evidence.entry(photo).name;
        let crop = crop(sheet, name, picture.width_px(), picture.height_px());
        let made = memory.thumbnails.get(format!("{} {crop:?}", photo.key), || photo::jpeg_thumbnail(picture, crop, LONGEST_PX, 85).ok());
        let crop_px = [crop.left_px as f64, crop.top_px as f64, crop.width_px as f64, crop.height_px as f64];
        Some(SheetPhoto { name: name.clone(), jpeg: made.as_ref().clone()?, crop_px })
    };
    evidence.photos.iter().filter_map(one).collect()
}

fn crop(sheet: &JobResult, name: &str, width_px: usize, height_px: usize) -> Crop {
    let whole = Crop { left_px: 0, top_px: 0, width_px, height_px };
    let Some(photo) = sheet.photos.iter().find(|photo| photo.name == name) else { return whole };
    let edges = [&photo.outline.left, &photo.outline.right, &photo.outline.rod_left, &photo.outline.rod_right];
    let bounds = edges.into_iter().flatten().fold([f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY], |b, p| {
        [b[0].min(p[0]), b[1].min(p[1]), b[2].max(p[0]), b[3].max(p[1])]
    });
    if bounds[2] <= bounds[0] || bounds[3] <= bounds[1] {
        return whole;
    }
    let margin = 0.12 * (bounds[2] - bounds[0]).max(bounds[3] - bounds[1]);
    let left_px = (bounds[0] - margin).max(0.0) as usize;
    let top_px = (bounds[1] - margin).max(0.0) as usize;
    let right_px = ((bounds[2] + margin) as usize).clamp(left_px + 1, width_px.max(left_px + 1));
    let bottom_px = ((bounds[3] + margin) as usize).clamp(top_px + 1, height_px.max(top_px + 1));
    Crop { left_px, top_px, width_px: right_px - left_px, height_px: bottom_px - top_px }
}

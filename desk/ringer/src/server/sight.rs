//! Photos for looking at and working on: the upright picture as the page shows it, and the outline while a click is being dragged.

use super::changes::{Trouble, on_worker};
use super::{Desk, lines_of, typed};
use axum::Json;
use axum::extract::{Path as UrlPath, Query, State};
use axum::response::{IntoResponse, Response};
use job::{JobFolder, read};
use outline::Clicks;
use photo::{Limits, Picture};
use serde::Deserialize;
use serde_json::json;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

/// The photos looked at last, decoded, with a small copy for quick work.
#[derive(Default)]
pub(super) struct Sight {
    last: Mutex<VecDeque<(String, Arc<Views>)>>,
}

struct Views {
    full: Picture,
    small: Picture,
    /// Photo px a pixel of the small copy.
    factor: usize,
}

/// One is being worked on, another glanced at; a decoded photo may have 300 MB.
const KEPT: usize = 2;
/// Longest side of the small copy, px: small enough that its outline follows a hand, good to a hundredth of the part.
const SMALL_SIDE_PX: usize = 400;

impl Sight {
    fn of(&self, folder: &JobFolder, name: &str) -> Result<Arc<Views>, Trouble> {
        let document = read(&folder.document_text()?).map_err(|problems| Trouble::Job(lines_of(&problems)))?;
        let entry =
            document.photo.iter().find(|photo| photo.name == name).ok_or_else(|| Trouble::Job(format!("no photo is named `{name}`")))?;
        let key = format!("{} {}", entry.file, folder.stamp(&entry.file).unwrap_or_default());
        let mut last = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, views)) = last.iter().find(|(known, _)| *known == key) {
            return Ok(views.clone());
        }
        let limits = Limits::default();
        let bytes = folder.evidence(&entry.file, limits.max_bytes as u64).map_err(|problem| Trouble::Job(problem.to_string()))?;
        let full = photo::decode(&bytes, &limits).map_err(|e| Trouble::Job(e.to_string()))?.picture;
        let factor = full.width_px().max(full.height_px()).div_ceil(SMALL_SIDE_PX).max(1);
        let small = reduced(&full, factor).ok_or_else(|| Trouble::Job(format!("{}: the picture is too small to work on", entry.file)))?;
        let views = Arc::new(Views { full, small, factor });
        last.push_back((key, views.clone()));
        if last.len() > KEPT {
            last.pop_front();
        }
        Ok(views)
    }
}

/// Means of `factor` x `factor` pixels, in encoded values: good enough to find an edge by, not to read a colour.
fn reduced(picture: &Picture, factor: usize) -> Option<Picture> {
    let (width, height) = (picture.width_px() / factor, picture.height_px() / factor);
    let mut pixels = Vec::with_capacity(width * height);
    let rows = picture.srgb();
    for y in 0..height {
        for x in 0..width {
            let mut sum = [0u32; 3];
            for row in y * factor..(y + 1) * factor {
                for pixel in rows.iter().skip(row * picture.width_px() + x * factor).take(factor) {
                    for (total, value) in sum.iter_mut().zip(pixel) {
                        *total += u32::from(*value);
                    }
                }
            }
            let count = (factor * factor) as u32;
            pixels.push(sum.map(|total| ((total + count / 2) / count) as u8));
        }
    }
    Picture::from_srgb(width, height, pixels)
}

#[derive(Deserialize)]
pub(super) struct PictureRequest {
    /// Longest side wanted, px; left out: 1600.
    side: Option<usize>,
}

/// A photo of the job as an upright JPEG.
pub(super) async fn photo_picture(
    State(desk): State<Arc<Desk>>,
    UrlPath(name): UrlPath<String>,
    Query(request): Query<PictureRequest>,
) -> Response {
    on_worker(move || {
        let views = desk.sight.of(&desk.folder, &name)?;
        let picture = &views.full;
        let side = request.side.unwrap_or(1600).clamp(100, 4000);
        let jpeg = photo::jpeg_thumbnail(picture, photo::Crop::whole(picture), side, 88).map_err(|e| Trouble::Job(e.to_string()))?;
        let size = [("x-width-px", picture.width_px().to_string()), ("x-height-px", picture.height_px().to_string())];
        Ok((size, typed("image/jpeg", jpeg)).into_response())
    })
    .await
}

#[derive(Deserialize)]
pub(super) struct DragRequest {
    photo: String,
    /// Where the rod enters, the free end.
    axis: [[f64; 2]; 2],
}

/// The outline as two clicks would have it, found in the small copy and written nowhere: for the drag that is still going on.
pub(super) async fn outline_of_drag(State(desk): State<Arc<Desk>>, Json(request): Json<DragRequest>) -> Response {
    on_worker(move || {
        let views = desk.sight.of(&desk.folder, &request.photo)?;
        let factor = views.factor as f64;
        let [rod_entry, free_end] = request.axis.map(|place| place.map(|px| px / factor));
        // A wild click may meet an error of ours; the drag goes on without a line.
        let search = std::panic::AssertUnwindSafe(|| outline::sketch(&views.small, Clicks { rod_entry, free_end }));
        let found = match std::panic::catch_unwind(search) {
            Ok(Ok(found)) => found,
            Ok(Err(error)) => return Ok(Json(json!({ "why": error.to_string() })).into_response()),
            Err(_) => return Ok(Json(json!({ "why": "no outline can be found from here" })).into_response()),
        };
        let places = |edge: &[[f64; 2]]| edge.iter().map(|at| at.map(|px| (px * factor * 10.0).round() / 10.0)).collect::<Vec<_>>();
        let [left, right] = found.rod;
        Ok(Json(json!({ "part": places(&found.part), "rod_left": places(&left), "rod_right": places(&right) })).into_response())
    })
    .await
}

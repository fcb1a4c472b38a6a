//! A folder without a job: the page offers to start one, or to lay out the demo job. Nothing is written before the person chooses.

use super::Desk;
use super::changes::{Trouble, on_worker, state};
use axum::Json;
use axum::extract::State;
use axum::response::Response;
use job::{JobFolder, new_document, photo_name};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The demo job, as `ringer demo` lays it out.
const DEMO_DOCUMENT: &str = include_str!("../../../../cases/demo/job.toml");
const DEMO_PHOTOS: [(&str, &[u8]); 4] = [
    ("front.jpg", include_bytes!("../../../../cases/demo/photos/front.jpg")),
    ("side.jpg", include_bytes!("../../../../cases/demo/photos/side.jpg")),
    ("far.jpg", include_bytes!("../../../../cases/demo/photos/far.jpg")),
    ("chips.jpg", include_bytes!("../../../../cases/demo/photos/chips.jpg")),
];

/// Longest title, characters.
const LONGEST_TITLE: usize = 200;

#[derive(Deserialize)]
pub(super) struct StartRequest {
    #[serde(default)]
    title: String,
    /// Lay out the demo job.
    #[serde(default)]
    demo: bool,
}

/// Starts a job in the folder; one that is there is left alone and told.
pub(super) async fn start(State(desk): State<Arc<Desk>>, Json(request): Json<StartRequest>) -> Response {
    on_worker(move || {
        let writing = desk.writing.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        if request.demo {
            let photos: Vec<(String, Vec<u8>)> = DEMO_PHOTOS.iter().map(|(name, bytes)| (name.to_string(), bytes.to_vec())).collect();
            desk.folder.start(DEMO_DOCUMENT, &photos)?;
        } else {
            let title: String = request.title.trim().chars().filter(|c| !c.is_control()).take(LONGEST_TITLE).collect();
            if title.is_empty() {
                return Err(Trouble::Job("A job needs a name: what is made, for which machine.".into()));
            }
            desk.folder.start(&new_document(&title, &[]), &[])?;
        }
        drop(writing);
        state(&desk, &BTreeMap::new())
    })
    .await
}

/// Starts a job with a photo that was dropped onto the empty page.
pub(super) fn with_photo(folder: &JobFolder, file: &str, bytes: &[u8]) -> Result<(), Trouble> {
    let root = folder.root();
    let title = root.canonicalize().ok().as_deref().unwrap_or(root).file_name().map_or_else(|| "New job".to_string(), |name| name.to_string_lossy().into_owned());
    let laid_in = folder.add_photo(file, bytes)?;
    let named = [(photo_name(&laid_in, &BTreeSet::new()), laid_in)];
    Ok(folder.start(&new_document(&title, &named), &[])?)
}

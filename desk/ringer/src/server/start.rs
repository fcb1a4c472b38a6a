//! A folder without a job: the page offers to start one, or to lay out the demo job. Nothing is written before the person chooses.

use super::Desk;
use super::changes::{Trouble, on_worker, state};
use crate::demo;
use axum::Json;
use axum::extract::State;
use axum::response::Response;
use job::{Edit, JobFolder, Where, apply, new_document, photo_name};
use serde::Deserialize;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Longest title, characters.
const LONGEST_TITLE: usize = 200;

#[derive(Deserialize)]
pub(super) struct StartRequest {
    #[serde(default)]
    title: String,
    /// Size of the rod, if the person knows it: "1/4 in".
    #[serde(default)]
    rod: String,
    /// Lay out the demo job.
    #[serde(default)]
    demo: bool,
}

/// Starts a job in the folder; one that is there is left alone and told.
pub(super) async fn start(State(desk): State<Arc<Desk>>, Json(request): Json<StartRequest>) -> Response {
    on_worker(move || {
        let writing = desk.writing.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        if request.demo {
            demo::lay_out(&desk.folder)?;
        } else {
            let title: String = request.title.trim().chars().filter(|c| !c.is_control()).take(LONGEST_TITLE).collect();
            if title.is_empty() {
                return Err(Trouble::Job("A job needs a name: what is made, for which machine.".into()));
            }
            desk.folder.start(&begun(&title, &[], request.rod.trim())?, &[])?;
        }
        drop(writing);
        state(&desk, &BTreeMap::new())
    })
    .await
}

/// Starts a job with a photo that was dropped onto the empty page.
pub(super) fn with_photo(folder: &JobFolder, file: &str, bytes: &[u8]) -> Result<(), Trouble> {
    let root = folder.root();
    let title = root
        .canonicalize()
        .ok()
        .as_deref()
        .unwrap_or(root)
        .file_name()
        .map_or_else(|| "New job".to_string(), |name| name.to_string_lossy().into_owned());
    let laid_in = folder.add_photo(file, bytes)?;
    let named = [(photo_name(&laid_in, &BTreeSet::new()), laid_in)];
    Ok(folder.start(&begun(&title, &named, "")?, &[])?)
}

/// A new document with the rod's size as the person gave it, or without one: the page has no example sizes that could be taken for evidence.
fn begun(title: &str, photos: &[(String, String)], rod: &str) -> Result<String, Trouble> {
    let key = |key: &str| Where::Key(key.into());
    let named = |name: &str| Where::Named { name: name.into() };
    let known = |rest: &str, value: Value| Edit {
        path: [key("known"), named("shaft")].into_iter().chain((!rest.is_empty()).then(|| key(rest))).collect(),
        value,
    };
    let edits = if rod.is_empty() {
        let without_rod = photos.iter().map(|(name, _)| Edit { path: vec![key("photo"), named(name), key("shaft")], value: Value::Null });
        without_rod.chain([known("", Value::Null)]).collect()
    } else {
        vec![known("value", json!(rod)), known("source", Value::Null)]
    };
    Ok(apply(&new_document(title, photos), &edits)?)
}

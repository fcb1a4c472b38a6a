//! What the page asks for and changes: the job as it stands, edits, undo and redo, photos dropped in, news of changes.

use super::{Desk, lines_of, typed};
use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path as UrlPath, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use job::{Edit, EditError, History, JobError, Where, merge, photo_name, read};
use result::JobResult;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use sheet::Fragments;
use std::collections::BTreeSet;
use std::sync::Arc;

/// Changes meant for the document as the page last saw it.
#[derive(Deserialize)]
pub(super) struct EditRequest {
    /// The document's text that the page worked on.
    base: String,
    edits: Vec<Edit>,
}

/// The job as the page shows it.
#[derive(Serialize)]
struct Standing<'a> {
    /// The document's text; edits are sent with it as their base.
    text: &'a str,
    document: Value,
    can_undo: bool,
    can_redo: bool,
    /// What is wrong with the job, line by line; the result is then the last one that could be made, or absent.
    problems: Vec<String>,
    result: Option<&'a JobResult>,
    /// The sheet in pieces: name of the piece, its HTML.
    pieces: Vec<(&'a str, &'a str)>,
}

/// The job as it stands on disk, made.
pub(super) async fn job_state(State(desk): State<Arc<Desk>>) -> Response {
    on_worker(move || state(&desk)).await
}

/// Makes changes, all or none.
pub(super) async fn edit(State(desk): State<Arc<Desk>>, Json(request): Json<EditRequest>) -> Response {
    on_worker(move || {
        let _writing = desk.writing.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let now = desk.folder.document_text()?;
        let changed = merge(&request.base, &now, &request.edits)?;
        if changed != now {
            History::of(&desk.folder).put(&changed)?;
        }
        state(&desk)
    })
    .await
}

/// Works out what a change would come to, and writes nothing: for the drag that is still going on.
pub(super) async fn preview(State(desk): State<Arc<Desk>>, Json(request): Json<EditRequest>) -> Response {
    on_worker(move || {
        let now = desk.folder.document_text()?;
        let changed = merge(&request.base, &now, &request.edits)?;
        let made = desk.make_text(&changed).map_err(|e| Trouble::Job(e.to_string()))?;
        let result = serde_json::to_value(&made.result).map_err(|e| Trouble::Job(e.to_string()))?;
        Ok(Json(json!({ "result": result })).into_response())
    })
    .await
}

/// Back to the version before.
pub(super) async fn undo(State(desk): State<Arc<Desk>>) -> Response {
    on_worker(move || step(&desk, History::undo)).await
}

/// Forward to the version that was undone.
pub(super) async fn redo(State(desk): State<Arc<Desk>>) -> Response {
    on_worker(move || step(&desk, History::redo)).await
}

fn step(desk: &Desk, go: impl Fn(&History) -> Result<bool, JobError>) -> Result<Response, Trouble> {
    let _writing = desk.writing.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    go(&History::of(&desk.folder))?;
    state(desk)
}

#[derive(Deserialize)]
pub(super) struct PhotoRequest {
    /// The file's name as it was on the person's disk.
    file: String,
}

/// Lays a photo into the job: the file under `photos/`, an entry in the document. A file of that name stays; the new one gets another.
pub(super) async fn add_photo(State(desk): State<Arc<Desk>>, Query(request): Query<PhotoRequest>, bytes: Bytes) -> Response {
    on_worker(move || {
        let _writing = desk.writing.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        photo::decode(&bytes, &photo::Limits::default()).map_err(|e| Trouble::Job(format!("{}: {e}", request.file)))?;
        let now = desk.folder.document_text()?;
        let document = read(&now).map_err(|problems| Trouble::Job(lines_of(&problems)))?;
        let file = desk.folder.add_photo(&request.file, &bytes)?;
        let taken: BTreeSet<String> = document.photo.iter().map(|photo| photo.name.clone()).collect();
        let name = photo_name(&file, &taken);
        let mut fields = json!({ "name": name, "file": format!("photos/{file}") });
        // A job with one rod most likely shows it.
        if let [only] = document.known.iter().filter(|known| known.of.is_none()).collect::<Vec<_>>()[..] {
            fields["shaft"] = json!(only.name);
        }
        let path = vec![Where::Key("photo".into()), Where::Named { name }];
        History::of(&desk.folder).put(&merge(&now, &now, &[Edit { path, value: fields }])?)?;
        state(&desk)
    })
    .await
}

fn state(desk: &Desk) -> Result<Response, Trouble> {
    let text = desk.folder.document_text()?;
    let standing = History::of(&desk.folder).standing()?;
    let (made, problems) = match desk.make_text(&text) {
        Ok(made) => (Some(made), Vec::new()),
        Err(error) => (desk.last_made(), error.to_string().lines().map(str::to_string).collect()),
    };
    let document = job::as_json(&text).unwrap_or(Value::Null);
    let body = Standing {
        text: &text,
        document,
        can_undo: standing.can_undo,
        can_redo: standing.can_redo,
        problems,
        result: made.as_deref().map(|made| &made.result),
        pieces: made.as_deref().map_or(Vec::new(), |made| pieces(&made.fragments)),
    };
    let bytes = serde_json::to_vec(&body).map_err(|e| Trouble::Job(e.to_string()))?;
    Ok(typed("application/json", bytes))
}

/// The pieces in the order of the page.
pub(super) fn pieces(fragments: &Fragments) -> Vec<(&str, &str)> {
    let before = [("photos", &fragments.photos), ("masthead", &fragments.masthead), ("contents", &fragments.contents)];
    let after = [("assumptions", &fragments.assumptions), ("cautions", &fragments.cautions), ("block", &fragments.block)];
    let stations = fragments.stations.iter().map(|(id, html)| (*id, html.as_str()));
    before.into_iter().map(|(id, html)| (id, html.as_str())).chain(stations).chain(after.into_iter().map(|(id, html)| (id, html.as_str()))).collect()
}

#[derive(Deserialize)]
pub(super) struct PictureRequest {
    /// Longest side wanted, px; left out: 1600.
    side: Option<usize>,
}

/// A photo of the job as an upright JPEG.
pub(super) async fn photo_picture(State(desk): State<Arc<Desk>>, UrlPath(name): UrlPath<String>, Query(request): Query<PictureRequest>) -> Response {
    on_worker(move || {
        let text = desk.folder.document_text()?;
        let document = read(&text).map_err(|problems| Trouble::Job(lines_of(&problems)))?;
        let entry = document.photo.iter().find(|photo| photo.name == name).ok_or_else(|| Trouble::Job(format!("no photo is named `{name}`")))?;
        let limits = photo::Limits::default();
        let bytes = desk.folder.evidence(&entry.file, limits.max_bytes as u64).map_err(|problem| Trouble::Job(problem.to_string()))?;
        let picture = photo::decode(&bytes, &limits).map_err(|e| Trouble::Job(e.to_string()))?.picture;
        let side = request.side.unwrap_or(1600).clamp(100, 4000);
        let jpeg = photo::jpeg_thumbnail(&picture, photo::Crop::whole(&picture), side, 88).map_err(|e| Trouble::Job(e.to_string()))?;
        let size = [("x-width-px", picture.width_px().to_string()), ("x-height-px", picture.height_px().to_string())];
        Ok((size, typed("image/jpeg", jpeg)).into_response())
    })
    .await
}

/// Why a request was not done; told as JSON with the words for the person.
enum Trouble {
    Job(String),
    Conflict(String),
}

impl From<JobError> for Trouble {
    fn from(error: JobError) -> Self {
        Trouble::Job(error.to_string())
    }
}

impl From<EditError> for Trouble {
    fn from(error: EditError) -> Self {
        match error {
            EditError::Conflict { .. } => Trouble::Conflict(error.to_string()),
            other => Trouble::Job(other.to_string()),
        }
    }
}

/// Work that reads disks or computes runs beside the server's own threads.
async fn on_worker(work: impl FnOnce() -> Result<Response, Trouble> + Send + 'static) -> Response {
    match tokio::task::spawn_blocking(work).await {
        Ok(Ok(response)) => response,
        Ok(Err(Trouble::Conflict(text))) => (StatusCode::CONFLICT, Json(json!({ "conflict": text }))).into_response(),
        Ok(Err(Trouble::Job(text))) => (StatusCode::UNPROCESSABLE_ENTITY, Json(json!({ "problem": text }))).into_response(),
        Err(_) => (StatusCode::INTERNAL_SERVER_ERROR, Json(json!({ "problem": "The program failed at this step; the job is untouched. Load the page again." }))).into_response(),
    }
}

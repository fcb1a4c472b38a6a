//! What the page asks for and changes: the job as it stands, edits, undo and redo, photos dropped in.

use super::shown::{Holds, Piece, Shown, place};
use super::{Desk, lines_of, start, typed};
use axum::Json;
use axum::body::Bytes;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use job::{Edit, EditError, History, JobError, Where, merge, photo_name, read};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use sheet::Part;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::time::Duration;

/// An answer waits this long for the sheet of a change, so that quick changes need one request; the page hears of slower ones as news.
const PATIENCE: Duration = Duration::from_millis(250);

/// Stamps of the pieces and fields that a page has: they are not sent again.
type Known = BTreeMap<String, String>;

#[derive(Deserialize, Default)]
pub(super) struct Since {
    #[serde(default)]
    known: Known,
}

/// Changes meant for the document as the page last saw it.
#[derive(Deserialize)]
pub(super) struct EditRequest {
    /// The document's text that the page worked on.
    base: String,
    edits: Vec<Edit>,
    #[serde(default)]
    known: Known,
}

/// The job as the page shows it.
#[derive(Serialize)]
struct Standing<'a> {
    /// There is no job yet: the page offers to start one.
    empty: bool,
    /// The state of the document's file, as news of it carries: a page that has it need not look.
    stamp: &'a str,
    /// The document's text; edits are sent with it as their base.
    text: &'a str,
    document: Value,
    can_undo: bool,
    can_redo: bool,
    /// What is wrong with the job, line by line; the result is then the last one that could be made, or absent.
    problems: Vec<String>,
    /// What is being done for this text; result and pieces are then those of an older text, or absent.
    working: Option<String>,
    /// The person stopped the making of this text.
    stopped: bool,
    /// Papers and files that can be fetched from `/out/`.
    files: &'a [&'static str],
    /// The sheet in pieces.
    pieces: Vec<Sent<'a>>,
    // `result` follows: what the job came to, field by field, or null.
}

/// A piece as it is sent: name, stamp, its HTML unless the page has it or gets its parts, its parts.
type Sent<'a> = (&'a str, &'a str, Option<&'a str>, Option<Vec<SentPart<'a>>>);
/// A part: where it stands, stamp, its HTML unless the page has it.
type SentPart<'a> = (&'static str, &'a str, Option<&'a str>);

/// What a page that has `known` needs of a piece. Which parts of it a page has it tells as `parts.NAME`: their stamps, with a space between.
fn sent<'a>(piece: &'a Piece, known: &Known) -> Sent<'a> {
    let has = known.get(piece.id).is_some_and(|had| *had == piece.stamp);
    match &piece.holds {
        Holds::Whole(html) => (piece.id, &piece.stamp, (!has).then_some(html.as_str()), None),
        Holds::Parts(parts) => {
            let told = known.get(&format!("{PARTS}{}", piece.id)).map(String::as_str);
            let had: BTreeSet<&str> = told.unwrap_or_default().split(' ').collect();
            let part = |(stamp, part): &'a (String, Part)| {
                (place(part.place), stamp.as_str(), (!has && !had.contains(stamp.as_str())).then_some(&*part.html))
            };
            // A page that has all of it need only learn the stamps, if it does not know them yet.
            let wanted = !has || told.is_none();
            (piece.id, &piece.stamp, None, wanted.then(|| parts.iter().map(part).collect()))
        }
    }
}

/// Before a piece's name in the stamps of its parts that a page sends.
const PARTS: &str = "parts.";

/// The job as it stands on disk, made.
pub(super) async fn job_state(State(desk): State<Arc<Desk>>) -> Response {
    on_worker(move || state(&desk, &Known::new())).await
}

/// The same without what the page has already.
pub(super) async fn job_state_since(State(desk): State<Arc<Desk>>, Json(since): Json<Since>) -> Response {
    on_worker(move || state(&desk, &since.known)).await
}

/// Makes changes, all or none.
pub(super) async fn edit(State(desk): State<Arc<Desk>>, Json(request): Json<EditRequest>) -> Response {
    on_worker(move || {
        let writing = desk.writing.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        if !desk.has_job() {
            let folder = desk.folder.root().display();
            let text = format!(
                "There is no job.toml in {folder} any more, so nothing was written. Put the folder back as it was; this page then goes on."
            );
            return Err(Trouble::Job(text));
        }
        loop {
            let now = desk.folder.document_text()?;
            let changed = merge(&request.base, &now, &request.edits)?;
            if changed == now {
                break;
            }
            // The disk takes its time, the sheet too: they work side by side. A text that could not be written is not the job's, and its sheet is
            // shown to nobody.
            desk.worker.begin(&changed);
            // Where an editor saved in between, the change is made anew on what it saved.
            if History::of(&desk.folder).put_on(&now, &changed)? {
                break;
            }
        }
        drop(writing);
        // What the next change rests on is brought to the medium meanwhile, so that it need not be waited for then.
        let folder = desk.folder.clone();
        std::thread::spawn(move || History::of(&folder).flush());
        state(&desk, &request.known)
    })
    .await
}

/// Stops the making that is going on; the document stays as it is.
pub(super) async fn stop(State(desk): State<Arc<Desk>>, Json(since): Json<Since>) -> Response {
    desk.worker.stop();
    on_worker(move || state(&desk, &since.known)).await
}

/// Makes the sheet after it was stopped.
pub(super) async fn again(State(desk): State<Arc<Desk>>, Json(since): Json<Since>) -> Response {
    desk.worker.again();
    on_worker(move || state(&desk, &since.known)).await
}

/// Back to the version before.
pub(super) async fn undo(State(desk): State<Arc<Desk>>, Json(since): Json<Since>) -> Response {
    on_worker(move || step(&desk, History::undo, &since.known)).await
}

/// Forward to the version that was undone.
pub(super) async fn redo(State(desk): State<Arc<Desk>>, Json(since): Json<Since>) -> Response {
    on_worker(move || step(&desk, History::redo, &since.known)).await
}

fn step(desk: &Desk, go: impl Fn(&History) -> Result<bool, JobError>, known: &Known) -> Result<Response, Trouble> {
    let writing = desk.writing.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    go(&History::of(&desk.folder))?;
    drop(writing);
    state(desk, known)
}

#[derive(Deserialize)]
pub(super) struct PhotoRequest {
    /// The file's name as it was on the person's disk.
    file: String,
}

/// Lays a photo into the job: the file under `photos/`, an entry in the document. A file of that name stays; the new one gets another.
pub(super) async fn add_photo(State(desk): State<Arc<Desk>>, Query(request): Query<PhotoRequest>, bytes: Bytes) -> Response {
    on_worker(move || {
        let writing = desk.writing.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        photo::decode(&bytes, &photo::Limits::default()).map_err(|e| Trouble::Job(format!("{}: {e}", request.file)))?;
        if !desk.has_job() {
            start::with_photo(&desk.folder, &request.file, &bytes)?;
            drop(writing);
            return state(&desk, &Known::new());
        }
        let document = read(&desk.folder.document_text()?).map_err(|problems| Trouble::Job(lines_of(&problems)))?;
        let file = desk.folder.add_photo(&request.file, &bytes)?;
        let taken: BTreeSet<String> = document.photo.iter().map(|photo| photo.name.clone()).collect();
        let name = photo_name(&file, &taken);
        let mut fields = json!({ "name": name, "file": format!("photos/{file}") });
        // A job with one rod most likely shows it.
        if let [only] = document.known.iter().filter(|known| known.of.is_none()).collect::<Vec<_>>()[..] {
            fields["shaft"] = json!(only.name);
        }
        let path = vec![Where::Key("photo".into()), Where::Named { name }];
        let edits = [Edit { path, value: fields }];
        loop {
            let now = desk.folder.document_text()?;
            if History::of(&desk.folder).put_on(&now, &merge(&now, &now, &edits)?)? {
                break;
            }
        }
        drop(writing);
        state(&desk, &Known::new())
    })
    .await
}

/// Lays a file of an instrument into the job; which line of the document names it is the person's to say. Told is the name it got.
pub(super) async fn add_reading(State(desk): State<Arc<Desk>>, Query(request): Query<PhotoRequest>, bytes: Bytes) -> Response {
    on_worker(move || {
        if !desk.has_job() {
            return Err(Trouble::Job("There is no job yet that a reading could be laid into.".into()));
        }
        if bytes.is_empty() || std::str::from_utf8(&bytes).is_err() {
            let what = "is no text: an instrument's export as comma-separated values or CGATS text is wanted";
            return Err(Trouble::Job(format!("{}: {what}", request.file)));
        }
        let file = desk.folder.add_reading(&request.file, &bytes)?;
        Ok(Json(json!({ "file": format!("readings/{file}") })).into_response())
    })
    .await
}

/// Most bytes of a reading that is laid in.
pub(super) const MAX_READING_BYTES: usize = 1 << 20;

/// The answer to every request that reads or changes the job.
pub(super) fn state(desk: &Desk, known: &Known) -> Result<Response, Trouble> {
    if !desk.has_job() {
        return Ok(Json(nothing_yet(desk, known)).into_response());
    }
    desk.example.stop();
    // Looked at before the text is read: a change in between is then news.
    let stamp = desk.folder.stamp("job.toml").unwrap_or_default();
    let text = desk.folder.document_text()?;
    let standing = History::of(&desk.folder).standing()?;
    let view = desk.worker.view(&text, PATIENCE);
    let shown = view.shown.as_deref();
    let body = Standing {
        empty: false,
        stamp: &stamp,
        text: &text,
        document: job::as_json(&text).unwrap_or(Value::Null),
        can_undo: standing.can_undo,
        can_redo: standing.can_redo,
        problems: view.trouble.lines().map(str::to_string).collect(),
        working: view.working,
        stopped: view.stopped,
        files: shown.map_or(&[], |shown| shown.files.as_slice()),
        pieces: shown.map_or(Vec::new(), |shown| shown.pieces().iter().map(|piece| sent(piece, known)).collect()),
    };
    let mut bytes = serde_json::to_vec(&body).map_err(|e| Trouble::Job(e.to_string()))?;
    // The result's fields are JSON already; they go in before the closing brace.
    bytes.pop();
    bytes.extend_from_slice(b",\"result\":");
    bytes.extend_from_slice(shown.map_or("null".to_string(), |shown| result_fields(shown, known)).as_bytes());
    bytes.push(b'}');
    Ok(typed("application/json", bytes))
}

/// A folder without a job, with the example that is shown until there is one.
fn nothing_yet(desk: &Desk, known: &Known) -> Value {
    let (example, coming) = desk.example.look();
    let pieces: Vec<_> = example.iter().flat_map(|shown| shown.pieces()).map(|piece| sent(piece, known)).collect();
    json!({
        "empty": true, "coming": coming, "stamp": "", "text": "", "document": null, "can_undo": false, "can_redo": false, "problems": [],
        "working": null, "stopped": false, "files": [], "result": null, "pieces": pieces,
    })
}

/// Each field of the result as name, stamp, and its value unless the page has it.
fn result_fields(shown: &Shown, known: &Known) -> String {
    let field = |(name, stamp, json): (&str, &str, &str)| {
        let has = known.get(&format!("{FIELD}{name}")).is_some_and(|had| had == stamp);
        format!("[{},\"{stamp}\",{},{has}]", Value::from(name), if has { "null" } else { json })
    };
    format!("[{}]", shown.fields().map(field).collect::<Vec<_>>().join(","))
}

/// Before a field's name in the stamps that a page sends.
const FIELD: &str = "result.";

/// Why a request was not done; told as JSON with the words for the person.
pub(super) enum Trouble {
    /// It can't be done.
    Job(String),
    /// The same place was changed elsewhere.
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
pub(super) async fn on_worker(work: impl FnOnce() -> Result<Response, Trouble> + Send + 'static) -> Response {
    match tokio::task::spawn_blocking(work).await {
        Ok(Ok(response)) => response,
        Ok(Err(Trouble::Conflict(text))) => (StatusCode::CONFLICT, Json(json!({ "conflict": text }))).into_response(),
        Ok(Err(Trouble::Job(text))) => (StatusCode::UNPROCESSABLE_ENTITY, Json(json!({ "problem": text }))).into_response(),
        Err(_) => (
            StatusCode::INTERNAL_SERVER_ERROR,
            Json(json!({ "problem": "The program failed at this step; the job is untouched. Load the page again." })),
        )
            .into_response(),
    }
}

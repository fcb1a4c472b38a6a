//! The live sheet's server: HTTP/1.1 on loopback (or, when asked, the local network), with the session's key.
//!
//! Every request must name this host in `Host`, may come from no other page (`Origin`), and must carry the key: once in the address,
//! then as a cookie that no script can read. The sheet itself loads nothing from elsewhere (Content-Security-Policy), and the server calls nobody.

mod changes;
mod guard;
mod news;
mod page;

use crate::chain::{self, Failure, Made, Memory};
use crate::progress::Progress;
use axum::Router;
use axum::body::Body;
use axum::extract::{DefaultBodyLimit, Path as UrlPath, State};
use axum::http::{StatusCode, header};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use job::{JobFolder, Problem};
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

struct Desk {
    folder: JobFolder,
    key: String,
    port: u16,
    lan: bool,
    /// Held while the document is read, changed and written: two windows take turns.
    writing: Mutex<()>,
    /// Stations' memory, and the sheets made last with the text they were made of. One make at a time.
    making: Mutex<Making>,
}

#[derive(Default)]
struct Making {
    memory: Memory,
    last: Option<(String, Arc<Made>)>,
}

impl Desk {
    /// Everything made of a document's text; the same text as last time is not made again.
    fn make_text(&self, text: &str) -> Result<Arc<Made>, Failure> {
        let mut making = self.making.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((before, made)) = &making.last {
            if before == text {
                return Ok(made.clone());
            }
        }
        let made = Arc::new(chain::make_text(&self.folder, text, &mut making.memory, &Progress::silent())?);
        making.last = Some((text.to_string(), made.clone()));
        Ok(made)
    }

    /// The last sheet that could be made.
    fn last_made(&self) -> Option<Arc<Made>> {
        self.making.lock().unwrap_or_else(PoisonError::into_inner).last.as_ref().map(|(_, made)| made.clone())
    }
}

/// Serves the sheet of the job in `dir` until interrupted.
///
/// # Errors
/// The job can't be read, the port is taken, the system has no randomness for a key.
pub fn open(dir: &Path, port: u16, lan: bool) -> Result<(), Failure> {
    let folder = JobFolder::at(dir);
    folder.document_text()?;
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().map_err(|e| ours("starting the server", &e))?;
    runtime.block_on(async {
        let ip = if lan { Ipv4Addr::UNSPECIFIED } else { Ipv4Addr::LOCALHOST };
        let listener = tokio::net::TcpListener::bind(SocketAddr::new(IpAddr::V4(ip), port)).await.map_err(|e| ours(&format!("taking port {port} (another window may have it; leave out --port to take a free one)"), &e))?;
        let port = listener.local_addr().map_err(|e| ours("asking for the port", &e))?.port();
        let desk = Arc::new(Desk { folder, key: new_key()?, port, lan, writing: Mutex::default(), making: Mutex::default() });
        tell(&desk);
        axum::serve(listener, router(desk)).await.map_err(|e| ours("serving", &e))
    })
}

fn tell(desk: &Desk) {
    let address = format!("http://127.0.0.1:{}/?key={}", desk.port, desk.key);
    eprintln!("The sheet is open at\n  {address}\nStop with Ctrl-C. Nothing leaves this machine.");
    if desk.lan {
        eprintln!("Other devices of the local network can open it too, at this machine's address, port {}, with the same key.", desk.port);
    }
}

fn router(desk: Arc<Desk>) -> Router {
    Router::new()
        .route("/", get(page::page))
        .route("/result.json", get(result_json))
        .route("/out/{file}", get(out_file))
        .route("/api/job", get(changes::job_state))
        .route("/api/edit", post(changes::edit))
        .route("/api/preview", post(changes::preview))
        .route("/photo/{name}", get(changes::photo_picture))
        .route("/page/{file}", get(page::asset))
        .route("/events", get(news::events))
        .route("/api/undo", post(changes::undo))
        .route("/api/redo", post(changes::redo))
        .route("/api/photo", post(changes::add_photo).layer(DefaultBodyLimit::max(photo::Limits::default().max_bytes)))
        .layer(from_fn_with_state(desk.clone(), guard::guard))
        .with_state(desk)
}

fn new_key() -> Result<String, Failure> {
    let mut bytes = [0u8; 16];
    getrandom::fill(&mut bytes).map_err(|e| Failure::Ours(format!("error: the system gave no randomness for the session's key: {e}")))?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

async fn result_json(State(desk): State<Arc<Desk>>) -> Response {
    match made(desk).await {
        Ok(made) => typed("application/json", made.file("result.json").unwrap_or_default()),
        Err(text) => trouble(&text),
    }
}

async fn out_file(State(desk): State<Arc<Desk>>, UrlPath(file): UrlPath<String>) -> Response {
    let made = match made(desk).await {
        Ok(made) => made,
        Err(text) => return trouble(&text),
    };
    match made.file(&file) {
        Some(bytes) => typed(media_type(&file), bytes),
        None => (StatusCode::NOT_FOUND, "No such file was made.").into_response(),
    }
}

fn typed(media: &'static str, bytes: Vec<u8>) -> Response {
    ([(header::CONTENT_TYPE, media)], Body::from(bytes)).into_response()
}

fn media_type(file: &str) -> &'static str {
    match file.rsplit('.').next() {
        Some("html") => "text/html; charset=utf-8",
        Some("pdf") => "application/pdf",
        Some("svg") => "image/svg+xml",
        Some("json") => "application/json",
        Some("step") => "model/step",
        Some("stl") => "model/stl",
        Some("3mf") => "model/3mf",
        Some("glb") => "model/gltf-binary",
        _ => "application/octet-stream",
    }
}

/// The job as it stands on disk, made. Errors come as their text.
async fn made(desk: Arc<Desk>) -> Result<Arc<Made>, String> {
    let work = move || {
        let text = desk.folder.document_text().map_err(|e| e.to_string())?;
        desk.make_text(&text).map_err(|e| e.to_string())
    };
    tokio::task::spawn_blocking(work).await.unwrap_or_else(|e| Err(format!("making the sheet failed: {e}; this is an error of the program, the job is untouched")))
}

fn lines_of(problems: &[Problem]) -> String {
    problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

fn trouble(text: &str) -> Response {
    let escaped = text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
    let html = format!(
        "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>The job has an error</title>\
         <body style=\"font-family:serif;max-width:46em;margin:3em auto;padding:0 1em\"><h1>The job has an error</h1><pre style=\"white-space:pre-wrap\">{escaped}</pre>\
         <p>Correct the document and load this page again. Nothing was changed.</p></body></html>"
    );
    let mut response = typed("text/html; charset=utf-8", html.into_bytes());
    *response.status_mut() = StatusCode::UNPROCESSABLE_ENTITY;
    response
}

fn ours(doing: &str, error: &std::io::Error) -> Failure {
    Failure::Ours(format!("error: {doing}: {error}"))
}

//! The live sheet's server: HTTP/1.1 on loopback (or, when asked, the local network), with the session's key.
//!
//! Every request must name this host in `Host`, may come from no other page (`Origin`), and must carry the key: once in the address,
//! then as a cookie that no script can read. The sheet itself loads nothing from elsewhere (Content-Security-Policy), and the server calls nobody.

mod bench;
mod changes;
mod example;
mod guard;
mod news;
mod page;
mod shown;
mod sight;
mod start;
mod worker;

use crate::chain::Failure;
use axum::Router;
use axum::body::Body;
use axum::extract::{DefaultBodyLimit, Path as UrlPath, State};
use axum::http::{StatusCode, header};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use job::{JobError, JobFolder, Problem};
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::Duration;

struct Desk {
    folder: JobFolder,
    key: String,
    port: u16,
    /// This machine's address in the local network, if other devices are let in.
    lan: Option<Ipv4Addr>,
    /// Held while the document is read, changed and written: two windows take turns.
    writing: Mutex<()>,
    worker: Arc<worker::Worker>,
    sight: sight::Sight,
    example: example::Example,
}

impl Desk {
    /// Whether there is a job yet.
    fn has_job(&self) -> bool {
        self.folder.stamp("job.toml").is_some()
    }
}

/// Files are waited for this long; a sheet takes seconds, on a slow machine with many photos a minute.
const FILE_PATIENCE: Duration = Duration::from_secs(300);

/// Serves the sheet of the job in `dir` until interrupted.
///
/// # Errors
/// The job can't be read, the port is taken, the system has no randomness for a key. A folder without a job is no error: the page offers to
/// start one, and nothing is written until the person does.
pub fn open(dir: &Path, port: u16, lan: bool) -> Result<(), Failure> {
    let folder = JobFolder::at(dir);
    match folder.document_text() {
        Err(JobError::Disk { source, .. }) if source.kind() == std::io::ErrorKind::NotFound => {}
        other => drop(other?),
    }
    let runtime =
        tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().map_err(|e| ours("starting the server", &e))?;
    runtime.block_on(async {
        let ip = if lan { Ipv4Addr::UNSPECIFIED } else { Ipv4Addr::LOCALHOST };
        let listener = tokio::net::TcpListener::bind(SocketAddr::new(IpAddr::V4(ip), port))
            .await
            .map_err(|e| ours(&format!("taking port {port} (another window may have it; leave out --port to take a free one)"), &e))?;
        let port = listener.local_addr().map_err(|e| ours("asking for the port", &e))?.port();
        let worker = worker::Worker::new(folder.clone());
        let lan = lan.then(bench::own_address);
        let desk = Arc::new(Desk {
            folder,
            key: new_key()?,
            port,
            lan,
            writing: Mutex::default(),
            worker,
            sight: sight::Sight::default(),
            example: example::Example::default(),
        });
        tell(&desk);
        axum::serve(listener, router(desk)).await.map_err(|e| ours("serving", &e))
    })
}

fn tell(desk: &Desk) {
    use std::io::Write;
    let address = format!("http://127.0.0.1:{}/?key={}", desk.port, desk.key);
    let mut told = format!("The sheet is open at\n  {address}\nStop with Ctrl-C. Nothing leaves this machine.\n");
    if !desk.has_job() {
        told.push_str(&format!("There is no job in {} yet; the page offers to start one.\n", desk.folder.root().display()));
    }
    if let Some(address) = bench::address(desk) {
        told.push_str(&format!(
            "A phone in the local network can open the bench view by the code on the page, or at\n  {address}\nWhoever has this address can write in the job.\n"
        ));
    }
    // Whoever read the address and went away must not take the sheet with him: a closed standard error is no reason to stop.
    let _ = std::io::stderr().write_all(told.as_bytes());
}

fn router(desk: Arc<Desk>) -> Router {
    Router::new()
        .route("/", get(page::page))
        .route("/result.json", get(result_json))
        .route("/out/{file}", get(out_file))
        .route("/api/job", get(changes::job_state).post(changes::job_state_since))
        .route("/api/edit", post(changes::edit))
        .route("/api/start", post(start::start))
        .route("/api/stop", post(changes::stop))
        .route("/api/again", post(changes::again))
        .route("/api/outline", post(sight::outline_of_drag))
        .route("/photo/{name}", get(sight::photo_picture))
        .route("/bench", get(bench::page))
        .route("/page/{file}", get(page::asset))
        .route("/events", get(news::events))
        .route("/api/undo", post(changes::undo))
        .route("/api/redo", post(changes::redo))
        .route("/api/reading", post(changes::add_reading).layer(DefaultBodyLimit::max(changes::MAX_READING_BYTES)))
        .route("/api/photo", post(changes::add_photo).layer(DefaultBodyLimit::max(photo::Limits::default().max_bytes)))
        .layer(from_fn_with_state(desk.clone(), guard::guard))
        .with_state(desk)
}

fn new_key() -> Result<String, Failure> {
    let mut bytes = [0u8; 16];
    getrandom::fill(&mut bytes).map_err(|e| Failure::Ours(format!("error: the system gave no randomness for the session's key: {e}")))?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

async fn result_json(state: State<Arc<Desk>>) -> Response {
    out_file(state, UrlPath("result.json".into())).await
}

async fn out_file(State(desk): State<Arc<Desk>>, UrlPath(file): UrlPath<String>) -> Response {
    let wanted = file.clone();
    let made = tokio::task::spawn_blocking(move || made(&desk)?.file(&wanted).map_err(|e| e.to_string()));
    match made.await {
        Ok(Ok(Some(bytes))) => typed(media_type(&file), bytes),
        Ok(Ok(None)) => (StatusCode::NOT_FOUND, "No such file was made.").into_response(),
        Ok(Err(text)) => trouble(&text),
        Err(e) => trouble(&format!("making the file failed: {e}; this is an error of the program, the job is untouched")),
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

/// The job as it stands on disk, made to the end. Errors come as their text.
fn made(desk: &Desk) -> Result<Arc<shown::Shown>, String> {
    let text = desk.folder.document_text().map_err(|e| e.to_string())?;
    let view = desk.worker.view(&text, FILE_PATIENCE);
    match view.shown {
        _ if !view.trouble.is_empty() => Err(view.trouble),
        Some(shown) if view.working.is_none() && !view.stopped => Ok(shown),
        _ => Err("The sheet is not made to the end. Go back to it and let it be made.".to_string()),
    }
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

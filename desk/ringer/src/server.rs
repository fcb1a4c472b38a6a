//! The live sheet's server: HTTP/1.1 on loopback (or, when asked, the local network), with the session's key.
//!
//! Every request must name this host in `Host`, may come from no other page (`Origin`), and must carry the key: once in the address,
//! then as a cookie that no script can read. The sheet itself loads nothing from elsewhere (Content-Security-Policy), and the server calls nobody.

use crate::chain::{self, Failure, Made};
use crate::progress::Progress;
use axum::Router;
use axum::body::Body;
use axum::extract::{Path as UrlPath, Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use job::JobFolder;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::Path;
use std::sync::{Arc, Mutex};

/// What the sheet may load: only what is in it or comes from this server.
const POLICY: &str = "default-src 'none'; img-src 'self' data:; style-src 'self' 'unsafe-inline'; font-src 'self' data:; script-src 'self'; \
                      connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'";

struct Desk {
    folder: JobFolder,
    key: String,
    port: u16,
    lan: bool,
    /// The last made sheet with the bytes of the document it was made of. One make at a time.
    last: Mutex<Option<(String, Arc<Made>)>>,
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
        let desk = Arc::new(Desk { folder, key: new_key()?, port, lan, last: Mutex::new(None) });
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
        .route("/", get(page))
        .route("/result.json", get(result_json))
        .route("/out/{file}", get(out_file))
        .layer(from_fn_with_state(desk.clone(), guard))
        .with_state(desk)
}

fn new_key() -> Result<String, Failure> {
    let mut bytes = [0u8; 16];
    getrandom::fill(&mut bytes).map_err(|e| Failure::Ours(format!("error: the system gave no randomness for the session's key: {e}")))?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

/// Lets nobody in but the person: this host, no foreign page, the key.
async fn guard(State(desk): State<Arc<Desk>>, request: Request, next: Next) -> Response {
    let headers = request.headers();
    if !host_is_ours(headers, &desk) || !origin_is_ours(headers, &desk) {
        return refuse(StatusCode::FORBIDDEN, "This address is not the sheet's own. Open it at the address that `ringer open` printed.");
    }
    let in_address = request.uri().query().and_then(|query| query.split('&').find_map(|pair| pair.strip_prefix("key=")));
    let by_address = in_address.is_some_and(|key| same(key, &desk.key));
    let by_cookie = cookie(headers, &cookie_name(&desk)).is_some_and(|key| same(key, &desk.key));
    if !by_address && !by_cookie {
        return refuse(StatusCode::UNAUTHORIZED, "The session's key is missing. Open the address that `ringer open` printed.");
    }
    let mut response = next.run(request).await;
    if by_address {
        let cookie = format!("{}={}; HttpOnly; SameSite=Strict; Path=/", cookie_name(&desk), desk.key);
        if let Ok(value) = HeaderValue::from_str(&cookie) {
            response.headers_mut().insert(header::SET_COOKIE, value);
        }
    }
    guarded(response)
}

fn guarded(mut response: Response) -> Response {
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, "no-store"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}

fn refuse(status: StatusCode, text: &'static str) -> Response {
    guarded((status, text).into_response())
}

/// Cookies know no port: two jobs open at once must not overwrite each other's key.
fn cookie_name(desk: &Desk) -> String {
    format!("ringer_{}", desk.port)
}

/// A rebinding page has its own name in `Host`: only this machine's addresses pass, and with --lan any bare IP address.
fn host_is_ours(headers: &HeaderMap, desk: &Desk) -> bool {
    let Some(host) = headers.get(header::HOST).and_then(|value| value.to_str().ok()) else { return false };
    let Some((name, port)) = host.rsplit_once(':') else { return false };
    let name_ok = name == "127.0.0.1" || name == "localhost" || (desk.lan && name.parse::<Ipv4Addr>().is_ok());
    name_ok && port == desk.port.to_string()
}

fn origin_is_ours(headers: &HeaderMap, desk: &Desk) -> bool {
    match headers.get(header::ORIGIN) {
        None => true,
        Some(origin) => {
            let host = headers.get(header::HOST).and_then(|value| value.to_str().ok()).unwrap_or("");
            origin.to_str().is_ok_and(|origin| origin == format!("http://{host}")) && host_is_ours(headers, desk)
        }
    }
}

fn cookie<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    let all = headers.get(header::COOKIE)?.to_str().ok()?;
    all.split(';').find_map(|pair| pair.trim().strip_prefix(name)?.strip_prefix('='))
}

/// Compares in a time that does not tell how much was right.
fn same(given: &str, key: &str) -> bool {
    given.len() == key.len() && given.bytes().zip(key.bytes()).fold(0, |seen, (a, b)| seen | (a ^ b)) == 0
}

async fn page(State(desk): State<Arc<Desk>>) -> Response {
    match made(desk).await {
        Ok(made) => typed("text/html; charset=utf-8", made.file("sheet.html").unwrap_or_default()),
        Err(text) => trouble(&text),
    }
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

/// The job as it stands on disk, made; an unchanged document is not made twice. Errors come as their text.
async fn made(desk: Arc<Desk>) -> Result<Arc<Made>, String> {
    let work = move || {
        let mut last = desk.last.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let text = desk.folder.document_text().map_err(|e| e.to_string())?;
        if let Some((before, made)) = last.as_ref() {
            if *before == text {
                return Ok(made.clone());
            }
        }
        let made = Arc::new(chain::make(&desk.folder, &Progress::silent()).map_err(|e| e.to_string())?);
        *last = Some((text, made.clone()));
        Ok(made)
    };
    tokio::task::spawn_blocking(work).await.unwrap_or_else(|e| Err(format!("making the sheet failed: {e}; this is an error of the program, the job is untouched")))
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

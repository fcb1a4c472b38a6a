//! News for open pages: when the document changes on disk, by another window or by hand; what is being worked out; when it is done.

use super::Desk;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use std::sync::Arc;
use std::time::Duration;

/// How often the document is looked at. A person does not notice a third of a second; a disk does not notice three looks a second.
const LOOK_EVERY: Duration = Duration::from_millis(350);
/// A line of comment keeps the connection open and shows when the page is gone.
const QUIET_LOOKS: u32 = 40;

/// Server-sent events (WHATWG HTML, "Server-sent events"): `changed` when the document did, `step` with the words of what is being
/// done, `made` when nothing is.
pub(super) async fn events(State(desk): State<Arc<Desk>>) -> Response {
    let stream = looking(desk);
    ([(header::CONTENT_TYPE, "text/event-stream")], axum::body::Body::from_stream(stream)).into_response()
}

fn looking(desk: Arc<Desk>) -> tokio_stream::wrappers::ReceiverStream<Result<String, std::convert::Infallible>> {
    let (tell, hear) = tokio::sync::mpsc::channel(4);
    tokio::spawn(async move {
        let mut worker = desk.worker.hear();
        let mut known = desk.folder.stamp("job.toml");
        let mut quiet = 0;
        loop {
            let mut lines = String::new();
            tokio::select! {
                _ = worker.changed() => match desk.worker.step() {
                    Some(step) => lines = format!("event: step\ndata: {}\n\n", step.replace(['\n', '\r'], " ")),
                    None => lines = "event: made\ndata:\n\n".into(),
                },
                () = tokio::time::sleep(LOOK_EVERY) => quiet += 1,
            }
            let stamp = desk.folder.stamp("job.toml");
            if stamp != known {
                lines.push_str(&format!("event: changed\ndata: {}\n\n", stamp.clone().unwrap_or_default()));
                known = stamp;
            }
            if lines.is_empty() && quiet >= QUIET_LOOKS {
                lines = ": still here\n\n".into();
            }
            if lines.is_empty() {
                continue;
            }
            quiet = 0;
            if tell.send(Ok(lines)).await.is_err() {
                return;
            }
        }
    });
    tokio_stream::wrappers::ReceiverStream::new(hear)
}

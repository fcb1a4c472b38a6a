//! News for open pages: when the document changes on disk, by another window or by hand, each page is told.

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

/// Server-sent events (WHATWG HTML, "Server-sent events"): `changed` with the stamp of the document.
pub(super) async fn events(State(desk): State<Arc<Desk>>) -> Response {
    let stream = looking(desk);
    ([(header::CONTENT_TYPE, "text/event-stream")], axum::body::Body::from_stream(stream)).into_response()
}

fn looking(desk: Arc<Desk>) -> tokio_stream::wrappers::ReceiverStream<Result<String, std::convert::Infallible>> {
    let (tell, hear) = tokio::sync::mpsc::channel(4);
    tokio::spawn(async move {
        let mut known = desk.folder.stamp("job.toml");
        let mut quiet = 0;
        loop {
            tokio::time::sleep(LOOK_EVERY).await;
            let stamp = desk.folder.stamp("job.toml");
            let line = if stamp != known {
                quiet = 0;
                format!("event: changed\ndata: {}\n\n", stamp.clone().unwrap_or_default())
            } else if quiet >= QUIET_LOOKS {
                quiet = 0;
                ": still here\n\n".to_string()
            } else {
                quiet += 1;
                continue;
            };
            known = stamp;
            if tell.send(Ok(line)).await.is_err() {
                return;
            }
        }
    });
    tokio_stream::wrappers::ReceiverStream::new(hear)
}

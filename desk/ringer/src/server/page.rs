//! The live page: the sheet as it stands, and the modules that bring it to life.

use super::{Desk, bench, typed};
use axum::extract::{Path as UrlPath, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, PreEscaped, html};
use std::sync::Arc;
use std::time::Duration;

/// Everything under `/page/`: name, media type, bytes.
const ASSETS: &[(&str, &str, &str)] = &[
    ("live.css", "text/css", include_str!("../../../page/live.css")),
    ("bench.css", "text/css", include_str!("../../../page/bench.css")),
    ("live.js", "text/javascript", include_str!("../../../page/live.js")),
    ("desk.js", "text/javascript", include_str!("../../../page/desk.js")),
    ("slips.js", "text/javascript", include_str!("../../../page/slips.js")),
    ("fields.js", "text/javascript", include_str!("../../../page/fields.js")),
    ("photo.js", "text/javascript", include_str!("../../../page/photo.js")),
    ("photos.js", "text/javascript", include_str!("../../../page/photos.js")),
    ("pieces.js", "text/javascript", include_str!("../../../page/pieces.js")),
    ("marks.js", "text/javascript", include_str!("../../../page/marks.js")),
    ("curves.js", "text/javascript", include_str!("../../../page/curves.js")),
    ("mapping.js", "text/javascript", include_str!("../../../page/mapping.js")),
    ("sizes.js", "text/javascript", include_str!("../../../page/sizes.js")),
    ("start.js", "text/javascript", include_str!("../../../page/start.js")),
    ("wants.js", "text/javascript", include_str!("../../../page/wants.js")),
    ("lights.js", "text/javascript", include_str!("../../../page/lights.js")),
    ("body.js", "text/javascript", include_str!("../../../page/body.js")),
    ("loupe.js", "text/javascript", include_str!("../../../page/loupe.js")),
    ("model.js", "text/javascript", include_str!("../../../page/model.js")),
    ("likeness.js", "text/javascript", include_str!("../../../page/likeness.js")),
    ("three.js", "text/javascript", include_str!("../../../page/vendor/three.js")),
    ("bench.js", "text/javascript", include_str!("../../../page/bench.js")),
];

/// The page as far as it is made; what is still being worked out comes as news.
pub(super) async fn page(State(desk): State<Arc<Desk>>) -> Response {
    let view = desk.folder.document_text().ok().map(|text| desk.worker.view(&text, Duration::ZERO));
    let made = view.and_then(|view| view.shown);
    let fonts = ink::font_face_css(&[ink::Face::Text, ink::Face::Bold, ink::Face::Figures]);
    let title = made.as_ref().map_or("Job sheet", |made| &made.result.title).to_string();
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) " \u{2013} job sheet" }
                link rel="icon" href="data:,";
                style { (PreEscaped(fonts)) (PreEscaped(sheet::style())) }
                link rel="stylesheet" href="/page/live.css";
                script type="module" src="/page/live.js" {}
            }
            body {
                a.skip href="#sheet" { "To the sheet" }
                div.strip id="strip" role="region" aria-label="Changes" {
                    button type="button" id="undo" disabled { "Undo" }
                    button type="button" id="redo" disabled { "Redo" }
                    p id="news" role="status" aria-live="polite" { "" }
                    button type="button" id="stop" hidden { "Stop" }
                    button type="button" id="again" hidden { "Make it" }
                    details id="prints" hidden {
                        summary { "Print or take files" }
                        ul id="offered" {}
                    }
                }
                (bench::code(&desk).unwrap_or_default())
                div id="problems" role="alert" hidden {}
                main id="sheet" tabindex="-1" {
                    @if let Some(made) = &made {
                        @for piece in made.pieces() { div data-piece=(piece.id) data-stamp=(piece.stamp) { (PreEscaped(piece.html())) } }
                    }
                }
            }
        }
    };
    typed("text/html; charset=utf-8", page.into_string().into_bytes())
}

/// A module or style of the page.
pub(super) async fn asset(UrlPath(file): UrlPath<String>) -> Response {
    match ASSETS.iter().find(|(name, _, _)| *name == file) {
        Some((_, media, text)) => typed(media, text.as_bytes().to_vec()),
        None => (StatusCode::NOT_FOUND, "No such part of the page.").into_response(),
    }
}

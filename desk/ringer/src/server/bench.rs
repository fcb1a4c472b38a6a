//! The bench view for a phone, when other devices are let in: its page, its address and the code that carries it.

use super::{Desk, typed};
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use qrcodegen::{QrCode, QrCodeEcc};
use std::net::{IpAddr, Ipv4Addr, UdpSocket};
use std::sync::Arc;

/// This machine's address in the local network. Asking which way a packet would take sends none.
pub(super) fn own_address() -> Ipv4Addr {
    let asked = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).and_then(|socket| {
        // An address of the private range (RFC 1918); nobody needs to be there.
        socket.connect((Ipv4Addr::new(10, 255, 255, 255), 9))?;
        socket.local_addr()
    });
    match asked.map(|address| address.ip()) {
        Ok(IpAddr::V4(ip)) => ip,
        _ => Ipv4Addr::LOCALHOST,
    }
}

/// Where a phone opens the bench view, with the key; none unless it is let in.
pub(super) fn address(desk: &Desk) -> Option<String> {
    desk.lan.map(|ip| format!("http://{ip}:{}/bench?key={}", desk.port, desk.key))
}

/// The bench view.
pub(super) async fn page(State(desk): State<Arc<Desk>>) -> Response {
    if desk.lan.is_none() {
        return (StatusCode::NOT_FOUND, "The bench view is off. Start the sheet with `ringer open DIR --lan` to let a phone in.")
            .into_response();
    }
    let fonts = ink::font_face_css(&[ink::Face::Text, ink::Face::Bold, ink::Face::Figures]);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { "At the bench" }
                link rel="icon" href="data:,";
                style { (PreEscaped(fonts)) (PreEscaped(sheet::style())) }
                link rel="stylesheet" href="/page/live.css";
                link rel="stylesheet" href="/page/bench.css";
                script type="module" src="/page/bench.js" {}
            }
            body class="bench" {
                main id="bench" { h1 { "At the bench" } p { "Reading the job\u{2026}" } }
                p id="news" role="status" aria-live="polite" { "" }
            }
        }
    };
    typed("text/html; charset=utf-8", page.into_string().into_bytes())
}

/// The code for the phone's camera (ISO/IEC 18004), with its words.
pub(super) fn code(desk: &Desk) -> Option<Markup> {
    let address = address(desk)?;
    let code = QrCode::encode_text(&address, QrCodeEcc::Medium).ok()?;
    let (side, quiet) = (code.size(), 4);
    let mut path = String::new();
    for y in 0..side {
        for x in (0..side).filter(|x| code.get_module(*x, y)) {
            path.push_str(&format!("M{} {}h1v1h-1z", x + quiet, y + quiet));
        }
    }
    let view = format!("0 0 {0} {0}", side + 2 * quiet);
    Some(html! {
        aside.phone id="phone" aria-label="A phone at the bench" { details {
            summary { "Take the sheet to the bench by phone" }
            div {
                svg.code viewBox=(view) role="img" aria-label="Code that opens the bench view on a phone" shape-rendering="crispEdges" {
                    rect width="100%" height="100%" fill="#fff" {}
                    path d=(path) fill="#000" {}
                }
                p { "Point the phone's camera here. The phone must be in the same local network. Whoever has this code can write in the job until the program is stopped." }
            }
        } }
    })
}

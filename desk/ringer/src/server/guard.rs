//! Lets nobody in but the person: this host, no foreign page, the key.

use super::Desk;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::net::Ipv4Addr;
use std::sync::Arc;

/// What the sheet may load: only what is in it or comes from this server.
const POLICY: &str = "default-src 'none'; img-src 'self' data: blob:; style-src 'self' 'unsafe-inline'; font-src 'self' data:; script-src 'self'; \
                      connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'";

/// Lets nobody in but the person: this host, no foreign page, the key.
pub(super) async fn guard(State(desk): State<Arc<Desk>>, request: Request, next: Next) -> Response {
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
    let name_ok = name == "127.0.0.1" || name == "localhost" || (desk.lan.is_some() && name.parse::<Ipv4Addr>().is_ok());
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

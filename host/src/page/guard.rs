//! Who may come in: the right name of this computer, no other page's forms, and a paired phone where it is no part of it.

use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::shared::Shared;

/// What is sent with every answer. Styles, scripts and pictures come from here alone, and none stands in a page.
const HEADERS: [(&str, &str); 8] = [
    (
        "content-security-policy",
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; \
         form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    // A form's origin is told within the page, and nothing to others.
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "camera=(), microphone=(), geolocation=()"),
    ("cache-control", "no-store"),
];

/// What a phone may ask for before it was let in.
const OPEN: [&str; 3] = ["/pair", "/page.css", "/mark.svg"];

/// One place at which the server listens.
#[derive(Clone)]
pub struct Door {
    /// What all answers share.
    pub shared: Shared,
    /// The names under which it may be asked for.
    pub hosts: Vec<String>,
    /// Whether it is the one for phones.
    pub is_phone: bool,
}

impl Door {
    fn is_ours(&self, headers: &HeaderMap) -> bool {
        let mut hosts = headers.get_all(header::HOST).iter();
        match (hosts.next().and_then(|host| host.to_str().ok()), hosts.next()) {
            (Some(host), None) => self.hosts.iter().any(|ours| host.eq_ignore_ascii_case(ours)),
            _ => false,
        }
    }

    fn is_of_our_page(&self, headers: &HeaderMap) -> bool {
        let origin = headers.get(header::ORIGIN).and_then(|origin| origin.to_str().ok());
        let host = origin.and_then(|origin| origin.strip_prefix("http://"));
        host.is_some_and(|host| self.hosts.iter().any(|ours| host.eq_ignore_ascii_case(ours)))
    }
}

/// Judges a request before anything else sees it.
pub async fn guard(State(door): State<Door>, request: Request, next: Next) -> Response {
    let mut answer = judge(&door, request, next).await;
    let headers = answer.headers_mut();
    for (name, value) in HEADERS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    answer
}

async fn judge(door: &Door, request: Request, next: Next) -> Response {
    if !door.is_ours(request.headers()) {
        return (
            StatusCode::FORBIDDEN,
            "This page is asked for under another name. Use the address that was printed.",
        )
            .into_response();
    }
    if request.method() == Method::POST && !door.is_of_our_page(request.headers()) {
        return (StatusCode::FORBIDDEN, "This form does not come from this page. Nothing was saved.")
            .into_response();
    }
    let is_open = OPEN.iter().any(|path| request.uri().path() == *path);
    if door.is_phone && !is_open && !door.shared.phones.is_known(request.headers()) {
        return (
            StatusCode::UNAUTHORIZED,
            "This phone was not let in. Scan the code that `needlehours page --phone` shows.",
        )
            .into_response();
    }
    next.run(request).await
}

//! Style, script, mark, and the styles of the papers: all that a page loads.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

use crate::view::words::sheet::Paper;

const STYLE: &str = include_str!("page.css");
const SCRIPT: &str = include_str!("page.js");
/// A needle and its thread.
const MARK: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 32 32\"><path d=\"M4 28 24 8\" stroke=\"#2a2c66\" stroke-width=\"3\" stroke-linecap=\"round\"/><circle cx=\"26\" cy=\"6\" r=\"3.5\" fill=\"none\" stroke=\"#2a2c66\" stroke-width=\"2\"/><path d=\"M28 8c3 7-6 6-4 12s5 4 4 9\" fill=\"none\" stroke=\"#a35276\" stroke-width=\"2\"/></svg>";

fn file(kind: &'static str, content: impl Into<String>) -> Response {
    ([(header::CONTENT_TYPE, kind)], content.into()).into_response()
}

/// The style of the pages.
pub async fn style() -> Response {
    file("text/css; charset=utf-8", STYLE)
}

/// The script of the pages.
pub async fn script() -> Response {
    file("text/javascript; charset=utf-8", SCRIPT)
}

/// The mark of the pages.
pub async fn mark() -> Response {
    file("image/svg+xml", MARK)
}

/// The style of a paper.
pub async fn paper(Path(name): Path<String>) -> Response {
    let papers = [
        ("sheet.css", Paper::Sheet),
        ("card.css", Paper::Card),
        ("form.css", Paper::Form),
        ("book.css", Paper::Book),
    ];
    match papers.into_iter().find(|(file, _)| *file == name) {
        Some((_, paper)) => file("text/css; charset=utf-8", paper.css()),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_script_is_written_by_hand_and_small() {
        assert!(SCRIPT.len() < 10_000, "{} bytes", SCRIPT.len());
        assert!(SCRIPT.len() + STYLE.len() < 40_000, "{} bytes of style", STYLE.len());
    }
}

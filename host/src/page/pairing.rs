//! How a phone is let in and forgotten, over its browser.

use std::net::IpAddr;

use axum::extract::{Form, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Redirect, Response};

use super::forms::Said;
use super::guard::Door;
use super::phones::{COOKIE, NotPaired};

/// The address of a code.
pub fn address(host: IpAddr, port: u16, code: &str) -> String {
    let host = match host {
        IpAddr::V4(host) => host.to_string(),
        IpAddr::V6(host) => format!("[{host}]"),
    };
    format!("http://{host}:{port}/pair?code={code}")
}

const HEAD: &str = "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><title>Needlehours</title><link rel=\"stylesheet\" href=\"/page.css\"></head><body><main id=\"main\"><h1>";
const FOOT: &str = "</main></body></html>";

/// The page of a code: looking at it does not use the code up.
pub async fn pairing(Query(fields): Query<Vec<(String, String)>>) -> Response {
    let said = Said(fields);
    let code: String =
        said.get("code").unwrap_or_default().chars().filter(char::is_ascii_alphanumeric).take(64).collect();
    Html(format!(
        "{HEAD}Use this phone beside the frame?</h1><form method=\"post\" action=\"/pair\" class=\"fields\"><label for=\"code\">The code from the terminal</label><input id=\"code\" name=\"code\" value=\"{code}\" autocomplete=\"off\" autocapitalize=\"off\"><button class=\"tap strong\">Let this phone in</button></form>{FOOT}"
    ))
    .into_response()
}

/// Lets a phone in.
pub async fn pair(State(door): State<Door>, Form(fields): Form<Vec<(String, String)>>) -> Response {
    let said = Said(fields);
    match door.shared.phones.pair(said.get("code").unwrap_or_default()) {
        Ok(cookie) => {
            let cookie = format!("{COOKIE}={cookie}; HttpOnly; SameSite=Strict; Path=/");
            ([(header::SET_COOKIE, cookie)], Redirect::to("/")).into_response()
        }
        Err(why) => {
            let words = match why {
                NotPaired::WrongCode => "This code is wrong, was used, or is too old.",
                NotPaired::TooMany => "Eight phones are let in already. Forget them on the page of settings.",
                NotPaired::NoChance => "This computer cannot make a key now. Try again.",
            };
            let page = format!(
                "{HEAD}Not let in</h1><p class=\"refused\">{words}</p><p>A new code: end <code>needlehours page --phone</code> with Ctrl-C and start it again.</p>{FOOT}"
            );
            (StatusCode::FORBIDDEN, Html(page)).into_response()
        }
    }
}

/// Forgets all phones.
pub async fn forget(State(door): State<Door>, Form(fields): Form<Vec<(String, String)>>) -> Response {
    if door.shared.forms.number(&Said(fields)).is_err() {
        return (StatusCode::FORBIDDEN, "This form is from before the page was started again.")
            .into_response();
    }
    door.shared.phones.forget();
    Redirect::to("/settings").into_response()
}

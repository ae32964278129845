//! Phones: not without the code, once by it, and not after they were forgotten.
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use std::net::{IpAddr, Ipv4Addr};

use crate::bench_studio::Studio;
use crate::site::{Answer, Site, ask, form, host_of, value_of};
use host::page::NoBoard;

/// The door for phones stands on another address of this computer.
fn site() -> (Site, String, String) {
    let there = IpAddr::V4(Ipv4Addr::new(127, 0, 0, 2));
    let site = Site::with(Studio::new(), Some(there), Box::new(NoBoard));
    let pairing = site.listening.for_a_phone.clone().unwrap();
    let code = pairing.split("code=").nth(1).unwrap().to_owned();
    (site, host_of(&pairing), code)
}

fn get(host: &str, path: &str, cookie: &str) -> Answer {
    ask(host, &format!("GET {path} HTTP/1.1\r\nHost: {host}\r\n{cookie}Connection: close\r\n\r\n"))
}

fn pair(host: &str, code: &str) -> Answer {
    ask(host, &form(host, "/pair", &format!("Origin: http://{host}\r\n"), &[("code", code)]))
}

#[test]
fn a_phone_comes_in_by_the_code_once_and_is_forgotten() {
    let (site, host, code) = site();
    for page in ["/", "/care", "/live", "/rug/sheet?name=Fox", "/page.js"] {
        assert_eq!(get(&host, page, "").status, 401, "{page}");
    }
    // Looking at the code's page, as a preview of a link does, does not use it up.
    assert_eq!(get(&host, &format!("/pair?code={code}"), "").status, 200);
    let paired = pair(&host, &code);
    assert_eq!(paired.status, 303);
    let cookie = paired.header("set-cookie").unwrap();
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"), "{cookie}");
    let cookie = format!("Cookie: {}\r\n", cookie.split(';').next().unwrap());
    let now = get(&host, "/", &cookie);
    assert_eq!(now.status, 200);
    assert_eq!(pair(&host, &code).status, 403, "the code is good once");
    assert_eq!(get(&host, "/", "Cookie: needlehours=0\r\n").status, 401);
    // Its forms work, and only from its own page.
    let fields = [("token", value_of(&now.body, "token")), ("number", value_of(&now.body, "number"))];
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let ours = format!("Origin: http://{host}\r\n{cookie}");
    assert_eq!(ask(&host, &form(&host, "/tap/tear", &ours, &fields)).status, 303);
    let others = format!("Origin: http://evil.example\r\n{cookie}");
    assert_eq!(ask(&host, &form(&host, "/tap/near", &others, &fields)).status, 403);
    site.tap("/phones/forget", &[]);
    assert_eq!(get(&host, "/", &cookie).status, 401);
}

#[test]
fn guessing_the_code_ends_it() {
    let (_site, host, code) = site();
    for _ in 0..5 {
        assert_eq!(pair(&host, "0000000000000000").status, 403);
    }
    assert_eq!(pair(&host, &code).status, 403);
}

#[test]
fn the_door_for_phones_has_its_own_name_and_the_one_here_none_for_them() {
    let (site, host, _) = site();
    let as_named = |at: &str, name: &str| {
        ask(at, &format!("GET /pair HTTP/1.1\r\nHost: {name}\r\nConnection: close\r\n\r\n")).status
    };
    assert_eq!(as_named(&host, &site.host()), 403);
    assert_eq!(as_named(&site.host(), &host), 403);
    assert_eq!(as_named(&host, &host), 200);
}

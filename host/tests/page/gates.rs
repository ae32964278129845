//! Who comes in and what is never loaded, written or believed.
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use crate::bench_studio::{Log, Studio};
use crate::site::{Site, ask, form};

const PAGES: [&str; 14] = [
    "/",
    "/machine",
    "/who",
    "/care",
    "/care/steps?task=oiling",
    "/cloth",
    "/rugs",
    "/rugs/next",
    "/rug?name=Fox",
    "/rug/sheet?name=Fox",
    "/rug/card?name=Fox",
    "/heavy",
    "/book",
    "/settings",
];

const TAPS: [&str; 6] = ["/tap/tear", "/tap/first", "/tap/tightened", "/tap/done", "/undo", "/tap/work"];

fn site() -> Site {
    let studio = Studio::new();
    studio.rug("Fox", "grey");
    let mut log = Log::new();
    log.run(10, 48, 500);
    studio.pulled(&log);
    Site::of(studio)
}

#[test]
fn another_name_of_this_computer_is_refused() {
    let site = site();
    let (host, port) = (site.host(), site.host().split(':').nth(1).unwrap().to_owned());
    let named = |name: &str| {
        ask(&host, &format!("GET / HTTP/1.1\r\nHost: {name}\r\nConnection: close\r\n\r\n")).status
    };
    for name in ["evil.example", &format!("evil.example:{port}"), "127.0.0.1", "127.0.0.1:1", "", "[::1]:80"]
    {
        assert_eq!(named(name), 403, "{name}");
    }
    assert_eq!((named(&host), named(&format!("localhost:{port}"))), (200, 200));
    let twice = format!("GET / HTTP/1.1\r\nHost: {host}\r\nHost: evil.example\r\nConnection: close\r\n\r\n");
    assert!([400, 403].contains(&ask(&host, &twice).status));
}

#[test]
fn a_form_of_another_page_writes_nothing() {
    let site = site();
    let before = site.studio.entries().len();
    let (token, number) = site.form_of("/");
    let fields = [("token", token.as_str()), ("number", number.as_str())];
    for origin in ["", "Origin: null\r\n", "Origin: http://evil.example\r\n", "Origin: https://127.0.0.1\r\n"]
    {
        assert_eq!(site.post_with("/tap/tear", origin, &fields).status, 403, "{origin}");
    }
    assert_eq!(site.studio.entries().len(), before);
    assert_eq!(site.post("/tap/tear", &fields).status, 303);
    assert_eq!(site.studio.entries().len(), before + 1);
}

#[test]
fn without_its_token_a_form_writes_nothing() {
    let site = site();
    let before = site.studio.entries().len();
    for tap in TAPS {
        for fields in [vec![], vec![("token", "0123456789abcdef0123456789abcdef"), ("number", "1")]] {
            let answer = site.post(tap, &fields);
            assert_eq!(answer.status, 409, "{tap} {fields:?}");
            assert!(answer.body.contains("Not saved"), "{answer:?}");
        }
    }
    assert_eq!(site.studio.entries().len(), before);
}

#[test]
fn looking_writes_nothing_and_no_tap_is_an_address_to_look_at() {
    let site = site();
    let before = site.studio.entries();
    for page in PAGES {
        assert_eq!(site.get(page).status, 200, "{page}");
    }
    let (token, number) = site.form_of("/");
    for tap in TAPS {
        let answer = site.get(&format!("{tap}?token={token}&number={number}&machine=1"));
        assert_eq!(answer.status, 405, "{tap}");
    }
    assert_eq!(site.studio.entries(), before);
}

#[test]
fn a_page_loads_nothing_from_elsewhere_and_holds_no_script_or_style() {
    let site = site();
    for page in PAGES {
        let answer = site.get(page);
        let policy = answer.header("content-security-policy").unwrap();
        assert!(policy.contains("default-src 'none'") && !policy.contains("unsafe"), "{policy}");
        assert_eq!(answer.header("x-content-type-options").as_deref(), Some("nosniff"));
        let body = &answer.body;
        for never in ["<style", " style=", " onclick=", "javascript:", "//cdn", "https://", "src=\"http"] {
            assert!(!body.contains(never), "{page}: {never}\n{body}");
        }
        assert_eq!(
            body.matches("<script").count(),
            body.matches("<script src=\"/page.js\"").count(),
            "{page}"
        );
    }
}

#[test]
fn the_first_view_is_light_and_leads_to_the_other_pages() {
    let site = site();
    let now = site.get("/");
    let loaded = ["/page.css", "/page.js", "/mark.svg"].map(|path| site.get(path).body.len());
    assert!(now.body.len() + loaded.iter().sum::<usize>() < 100_000);
    let linked = PAGES.iter().filter(|page| now.body.contains(&format!("href=\"{page}\"")));
    assert!(linked.count() >= 6, "{}", now.body);
}

#[test]
fn a_form_that_is_far_too_long_is_not_read() {
    let site = site();
    let before = site.studio.entries().len();
    let (token, number) = site.form_of("/");
    let long = "x".repeat(40_000);
    let fields = [("token", token.as_str()), ("number", number.as_str()), ("new", long.as_str())];
    let origin = format!("Origin: http://{}\r\n", site.host());
    let answer = ask(&site.host(), &form(&site.host(), "/tap/who", &origin, &fields));
    assert_eq!(answer.status, 413, "{answer:?}");
    assert_eq!(site.studio.entries().len(), before);
}

#[test]
fn what_is_no_request_is_refused_and_the_next_one_is_answered() {
    let site = site();
    for nonsense in
        ["\r\n\r\n", "GET / HTTP/9\r\n\r\n", "GET /\u{0} HTTP/1.1\r\n\r\n", "\u{16}\u{3}\u{1}\u{2}\u{0}"]
    {
        ask(&site.host(), nonsense);
    }
    for path in
        ["/?machine=x", "/?machine=99999999999", "/care?machine=9", "/rug", "/rug?name=Nobody", "/nothing"]
    {
        assert_eq!(site.get(path).status, 404, "{path}");
    }
    assert_eq!(site.get("/").status, 200);
}

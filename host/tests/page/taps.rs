//! Taps: saved once, told as saved, taken back, and plain text whatever was typed.
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use crate::bench_studio::{Log, Studio};
use crate::site::{Site, encoded, value_of};
use host_core::entries::{EntryBody, Harm};

fn two_sessions() -> Studio {
    let studio = Studio::new();
    studio.rug("Fox", "grey");
    let mut log = Log::new();
    log.run(10, 48, 500);
    log.run(120, 60, 500);
    studio.pulled(&log);
    studio
}

#[test]
fn an_empty_database_is_begun_with_one_form_with_a_board_and_without() {
    for (board, button) in [("no", "id=\"begin\""), ("yes", "id=\"live\"")] {
        let site = Site::of(Studio::empty());
        assert!(site.get("/").body.contains("action=\"/tap/first\""));
        let fields = [
            ("name", "Rosie"),
            ("pile", "cut"),
            ("board", board),
            ("age", "new"),
            ("rug", "Fox"),
            ("size", "80x120cm"),
        ];
        let now = site.tap("/tap/first", &fields);
        assert_eq!(now.status, 200);
        assert!(
            now.body.contains("Rosie") && now.body.contains("Fox") && now.body.contains(button),
            "{}",
            now.body
        );
        let kinds = site.studio.entries();
        assert!(kinds.iter().any(|entry| matches!(&entry.body, EntryBody::MachineAdded(_))));
        assert!(kinds.iter().any(|entry| matches!(&entry.body, EntryBody::RugWork(_))));
    }
}

#[test]
fn a_size_that_is_none_enters_nothing_and_can_be_corrected() {
    let site = Site::of(Studio::empty());
    let refused = site.tap("/tap/first", &[("name", "Rosie"), ("rug", "Fox"), ("size", "large")]);
    assert_eq!(refused.status, 409);
    assert!(refused.body.contains("Not saved") && refused.body.contains("Tap again"), "{}", refused.body);
    assert_eq!(site.studio.entries().len(), 0);
}

#[test]
fn a_tap_is_told_as_saved_and_one_more_takes_it_back() {
    let site = Site::of(two_sessions());
    let before = site.studio.entries().len();
    let now = site.tap("/tap/tear", &[("machine", "1")]);
    assert!(now.body.contains("<strong>Saved:</strong> A tear."), "{}", now.body);
    let torn = site.studio.entries();
    let EntryBody::TearNoted(tear) = &torn[before].body else { panic!("{torn:?}") };
    assert_eq!(tear.harm, Harm::Tear);
    assert!(now.body.contains("id=\"undo\""));
    let number = value_of(now.body.split("action=\"/undo\"").nth(1).unwrap(), "number");
    let token = value_of(&now.body, "token");
    assert_eq!(site.post("/undo", &[("token", &token), ("number", &number)]).status, 303);
    let EntryBody::Withdrawn { entry, .. } = &site.studio.entries()[before + 1].body else { panic!() };
    assert_eq!(*entry, torn[before].id);
    let after = site.get("/");
    assert!(
        after.body.contains("Taken back: a tear") && !after.body.contains("id=\"undo\""),
        "{}",
        after.body
    );
}

#[test]
fn the_same_tap_twice_counts_once_and_a_new_one_counts_again() {
    let site = Site::of(two_sessions());
    let before = site.studio.entries().len();
    let (token, number) = site.form_of("/");
    let fields = [("token", token.as_str()), ("number", number.as_str()), ("machine", "1")];
    for _ in 0..3 {
        assert_eq!(site.post("/tap/near", &fields).status, 303);
    }
    assert_eq!(site.studio.entries().len(), before + 1);
    // Another button of the same form is another tap.
    assert_eq!(site.post("/tap/tear", &fields).status, 303);
    site.tap("/tap/near", &[("machine", "1")]);
    assert_eq!(site.studio.entries().len(), before + 3);
}

#[test]
fn an_evening_is_answered_tap_by_tap_without_a_script() {
    let site = Site::of(two_sessions());
    let now = site.get("/").body;
    assert!(now.contains("1 h 48 min on Fox, 2 sessions.") && now.contains("Right?"), "{now}");
    let day = value_of(&now, "day");
    let now = site.tap("/tap/right", &[("machine", "1"), ("day", &day)]).body;
    assert!(now.contains("Counted to Fox") && !now.contains("Right?"), "{now}");
    let now = site.tap("/tap/evening", &[("machine", "1")]).body;
    assert!(now.contains("Brush-out and screws done") && !now.contains("End of day"), "{now}");
    let now = site.tap("/tap/tightened", &[("machine", "1")]).body;
    assert!(now.contains("id=\"cloth-ran\">0 s<"), "{now}");
    let refused = site.tap("/tap/right", &[("machine", "1"), ("day", &day)]);
    assert_eq!(refused.status, 409);
}

#[test]
fn care_is_led_through_a_step_a_screen_and_noted_at_its_end_alone() {
    let site = Site::of(two_sessions());
    let before = site.studio.entries().len();
    let first = site.get("/care/steps?machine=1&task=oiling").body;
    assert!(first.contains("Switch off, unplug"), "{first}");
    let second = site.get("/care/steps?machine=1&task=oiling&step=2").body;
    assert!(second.contains("step 2 of") && second.contains("brushed=yes"), "{second}");
    let last = site.get("/care/steps?machine=1&task=oiling&step=99&brushed=yes").body;
    assert!(last.contains("name=\"brushed\"") && last.contains("It is done"), "{last}");
    assert_eq!(site.studio.entries().len(), before);
    let fields =
        [("machine", "1"), ("task", "oiling"), ("brushed", "yes"), ("finding", "c"), ("back", "/care")];
    let care = site.tap("/tap/done", &fields).body;
    assert!(care.contains("Oiling done"), "{care}");
    let done =
        site.studio.entries().into_iter().filter(|entry| matches!(&entry.body, EntryBody::CareDone(_)));
    assert_eq!(done.count(), 2, "the oiling, and the brush-out with which it began");
}

#[test]
fn who_works_and_the_next_rug_are_said_by_a_tap() {
    let site = Site::of(two_sessions());
    let now = site.tap("/tap/who", &[("machine", "1"), ("new", "Ana")]).body;
    assert!(now.contains(">Ana</a>"), "{now}");
    let fields =
        [("machine", "1"), ("before", "Fox"), ("becomes", "finished"), ("new", "Owl"), ("size", "60x60cm")];
    let now = site.tap("/tap/next", &fields).body;
    assert!(now.contains("Owl is on the frame") && now.contains("<span>Owl"), "{now}");
    let rugs = site.get("/rugs").body;
    assert!(rugs.contains("finished") && rugs.contains("60 x 60 cm"), "{rugs}");
}

#[test]
fn time_at_the_frame_is_begun_and_stopped_without_a_board() {
    let site = Site::of(Studio::empty());
    site.tap("/tap/first", &[("name", "Rosie"), ("board", "no"), ("rug", "Fox")]);
    let now = site.tap("/tap/begin", &[("machine", "1")]).body;
    assert!(now.contains("id=\"stop\"") && now.contains("At the frame since Mon 2 Mar 2026 12:00"), "{now}");
    let refused = site.tap("/tap/stop", &[("machine", "1"), ("lasted", "a while")]);
    assert_eq!(refused.status, 409, "{refused:?}");
    let now = site.tap("/tap/stop", &[("machine", "1")]).body;
    assert!(now.contains("id=\"begin\"") && now.contains("at the frame"), "{now}");
}

#[test]
fn nothing_that_is_typed_can_become_a_tag() {
    let hostile = "\"><script>x()</script>'&";
    let site = Site::of(Studio::empty());
    let fields = [("name", hostile), ("board", "no"), ("rug", hostile)];
    assert_eq!(site.tap("/tap/first", &fields).status, 200);
    site.tap("/tap/who", &[("new", hostile)]);
    let name = encoded(hostile);
    for page in [
        "/",
        "/machine",
        "/who",
        "/care",
        "/cloth",
        "/rugs",
        "/rugs/next",
        "/heavy",
        "/book",
        "/book/machine",
        &format!("/rug?name={name}"),
        &format!("/rug/sheet?name={name}"),
        &format!("/rug/card?name={name}"),
        &format!("/rug?name={name}x"),
        &format!("/care/steps?task={name}"),
        &format!("/day?day={name}"),
        &format!("/rugs?size={name}"),
        &format!("/?machine={name}"),
    ] {
        let body = site.get(page).body;
        assert!(!body.contains("<script>"), "{page}\n{body}");
    }
    for tap in ["/tap/done", "/tap/felt", "/tap/other", "/tap/work", "/tap/next"] {
        let body = site
            .tap(
                tap,
                &[
                    ("task", hostile),
                    ("id", hostile),
                    ("rug", hostile),
                    ("day", hostile),
                    ("becomes", hostile),
                    ("felt", "slack"),
                    ("back", hostile),
                ],
            )
            .body;
        assert!(!body.contains("<script>"), "{tap}\n{body}");
    }
}

#[test]
fn what_another_run_enters_meanwhile_is_no_hindrance() {
    let site = Site::of(two_sessions());
    site.tap("/tap/near", &[("machine", "1")]);
    site.studio.ok(&["tear"]);
    let now = site.tap("/tap/tear", &[("machine", "1")]);
    assert!(now.body.contains("Saved"), "{}", now.body);
    let tears = site.studio.json(&["tear", "list", "--json"]);
    assert_eq!((tears["tears"].as_u64(), tears["near_misses"].as_u64()), (Some(2), Some(1)));
}

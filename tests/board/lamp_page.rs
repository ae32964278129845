//! The page about the lamp and its drawing say what the lamp does.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use firmware::lamp::CEILING_MS;
use firmware::lamp::LampMessage;
use firmware::lamp::SAVED_MS;
use shared_types::UptimeMillis;
use tests::board_image::source_tree;

/// The drawing begins at this many units and takes so many for a millisecond; its dark fields have this colour.
const STARTS_AT: f64 = 250.0;
const UNITS_PER_MS: f64 = 0.15;
const LIT: &str = r##"fill="#1b5e8a""##;
const SHOWN_MS: u64 = 4_000;

fn page(name: &str) -> String {
    std::fs::read_to_string(source_tree().join("firmware").join(name)).unwrap()
}

/// When it is lit, from and to in milliseconds, looked at every millisecond.
fn flashes(message: LampMessage) -> Vec<(u64, u64)> {
    let mut spans: Vec<(u64, u64)> = Vec::new();
    for ms in (0..SHOWN_MS).filter(|ms| message.is_lit(UptimeMillis(*ms))) {
        match spans.last_mut() {
            Some((_, to)) if *to == ms => *to = ms + 1,
            _ => spans.push((ms, ms + 1)),
        }
    }
    spans
}

fn number(line: &str, name: &str) -> f64 {
    let (_, rest) = line.split_once(&format!("{name}=\"")).unwrap();
    rest.split_once('"').unwrap().0.parse().unwrap()
}

/// The dark fields of each row of the drawing, from top to bottom.
fn drawn() -> Vec<Vec<(u64, u64)>> {
    let mut rows: std::collections::BTreeMap<u64, Vec<(u64, u64)>> = std::collections::BTreeMap::new();
    let drawing = page("pictures/lamp.svg");
    for line in drawing.lines().filter(|line| line.contains(LIT)) {
        let at = |units: f64| ((units - STARTS_AT) / UNITS_PER_MS).round().abs() as u64;
        let (x, width) = (number(line, " x"), number(line, "width"));
        rows.entry(number(line, " y") as u64).or_default().push((at(x), at(x + width)));
    }
    rows.into_values().collect()
}

#[test]
fn the_drawing_shows_every_flash_where_the_lamp_makes_it() {
    let mut expected: Vec<_> =
        [LampMessage::LookWhenYouStop, LampMessage::Retension, LampMessage::StopAfterLine]
            .map(flashes)
            .into();
    // Steady for as long as the answer lasts.
    expected.push(vec![(0, SAVED_MS)]);
    assert_eq!(drawn(), expected);
}

#[test]
fn the_table_gives_the_lamp_s_own_times() {
    let page = page("LAMP.md");
    let [look, next] = flashes(LampMessage::LookWhenYouStop)[..] else { panic!("two in four seconds") };
    let (length, period) = (look.1 - look.0, next.0 - look.0);
    let pair = flashes(LampMessage::Retension);
    let stop = flashes(LampMessage::StopAfterLine);
    for words in [
        format!("one flash of {length} ms every {period} ms"),
        format!(
            "two flashes of {} ms, {} ms apart, every {} ms",
            pair[0].1,
            pair[1].0 - pair[0].1,
            pair[2].0
        ),
        format!("a flash of {} ms every {} ms, without a pause", stop[0].1, stop[1].0),
        format!("lit for {} ms", SAVED_MS),
        format!("for {} running seconds", CEILING_MS / 1_000),
    ] {
        assert!(page.contains(&words), "LAMP.md does not say: {words}");
    }
}

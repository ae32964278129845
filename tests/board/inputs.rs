//! Knob, clock, buttons and lamp.

use firmware::lamp::SAVED_MS;
use serde_json::json;
use shared_types::link::{Reply, Request};
use shared_types::log::{Anchor, ClockSource, Event, Limits, Press, PressKind, Settings};
use shared_types::{RawAngle, RunMillis, UtcMillis};
use tests::emulator::{CARE_BUTTON, CLOTH_BUTTON, Emulator};

use super::{ms, segments, started};

/// 2031-04-05T06:07:08Z in milliseconds since 1970, by `date -u -d 2031-04-05T06:07:08Z +%s`.
const CLOCK_SET_TO: i64 = 1_933_135_628_000;

fn anchors(board: &mut Emulator) -> Vec<Anchor> {
    board.events(|event| if let Event::Anchor(anchor) = event { Some(anchor) } else { None })
}

fn presses(board: &mut Emulator) -> Vec<Press> {
    board.events(|event| if let Event::Press(press) = event { Some(press) } else { None })
}

#[test]
fn the_knob_s_angle_is_read_and_a_turned_knob_closes_a_segment() {
    let mut board = started();
    board.turn_knob(0x7AB);
    board.run(ms(500));
    assert_eq!(board.live().angle, Some(RawAngle::new(0x7AB)));
    board.stroke(100, 50.0);
    board.run(ms(1_010));
    board.turn_knob(0x9AB);
    board.run(ms(2_500));
    let angles: Vec<_> =
        segments(&mut board).iter().map(|segment| (segment.angle, segment.continues)).collect();
    assert_eq!(angles, [(Some(RawAngle::new(0x7AB)), false), (Some(RawAngle::new(0x9AB)), true)]);
}

#[test]
fn the_clock_chip_s_time_is_logged_at_every_start() {
    let mut board = Emulator::start();
    board.perform(&json!({ "op": "clock", "set": "2031-04-05T06:07:08" }));
    board.run_until_connected();
    board.run(ms(1_000));
    let [anchor] = anchors(&mut board)[..] else { panic!("one anchor after one start") };
    assert_eq!(anchor.source, ClockSource::ClockChip);
    // Read within the first second after the start, and the chip counts whole seconds.
    assert!((CLOCK_SET_TO..=CLOCK_SET_TO + 1_000).contains(&anchor.utc.0), "{anchor:?}");
    board.power_cycle();
    board.run(ms(1_000));
    assert_eq!(anchors(&mut board).len(), 2);
}

#[test]
fn the_clock_chip_is_read_again_after_an_hour() {
    let mut board = Emulator::start();
    board.perform(&json!({ "op": "clock", "set": "2031-04-05T06:07:08" }));
    board.run_until_connected();
    board.run(ms(3_602_000));
    let anchors = anchors(&mut board);
    assert_eq!(anchors.len(), 2);
    // Two whole-second readings an hour apart differ by an hour, give or take one second.
    assert!((anchors[1].utc.0 - anchors[0].utc.0 - 3_600_000).abs() <= 1_000, "{anchors:?}");
}

#[test]
fn a_computer_s_clock_becomes_an_anchor_and_sets_the_chip() {
    let mut board = started();
    let utc = UtcMillis(CLOCK_SET_TO + 321);
    let asked_ns = board.perform(&json!({ "op": "state" }))["t_ns"].as_i64().unwrap();
    assert!(board.ask(&Request::SetClock { utc }, |reply| reply == Reply::Done));
    board.run(ms(3_000));
    let answer = board.perform(&json!({ "op": "clock" }));
    let passed_ms = (answer["t_ns"].as_i64().unwrap() - asked_ns) / 1_000_000;
    let chip = answer["clock"].as_str().unwrap().parse::<ChipTime>().unwrap().0;
    assert!((chip - utc.0 - passed_ms).abs() <= 60, "the chip is {} ms off", chip - utc.0 - passed_ms);
    assert_eq!(answer["stopped"], false);
    let host = anchors(&mut board).into_iter().find(|anchor| anchor.source == ClockSource::Host);
    assert_eq!(host.map(|anchor| anchor.utc), Some(utc));
}

/// What the emulator says of its clock chip: `2031-04-05T06:07:08.123`, on the day on which these tests set it.
struct ChipTime(i64);

impl std::str::FromStr for ChipTime {
    type Err = std::num::ParseFloatError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let time = text.strip_prefix("2031-04-05T06:").unwrap_or("NaN");
        let (minutes, seconds) = time.split_at(2);
        let since_six =
            minutes.parse::<f64>()? * 60_000.0 + seconds.trim_start_matches(':').parse::<f64>()? * 1_000.0;
        // 06:00:00 is 428 seconds before 06:07:08.
        #[expect(clippy::cast_possible_truncation, reason = "milliseconds of one hour")]
        Ok(Self(CLOCK_SET_TO - 428_000 + since_six.round() as i64))
    }
}

#[test]
fn a_held_button_is_a_tear_with_a_trace_of_the_last_ten_running_seconds() {
    let mut board = started();
    board.turn_knob(0x321);
    board.run(ms(500));
    board.sew(500, 50.0, ms(2_000));
    board.press(CLOTH_BUTTON, ms(1_500));
    let [press] = &presses(&mut board)[..] else { panic!("one press") };
    assert_eq!(press.kind, PressKind::Tear);
    // 2 s of rest, and a hold is understood after 0.8 s; the last edge was at the end of the strokes.
    assert!((2_780..=2_900).contains(&press.still_ms), "{} ms still", press.still_ms);
    // 499 periods of 20 ms are 9.98 s: twenty steps of half a second, 25 strokes each, the newest 480 ms long.
    assert_eq!(press.trace.steps.len(), 20);
    assert_eq!(press.trace.steps.iter().map(|step| u32::from(step.edges)).sum::<u32>(), 500);
    for step in &press.trace.steps {
        assert!((23..=27).contains(&step.edges), "{} edges in half a second", step.edges);
        assert_eq!(step.angle, Some(RawAngle::new(0x321)));
    }
    let lamp = board.perform(&json!({ "op": "led" }));
    assert!(!lamp["edges"].as_array().unwrap().is_empty(), "the lamp confirms what is safe");
}

#[test]
fn each_button_tells_a_short_press_from_a_hold() {
    let mut board = started();
    // A button counts once it has been seen up.
    board.run(ms(300));
    for (pin, time) in [(CLOTH_BUTTON, 60), (CLOTH_BUTTON, 1_000), (CARE_BUTTON, 60), (CARE_BUTTON, 1_000)] {
        board.press(pin, ms(time));
    }
    let kinds: Vec<_> = presses(&mut board).iter().map(|press| press.kind).collect();
    assert_eq!(kinds, [PressKind::NearMiss, PressKind::Tear, PressKind::CareDone, PressKind::Retension]);
}

#[test]
fn a_press_while_sewing_says_that_the_needle_moves() {
    let mut board = started();
    board.stroke(200, 40.0);
    board.run(ms(2_000));
    board.press(CLOTH_BUTTON, ms(100));
    let [press] = &presses(&mut board)[..] else { panic!("one press") };
    assert_eq!((press.kind, press.still_ms), (PressKind::NearMiss, 0));
}

/// Takes the lamp's edges since the last call and adds the spans for which it was lit, in milliseconds.
fn note_lit_spans(board: &mut Emulator, lit_since_ns: &mut Option<u64>, spans_ms: &mut Vec<u64>) {
    let lamp = board.perform(&json!({ "op": "led" }));
    for edge in lamp["edges"].as_array().unwrap() {
        let (at, is_on) = (edge[0].as_u64().unwrap(), edge[1].as_bool().unwrap());
        match (is_on, lit_since_ns.take()) {
            (true, _) => *lit_since_ns = Some(at),
            (false, Some(since)) => spans_ms.push((at - since) / 1_000_000),
            (false, None) => {}
        }
    }
}

#[test]
fn a_chip_that_erases_slowly_does_not_hold_the_lamp_lit_as_if_a_press_were_safe() {
    let mut board = started();
    let limits = Limits { stop_at: Some(RunMillis(0)), ..Limits::default() };
    let erases = |board: &mut Emulator| board.perform(&json!({ "op": "flash_ops" }))["erases"].as_u64();
    board.perform(&json!({ "op": "flash_times", "sector_erase_ns": 1_500_000_000_u64 }));
    let erased_before = erases(&mut board).unwrap();
    let (mut lit_since, mut spans) = (None, Vec::new());
    // Sixteen slots fill a sector of the settings; every change of them comes while a flash of *finish this line, then stop* is lit.
    for knob_step in 30..64 {
        let settings = Settings { knob_step, limits, ..Settings::default() };
        assert!(board.ask(&Request::Apply(settings), |reply| reply == Reply::Done), "the settings are saved");
        for _ in 0..60 {
            board.run(ms(10));
            note_lit_spans(&mut board, &mut lit_since, &mut spans);
            if lit_since.is_some() {
                break;
            }
        }
        assert!(lit_since.is_some(), "the lamp asks to stop");
    }
    assert!(erases(&mut board).unwrap() >= erased_before + 2, "saving settings erased sectors");
    let longest = spans.iter().max().unwrap();
    assert!(*longest < SAVED_MS / 2, "lit for {longest} ms in one go");
}

use super::*;
use crate::lamp::LampMessage;
use crate::sim::nor::Nor;
use crate::sim::rig::{Rig, RigSetup};
use proptest::prelude::*;
use shared_types::link::{LoggerStatus, link_records};
use shared_types::log::{ClockSource, Event, Limits, PressKind, Record, Settings, decode_body};
use shared_types::{MachineTag, RunMillis};
use std::vec::Vec;

/// Asks as a host does and hands over the bytes of the answering message.
fn ask(rig: &mut Rig, request: &Request) -> Vec<u8> {
    let mut message = [0; MAX_MESSAGE];
    ask_bytes(rig, encode_message(request, &mut message).unwrap())
}

fn ask_bytes(rig: &mut Rig, message: &[u8]) -> Vec<u8> {
    let mut frame = [0; REPLY_BYTES];
    let answer = rig.link(encode_frame(message, &mut frame).unwrap());
    let mut reader = FrameReader::new();
    let mut messages = Vec::new();
    for byte in answer {
        if let Some(message) = reader.push(byte) {
            messages.push(message.unwrap().to_vec());
        }
    }
    assert_eq!(messages.len(), 1, "one request, one reply");
    messages.remove(0)
}

fn status(rig: &mut Rig) -> LoggerStatus {
    let answer = ask(rig, &Request::LoggerStatus);
    match decode_message(&answer).unwrap() {
        Reply::LoggerStatus(status) => status,
        other => panic!("{other:?}"),
    }
}

fn log_of(rig: &mut Rig) -> (LogId, RecordSeq, RecordSeq) {
    match status(rig).log {
        LogState::Ready { log, next, acknowledged, .. } => (log, next, acknowledged),
        other => panic!("a readable log was expected: {other:?}"),
    }
}

fn pull(rig: &mut Rig, log: LogId) -> Vec<(RecordSeq, Record)> {
    let mut all = Vec::new();
    let mut from = RecordSeq(0);
    loop {
        let answer = ask(rig, &Request::ReadFrom { log, from });
        let Reply::Records(batch) = decode_message(&answer).unwrap() else { panic!("no records") };
        assert_eq!(batch.log, log);
        let before = all.len();
        for record in link_records(batch.records) {
            let record = record.unwrap();
            all.push((record.seq, decode_body(record.body).unwrap()));
        }
        if batch.end {
            return all;
        }
        assert!(all.len() > before, "every batch but the last brings something");
        assert_eq!(batch.next.0, all.last().unwrap().0.0 + 1);
        from = batch.next;
    }
}

fn refusal(answer: &[u8]) -> Option<Refusal> {
    match decode_message(answer).unwrap() {
        Reply::Refused(refusal) => Some(refusal),
        _ => None,
    }
}

fn worked() -> Rig {
    let mut rig = Rig::new(RigSetup::default());
    assert!(rig.power_on(rig.utc()));
    let knob = rig.knob_at(500);
    for _ in 0..80 {
        rig.run_trigger(3_000, |_| knob);
        rig.idle(2_000);
        rig.press(PressKind::NearMiss);
    }
    rig
}

#[test]
fn a_pull_brings_every_record_once_and_their_sum_is_the_total() {
    let mut rig = worked();
    let (log, next, _) = log_of(&mut rig);
    let all = pull(&mut rig, log);
    let numbers: Vec<u32> = all.iter().map(|(seq, _)| seq.0).collect();
    assert_eq!(numbers, (0..next.0).collect::<Vec<_>>());
    let run: u64 = all
        .iter()
        .filter_map(|(_, record)| match &record.event {
            Event::Segment(segment) => Some(segment.run.0),
            _ => None,
        })
        .sum();
    assert_eq!(run, rig.truth().powered.run.0);
    assert_eq!(status(&mut rig).totals, rig.truth().powered);
    let presses = all.iter().filter(|(_, record)| matches!(record.event, Event::Press(_))).count();
    assert_eq!(presses, 80);
}

#[test]
fn another_log_and_numbers_beyond_the_end_are_refused() {
    let mut rig = worked();
    let (log, next, _) = log_of(&mut rig);
    let other = LogId(log.0 ^ 1);
    let beyond = RecordSeq(next.0 + 1);
    for (request, expected) in [
        (Request::ReadFrom { log: other, from: RecordSeq(0) }, Some(Refusal::OtherLog)),
        (Request::ReadFrom { log, from: beyond }, Some(Refusal::BeyondEnd)),
        (Request::ReadFrom { log, from: next }, None),
        (Request::Acknowledge { log: other, below: RecordSeq(1) }, Some(Refusal::OtherLog)),
        (Request::Acknowledge { log, below: beyond }, Some(Refusal::BeyondEnd)),
        (Request::FormatUnreadable, Some(Refusal::LogIsReadable)),
        (Request::SetClock { utc: UtcMillis(i64::MAX) }, Some(Refusal::NotUnderstood)),
    ] {
        let answer = ask(&mut rig, &request);
        assert_eq!(refusal(&answer), expected, "{request:?}");
    }
    assert_eq!(log_of(&mut rig), (log, next, RecordSeq(0)), "nothing of this has changed anything");
}

#[test]
fn acknowledging_only_moves_a_cursor() {
    let mut rig = worked();
    let (log, next, _) = log_of(&mut rig);
    let before = pull(&mut rig, log);
    let answer = ask(&mut rig, &Request::Acknowledge { log, below: next });
    assert_eq!(decode_message::<Reply<'_>>(&answer).unwrap(), Reply::Done);
    assert_eq!(log_of(&mut rig), (log, next, next));
    assert_eq!(pull(&mut rig, log), before);
}

#[test]
fn settings_and_fittings_are_records_and_survive_a_cut() {
    let mut rig = worked();
    let (log, next, _) = log_of(&mut rig);
    let limits = Limits { look_at: Some(RunMillis(1)), ..Limits::default() };
    let settings = Settings { machine: MachineTag(0), knob_step: 40, limits };
    ask(&mut rig, &Request::Apply(settings));
    ask(&mut rig, &Request::Fit(MachineTag(7)));
    let fitted = Settings { machine: MachineTag(7), ..settings };
    let new: Vec<Event> =
        pull(&mut rig, log).into_iter().filter(|it| it.0 >= next).map(|it| it.1.event).collect();
    assert_eq!(new, [Event::Settings(settings), Event::Settings(fitted), Event::Fitted(MachineTag(7))]);
    rig.power_cut();
    assert!(rig.power_on(rig.utc()));
    assert_eq!(status(&mut rig).settings, fitted);
}

#[test]
fn setting_the_clock_is_an_anchor_and_sets_the_chip() {
    let mut rig = worked();
    rig.clock_mut().unwrap().lose_time();
    rig.idle(3_700_000);
    let lost = 1 << 5;
    assert_eq!(status(&mut rig).faults, lost, "the sixth fault is a lost clock");
    let utc = rig.utc();
    let answer = ask(&mut rig, &Request::SetClock { utc });
    assert_eq!(decode_message::<Reply<'_>>(&answer).unwrap(), Reply::Done);
    rig.idle(1_000);
    assert_eq!(status(&mut rig).faults, 0, "the chip was read again and knows the time");
    let (log, ..) = log_of(&mut rig);
    let sources: Vec<_> = pull(&mut rig, log)
        .into_iter()
        .filter_map(|(_, record)| match record.event {
            Event::Anchor(anchor) => Some(anchor.source),
            _ => None,
        })
        .collect();
    assert_eq!(sources, [ClockSource::ClockChip, ClockSource::Host, ClockSource::ClockChip]);
}

#[test]
fn without_a_readable_log_the_logger_says_so_and_makes_one_only_when_told() {
    let mut rig = worked();
    let settings = Settings { knob_step: 33, ..Settings::default() };
    ask(&mut rig, &Request::Apply(settings));
    rig.power_cut();
    // Somebody wrote something else over the whole log.
    let flash: &mut Nor = rig.flash_mut().unwrap();
    let length = flash.bytes().len();
    flash.load(8_192, &std::vec![0x5A; length - 8_192]);
    assert!(rig.power_on(rig.utc()));
    assert_eq!(status(&mut rig).log, LogState::Unreadable);
    assert_eq!(rig.lamp(), LampMessage::LookWhenYouStop);
    let log = LogId(1);
    for request in [
        Request::ReadFrom { log, from: RecordSeq(0) },
        Request::Acknowledge { log, below: RecordSeq(0) },
        Request::Fit(MachineTag(1)),
    ] {
        let answer = ask(&mut rig, &request);
        assert_eq!(refusal(&answer), Some(Refusal::NoLog), "{request:?}");
    }
    let answer = ask(&mut rig, &Request::FormatUnreadable);
    assert_eq!(decode_message::<Reply<'_>>(&answer).unwrap(), Reply::Done);
    let sectors_left = RigSetup::default().log_sectors;
    assert_eq!(
        status(&mut rig).log,
        LogState::Formatting { sectors_left },
        "it takes as many steps as there are sectors"
    );
    rig.idle(120_000);
    let LogState::Formatting { sectors_left: left } = status(&mut rig).log else {
        panic!("it is made too soon")
    };
    assert!(0 < left && left < sectors_left, "{left} left");
    rig.idle(16_000_000);
    let (log, ..) = log_of(&mut rig);
    let events: Vec<Event> = pull(&mut rig, log).into_iter().map(|it| it.1.event).collect();
    assert!(matches!(events[0], Event::Started(_)), "what waited for a log is in it: {events:?}");
    assert_eq!(events[1], Event::Settings(settings));
}

#[test]
fn a_message_of_another_version_is_refused_and_a_broken_frame_is_not_answered() {
    let mut rig = worked();
    let answer = ask_bytes(&mut rig, &[9, 0]);
    assert_eq!(refusal(&answer), Some(Refusal::NotUnderstood));
    assert_eq!(rig.link(&[5, 1, 2, 3, 4, 0]), []);
    assert_eq!(status(&mut rig).record_version, 1, "and the next request is answered");
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 400,
        failure_persistence: None,
        rng_seed: prop::test_runner::RngSeed::Fixed(0x6E65_6564),
        ..ProptestConfig::default()
    })]

    #[test]
    fn hostile_messages_get_one_reply_each_and_no_panic(
        messages in prop::collection::vec((0..10_u8, prop::collection::vec(any::<u8>(), 0..60)), 1..12),
        version in prop::bool::weighted(0.9),
    ) {
        let mut rig = Rig::new(RigSetup { log_sectors: 4, ..RigSetup::default() });
        prop_assert!(rig.power_on(rig.utc()));
        let knob = rig.knob_at(500);
        for (request, rest) in messages {
            // Mostly the right version and a request that exists, so that the rest is looked at.
            let mut message = std::vec![if version { 1 } else { rest.len() as u8 }, request];
            message.extend(rest);
            ask_bytes(&mut rig, &message);
            rig.run_trigger(700, |_| knob);
            rig.press(PressKind::Retension);
        }
        prop_assert_eq!(status(&mut rig).record_version, 1);
        rig.idle(2_000);
        prop_assert_eq!(status(&mut rig).totals, rig.truth().powered);
    }

    #[test]
    fn hostile_bytes_never_stop_the_next_request(bytes in prop::collection::vec(any::<u8>(), 0..3_000)) {
        let mut rig = Rig::new(RigSetup { log_sectors: 4, ..RigSetup::default() });
        prop_assert!(rig.power_on(rig.utc()));
        rig.link(&bytes);
        rig.link(&[0]);
        prop_assert_eq!(status(&mut rig).record_version, 1);
    }
}

#[test]
fn a_ceiling_with_more_than_twelve_bits_is_not_the_end_of_the_logger() {
    let mut rig = worked();
    // Apply, machine 0, knob step 24, no limits, a ceiling from 65535 to 60000: by the contract's encoding.
    let from_to = [0xFF, 0xFF, 0x03, 0xE0, 0xD4, 0x03];
    let mut message = std::vec![1, 4, 0, 24, 0, 0, 0, 0, 1];
    message.extend(from_to);
    let answer = ask_bytes(&mut rig, &message);
    assert_eq!(decode_message::<Reply<'_>>(&answer).unwrap(), Reply::Done);
    rig.run_trigger(9_000, |_| shared_types::RawAngle::new(4_095));
    rig.idle(1_000);
    assert_eq!(status(&mut rig).totals, rig.truth().powered);
}

#[test]
fn the_requests_of_0_1_0_are_answered_as_they_were() {
    // Every request of the contract of 0.1.0, in the bytes that were kept then.
    let golden = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared-types/tests/golden");
    let mut rig = worked();
    let (log, next, _) = log_of(&mut rig);
    for (name, expected) in [
        ("hello", None),
        ("read-from", Some(Refusal::OtherLog)),
        ("acknowledge", Some(Refusal::OtherLog)),
        ("set-clock", None),
        ("apply", None),
        ("fit", None),
        ("live", None),
        ("format-unreadable", Some(Refusal::LogIsReadable)),
    ] {
        let message = std::fs::read(golden.join(std::format!("request-v1-{name}.bin"))).unwrap();
        let answer = ask_bytes(&mut rig, &message);
        assert_eq!(refusal(&answer), expected, "{name}");
        // The reply's number, by FORMAT.md of 0.1.0.
        let number = match name {
            "hello" => 0,
            "live" => 3,
            _ => {
                if expected.is_some() {
                    4
                } else {
                    2
                }
            }
        };
        assert_eq!(answer[..2], [1, number], "{name}");
    }
    let new: Vec<Event> =
        pull(&mut rig, log).into_iter().filter(|it| it.0 >= next).map(|it| it.1.event).collect();
    assert!(
        matches!(new[..], [Event::Anchor(_), Event::Settings(_), Event::Settings(_), Event::Fitted(_)]),
        "{new:?}"
    );
}

#[test]
fn a_greeting_is_refused_while_the_boot_s_number_is_not_safe() {
    let mut rig = Rig::new(RigSetup::default());
    assert!(rig.power_on(rig.utc()));
    rig.power_cut();
    // No byte of the flash can be programmed or erased any more; it can be read.
    assert!(rig.power_on_until(rig.utc(), 0));
    let answer = ask(&mut rig, &Request::LoggerStatus);
    assert_eq!(refusal(&answer), Some(Refusal::FlashFailed));
}

use shared_types::link::{Live, LoggerStatus};
use shared_types::log::{Fault, Settings};
use shared_types::{LogId, MachineTag, RecordSeq, UptimeMillis, UtcMillis};

use super::*;
use crate::app::ports::{Batch, LoggerError};

/// A logger whose knob is turned by a script: the next angle at every look, the last one for ever; and its faults while
/// there is no angle.
struct Knob(Vec<Option<u16>>, u16);

impl Logger for Knob {
    fn live(&mut self) -> Result<Live, LoggerError> {
        let angle = if self.0.len() > 1 { self.0.remove(0) } else { self.0[0] };
        let faults = if angle.is_none() { self.1 } else { 0 };
        Ok(Live {
            uptime: UptimeMillis(0),
            edges_since_start: 0,
            angle: angle.map(RawAngle::new),
            gain: None,
            faults,
        })
    }

    fn status(&mut self) -> Result<LoggerStatus, LoggerError> {
        Err(unasked())
    }
    fn read_from(&mut self, _: LogId, _: RecordSeq) -> Result<Batch, LoggerError> {
        Err(unasked())
    }
    fn acknowledge(&mut self, _: LogId, _: RecordSeq) -> Result<(), LoggerError> {
        Err(unasked())
    }
    fn set_clock(&mut self, _: UtcMillis) -> Result<(), LoggerError> {
        Err(unasked())
    }
    fn apply(&mut self, _: Settings) -> Result<(), LoggerError> {
        Err(unasked())
    }
    fn fit(&mut self, _: MachineTag) -> Result<(), LoggerError> {
        Err(unasked())
    }
    fn place(&self) -> String {
        "a script".to_owned()
    }
}

fn unasked() -> LoggerError {
    LoggerError::Silent { place: "a script that has no answer to this".to_owned() }
}

fn turned(angles: &[Option<u16>], typed: &str) -> (Result<(u32, u32, bool), String>, String) {
    turned_with(Fault::MagnetMissing.bit(), angles, typed)
}

fn turned_with(
    faults: u16,
    angles: &[Option<u16>],
    typed: &str,
) -> (Result<(u32, u32, bool), String>, String) {
    let mut said = Vec::new();
    let ends = ask(&mut Knob(angles.to_vec(), faults), &mut typed.as_bytes(), &mut said, &mut || {});
    let ends = ends.map(|ends| (ends.slow, ends.fast, ends.falling));
    (ends.map_err(|failure| failure.to_string()), String::from_utf8(said).unwrap())
}

/// Five readings for each stop of the knob, back to the slow end, and from there in small steps over the middle to the fast one.
fn stops(angles: [u16; 3]) -> Vec<Option<u16>> {
    let [slow, half_way, fast] = angles;
    [slow, half_way, fast, slow].iter().flat_map(|angle| [Some(*angle); 5]).chain(swept(angles)).collect()
}

fn swept(angles: [u16; 3]) -> [Option<u16>; 3] {
    angles.map(Some)
}

#[test]
fn three_turns_of_the_knob_give_both_ends_and_the_direction() {
    let (ends, said) = turned(&stops([3_900, 200, 900]), "\n\n\n\n");
    assert_eq!(ends, Ok((3_900, 900, false)), "upwards over the wrap");
    assert!(
        said.starts_with(
            "Switch the machine off and unplug it (or shut the air off and take the hose off) first."
        ),
        "{said}"
    );
    assert_eq!(turned(&stops([900, 200, 3_900]), "\n\n\n\n").0, Ok((900, 3_900, true)));
}

#[test]
fn a_trembling_reading_is_no_end_mark_but_the_middle_one_is() {
    let mut angles = stops([1_000, 2_000, 3_000]);
    angles[..5].copy_from_slice(&[Some(1_003), Some(998), Some(1_000), Some(1_012), Some(995)]);
    assert_eq!(turned(&angles, "\n\n\n\n").0, Ok((1_000, 3_000, false)));
}

#[test]
fn a_knob_that_is_still_being_turned_is_read_again() {
    let mut angles = vec![Some(100), Some(200), Some(300), Some(400), Some(500)];
    angles.extend(stops([1_000, 2_000, 3_000]));
    let (ends, said) = turned(&angles, "\n\n\n\n\n");
    assert_eq!(ends, Ok((1_000, 3_000, false)));
    assert_eq!(said.matches("It was still moving.").count(), 1);
}

#[test]
fn a_knob_without_a_magnet_ends_it_with_the_reason() {
    let (ends, _) = turned(&[None], "\n\n\n\n");
    assert_eq!(ends, Err("the logger cannot read the knob: the knob's sensor sees no magnet".to_owned()));
}

#[test]
fn a_dial_s_voltage_gives_both_ends_too_whichever_end_is_fast() {
    // By the wiring page: a dial of 10 kOhm between two of 2.2 kOhm gives 626 to 3469 of 4095 steps.
    assert_eq!(turned(&stops([626, 2_048, 3_469]), "\n\n\n\n").0, Ok((626, 3_469, false)));
    assert_eq!(turned(&stops([3_469, 2_048, 626]), "\n\n\n\n").0, Ok((3_469, 626, true)));
}

#[test]
fn a_dial_s_loose_wire_is_the_reason_though_the_clock_is_missing_too() {
    let faults = Fault::ClockSilent.bit() | Fault::DialTooLow.bit();
    let (ends, _) = turned_with(faults, &[None], "\n\n\n\n");
    let why = ends.unwrap_err();
    assert!(why.contains("the dial's voltage is below its travel"), "{why}");
    let (ends, _) = turned_with(Fault::ClockSilent.bit(), &[None], "\n\n\n\n");
    assert_eq!(ends, Err("the logger cannot read the knob: its sensor has not been read yet".to_owned()));
}

#[test]
fn silence_changes_nothing() {
    let (ends, _) = turned(&stops([1_000, 2_000, 3_000]), "\n");
    assert_eq!(ends, Err("the knob's ends were not read; nothing was changed".to_owned()));
}

#[test]
fn half_way_that_is_still_an_end_is_asked_for_again() {
    // The slow end twice, the middle, the middle twice instead of the fast end.
    let mut angles: Vec<Option<u16>> =
        [1_000, 1_010, 2_000, 2_005, 3_000, 1_000].iter().flat_map(|angle| [Some(*angle); 5]).collect();
    angles.extend(swept([1_000, 2_000, 3_000]));
    let (ends, said) = turned(&angles, "\n\n\n\n\n\n");
    assert_eq!(ends, Ok((1_000, 3_000, false)));
    assert!(
        said.contains("That is still the slow end.") && said.contains("no other place than before"),
        "{said}"
    );
}

#[test]
fn the_per_cent_are_shown_while_the_knob_is_turned_once_and_a_way_without_a_middle_is_refused() {
    let (_, said) = turned(&stops([1_000, 2_000, 3_000]), "\n\n\n\n");
    for shown in ["  0 % of its way", " 50 % of its way", "100 % of its way"] {
        assert!(said.contains(shown), "{shown}: {said}");
    }
    // Half way was read on the far side, so the true way lies outside the marks.
    let mut angles: Vec<Option<u16>> =
        [1_000, 3_900, 3_000, 1_000].iter().flat_map(|angle| [Some(*angle); 5]).collect();
    angles.extend(swept([1_000, 2_000, 3_000]));
    let (ends, _) = turned(&angles, "\n\n\n\n");
    assert!(ends.unwrap_err().contains("did not go through its middle"));
}

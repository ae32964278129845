//! `machine calibrate` without angles: the maker turns the knob, the logger says where it stands.

use std::io::{BufRead, Write};
use std::ops::RangeInclusive;
use std::time::Duration;

use shared_types::RawAngle;

use super::pull::the_only_logger;
use crate::app::logger::live::{KnobEnds, KnobUnread, ends, still_angle};
use crate::app::ports::Logger;
use crate::cli::shell::ask;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::logger_link::port_lock::{self, Holder};
use crate::view::logger::doctor::fault_words;

/// From one reading to the next; the logger looks at the knob every 90 ms while nothing moves.
const PAUSE: Duration = Duration::from_millis(100);
/// Two places of the knob are further apart than this, in steps of a turn (about 6 degrees).
const LEAST_APART: u16 = 68;
/// So many readings are waited for the fast end: a minute.
const SWEEP_READINGS: u32 = 600;
/// Places that a sweep must show, per mille.
const ALMOST_SLOW: u16 = 50;
const ALMOST_FAST: u16 = 950;
const MIDDLE: RangeInclusive<u16> = 250..=750;

/// Leads through the reading of the two ends.
///
/// # Errors
/// When nobody is there to turn the knob, or the logger cannot read it.
pub fn guided(around: &CommandEnv, port: Option<&str>) -> Result<KnobEnds, Failure> {
    if !ask::somebody_is_there() {
        return Err(Failure::bad_input(
            "machine::angles",
            "no angles were given, and this is no terminal on which somebody could be asked to turn the knob",
            "Give both: needlehours machine calibrate --slow ANGLE --fast ANGLE. `needlehours live` shows the angle.",
        ));
    }
    let port = port.map_or_else(the_only_logger, |port| Ok(port.to_owned()))?;
    let mut logger = port_lock::open(&around.database_path()?, &port, Holder::Calibrate)?;
    let mut wait = || std::thread::sleep(PAUSE);
    ask(&mut logger, &mut std::io::stdin().lock(), &mut std::io::stdout(), &mut wait)
}

fn ask(
    logger: &mut dyn Logger,
    answers: &mut impl BufRead,
    out: &mut impl Write,
    wait: &mut dyn FnMut(),
) -> Result<KnobEnds, Failure> {
    let mut at = |words: &str| angle_at(logger, answers, out, wait, words);
    let slow = at(
        "Switch the machine off and unplug it (or shut the air off and take the hose off) first. Then turn the knob to its slow end",
    )?;
    let mut half_way = at("Turn it about half way")?;
    while is_at(half_way, slow) {
        half_way = at("That is still the slow end. Turn it about half way")?;
    }
    let mut fast = at("Turn it to its fast end")?;
    while is_at(fast, half_way) || is_at(fast, slow) {
        fast = at("That is no other place than before. Turn it to its fast end")?;
    }
    let ends = ends(slow, half_way, fast);
    at("Turn it back to its slow end; after Enter turn it slowly to its fast end")?;
    sweep(logger, ends, out, wait)?;
    Ok(ends)
}

/// Whether a reading is no other place than an end.
const fn is_at(reading: RawAngle, end: RawAngle) -> bool {
    reading.distance(end) < LEAST_APART
}

/// Shows where the knob stands while it is turned from end to end: the maker sees whether the per cent follow, and a way that
/// misses the middle was read in the wrong direction.
fn sweep(
    logger: &mut dyn Logger,
    ends: KnobEnds,
    out: &mut impl Write,
    wait: &mut dyn FnMut(),
) -> Result<(), Failure> {
    let (mut lowest, mut highest, mut has_middle) = (u16::MAX, 0, false);
    for _ in 0..SWEEP_READINGS {
        let live = logger.live().map_err(Failure::from)?;
        if let Some(place) = live.angle.and_then(|angle| ends.place(angle)) {
            let place = place.get();
            (lowest, highest) = (lowest.min(place), highest.max(place));
            has_middle |= MIDDLE.contains(&place);
            write!(out, "\r   {:3} % of its way ", place / 10)
                .and_then(|()| out.flush())
                .map_err(|error| given_up().because(error))?;
            if highest >= ALMOST_FAST {
                break;
            }
        }
        wait();
    }
    writeln!(out).map_err(|error| given_up().because(error))?;
    if lowest <= ALMOST_SLOW && highest >= ALMOST_FAST && has_middle { Ok(()) } else { Err(not_swept()) }
}

fn not_swept() -> Failure {
    Failure::bad_input(
        "machine::sweep",
        "turned from the slow to the fast end, the knob did not go through its middle; nothing was changed",
        "Run it again: about half way means about the middle of the knob's own way. If the per cent still jump, look whether \
         the magnet is loose.",
    )
}

fn angle_at(
    logger: &mut dyn Logger,
    answers: &mut impl BufRead,
    out: &mut impl Write,
    wait: &mut dyn FnMut(),
    words: &str,
) -> Result<RawAngle, Failure> {
    let mut words = words.to_owned();
    loop {
        let asked = write!(out, "{words}, and press Enter. ").and_then(|()| out.flush());
        let mut line = String::new();
        match asked.and_then(|()| answers.read_line(&mut line)) {
            Ok(0) => return Err(given_up()),
            Ok(_) => {}
            Err(error) => return Err(given_up().because(error)),
        }
        match still_angle(logger, wait) {
            Ok(angle) => {
                writeln!(out, "   The sensor says {}.", angle.steps())
                    .map_err(|error| given_up().because(error))?;
                return Ok(angle);
            }
            Err(KnobUnread::Turning) => "It was still moving. Let it stand".clone_into(&mut words),
            Err(unread) => return Err(failure(unread)),
        }
    }
}

fn given_up() -> Failure {
    Failure::bad_input(
        "machine::angles",
        "the knob's ends were not read; nothing was changed",
        "Run it again, or give both angles with --slow and --fast.",
    )
}

fn failure(unread: KnobUnread) -> Failure {
    let what = unread.to_string();
    match unread {
        KnobUnread::Logger(error) => error.into(),
        KnobUnread::NoAngle { faults } => {
            let (why, remedy) = faults
                .first()
                .map_or(("its sensor has not been read yet", "Run it again."), |fault| fault_words(*fault));
            Failure::logger("machine::knob", format!("{what}: {why}"), remedy)
        }
        KnobUnread::Turning => given_up(),
    }
}

#[cfg(test)]
#[path = "calibrate_tests.rs"]
mod tests;

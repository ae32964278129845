//! `machine calibrate` without angles: the maker turns the knob, the logger says where it stands.

use std::io::{BufRead, Write};
use std::time::Duration;

use shared_types::RawAngle;

use super::pull::the_only_logger;
use crate::app::logger::live::{KnobEnds, KnobUnread, ends, still_angle};
use crate::app::ports::Logger;
use crate::cli::shell::ask;
use crate::cli::shell::failure::Failure;
use crate::logger_link::serial;
use crate::view::logger::doctor::fault_words;

/// From one reading to the next; the logger looks at the knob every 90 ms while nothing moves.
const PAUSE: Duration = Duration::from_millis(100);

/// Leads through the reading of the two ends.
///
/// # Errors
/// When nobody is there to turn the knob, or the logger cannot read it.
pub fn guided(port: Option<&str>) -> Result<KnobEnds, Failure> {
    if !ask::somebody_is_there() {
        return Err(Failure::bad_input(
            "machine::angles",
            "no angles were given, and this is no terminal on which somebody could be asked to turn the knob",
            "Give both: needlehours machine calibrate --slow ANGLE --fast ANGLE. `needlehours live` shows the angle.",
        ));
    }
    let port = port.map_or_else(the_only_logger, |port| Ok(port.to_owned()))?;
    let mut logger = serial::open(&port)?;
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
    let half_way = at("Turn it about half way")?;
    let fast = at("Turn it to its fast end")?;
    Ok(ends(slow, half_way, fast))
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

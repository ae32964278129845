//! Values that cannot be used. A number below zero is taken for the value that it is, not for an option that does not
//! exist; and what does not pass is told in plain words, with the exit code of bad input.

use std::error::Error as _;
use std::ffi::OsString;
use std::num::{IntErrorKind, ParseFloatError, ParseIntError};

use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Command, CommandFactory, FromArgMatches};

use super::failure::Failure;
use super::help;
use crate::app::typed::error::is_below_zero;

/// The limits of the machine's own numbers have more digits than this, and say nothing to a maker.
const LIMITS_WORTH_TELLING: usize = 7;

/// The program with all its commands, as the command line is read and helped by.
pub fn program<A: CommandFactory>() -> Command {
    help::by_purpose(with_numbers_below_zero(A::command()))
}

/// Parses a command line, the name of the program first.
///
/// # Errors
/// When it is not understood, or help is asked for.
pub fn parse<A: CommandFactory + FromArgMatches>(
    words: impl IntoIterator<Item = OsString>,
) -> Result<A, clap::Error> {
    let mut command = program::<A>();
    let mut matches = command.try_get_matches_from_mut(words)?;
    A::from_arg_matches_mut(&mut matches).map_err(|error| error.format(&mut command))
}

fn with_numbers_below_zero(command: Command) -> Command {
    let command = command.mut_args(|arg| {
        // A name that stands alone is still not meant to begin with a dash.
        if arg.get_action().takes_values() && !arg.is_positional() {
            arg.allow_negative_numbers(true)
        } else {
            arg
        }
    });
    command.mut_subcommands(with_numbers_below_zero)
}

/// A value that the command line refused; none where it is something else that was not understood.
pub fn unusable(error: &clap::Error) -> Option<Failure> {
    if error.kind() != ErrorKind::ValueValidation {
        return None;
    }
    let said = |kind| match error.get(kind) {
        Some(ContextValue::String(text)) => text.clone(),
        _ => String::new(),
    };
    let argument = said(ContextKind::InvalidArg);
    let name =
        argument.split(' ').next().unwrap_or_default().trim_matches(['<', '>', '[', ']']).to_lowercase();
    let value = said(ContextKind::InvalidValue);
    let source = error.source();
    let whole = source.and_then(|source| source.downcast_ref::<ParseIntError>());
    let too_large =
        whole.is_some_and(|why| matches!(why.kind(), IntErrorKind::PosOverflow | IntErrorKind::NegOverflow));
    let is_number = source.is_some_and(|source| source.is::<ParseFloatError>());
    let (what, remedy) = if is_below_zero(&value) {
        (format!("{name}: {value} is below zero"), "Write a number that is not negative.")
    } else if too_large {
        (format!("{name}: {value} is too large"), "Check the number.")
    } else if whole.is_some() {
        (format!("{name}: \"{value}\" is no whole number"), "Write it in digits, for example 2.")
    } else if is_number {
        (format!("{name}: \"{value}\" is no number"), "Write it in digits, with a point, for example 2.5.")
    } else {
        let why = source.map_or_else(|| "it cannot be read".to_owned(), ToString::to_string);
        if let Some(words) = outside_limits(&name, &value, &why) {
            return Some(Failure::bad_input("value::range", words, "Check the number."));
        }
        // Words that tell the value themselves are not told twice.
        let what = if why.contains(&value) {
            format!("{name}: {why}")
        } else {
            format!("{name}: \"{value}\": {why}")
        };
        (what, "Correct the value and try again; --help tells how it is written.")
    };
    Some(Failure::bad_input("value::unclear", what, remedy))
}

/// A whole number of the right kind, outside the limits of its option, as the command line says "0 is not in 1..=20".
fn outside_limits(name: &str, value: &str, why: &str) -> Option<String> {
    let (low, high) = why.split_once(" is not in ")?.1.split_once("..=")?;
    Some(if high.len() <= LIMITS_WORTH_TELLING {
        format!("{name} must be from {low} to {high}, not {value}")
    } else if value == "0" {
        format!("{name} must be {low} or more, not 0")
    } else {
        format!("{name}: {value} is too large")
    })
}

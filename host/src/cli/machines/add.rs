//! `machine add`.

use std::io::{BufRead, Write, stdin, stdout};

use clap::{Args, ValueEnum};

use crate::app::machines::change::{self, MachineChange};
use crate::app::machines::machine::{self, NewMachine};
use crate::app::ports::{Clock, Store as _};
use crate::app::typed::dates;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{ask, show};
use crate::store::Database;
use crate::view;
use host_core::entries;
use host_core::studio::{MachineCard, Studio};

/// Enter a machine. On a terminal, what is not said and matters for care is asked.
#[derive(Debug, Args)]
pub struct Add {
    /// Its name.
    name: String,
    /// What kind of pile it makes.
    #[arg(long, value_enum, default_value_t = Pile::Cut)]
    pile: Pile,
    /// What moves its needle; a machine on air has no belt and no carbon brushes, and an air line to look after.
    #[arg(long, value_enum, default_value_t = Drive::Electric)]
    drive: Drive,
    /// Your own estimate of the hours it has run so far; kept apart in every sum. 0 says that it is new: it is then
    /// wiped, oiled and tightened more often in its first ten hours.
    #[arg(long, value_name = "HOURS")]
    hours_before: Option<u32>,
    /// Since when it is in the studio. Left out: today.
    #[arg(long, value_name = "DATE")]
    since: Option<String>,
    #[command(flatten)]
    said: Said,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// What is said of a machine besides.
#[derive(Clone, Copy, Debug, Args)]
pub struct Said {
    /// There is a logger board on it.
    #[arg(long, conflicts_with = "without_logger")]
    with_logger: bool,
    /// There is no logger board on it: you say yourself how long it ran.
    #[arg(long)]
    without_logger: bool,
    /// It came second-hand, and the age of its parts is not known: what was never done is to be looked at first.
    #[arg(long)]
    second_hand: bool,
}

impl Said {
    /// Whether there is a logger board; none where nothing was said.
    pub const fn has_logger(self) -> Option<bool> {
        match (self.with_logger, self.without_logger) {
            (true, _) => Some(true),
            (_, true) => Some(false),
            _ => None,
        }
    }

    /// Whether it came second-hand; none where nothing was said.
    pub const fn is_second_hand(self) -> Option<bool> {
        if self.second_hand { Some(true) } else { None }
    }
}

impl From<Pile> for entries::Pile {
    fn from(pile: Pile) -> Self {
        match pile {
            Pile::Cut => Self::Cut,
            Pile::Loop => Self::Loop,
            Pile::Both => Self::CutAndLoop,
        }
    }
}

impl From<Drive> for entries::Drive {
    fn from(drive: Drive) -> Self {
        match drive {
            Drive::Electric => Self::Electric,
            Drive::Pneumatic => Self::Pneumatic,
        }
    }
}

/// What kind of pile a machine makes.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum Pile {
    /// Scissors cut every tuft.
    Cut,
    /// Loops stay whole.
    Loop,
    /// Either, by taking the scissors out: a cut-and-loop machine.
    #[value(alias = "cut-and-loop")]
    Both,
}

/// What moves the needle.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum Drive {
    /// A motor.
    Electric,
    /// Compressed air.
    Pneumatic,
}

impl Add {
    /// Runs the command.
    ///
    /// # Errors
    /// When something said cannot be, or the database does not take it.
    pub fn run(self, store: &mut Database, clock: &impl Clock) -> Result<(), Failure> {
        let mut new = NewMachine {
            name: self.name,
            pile: self.pile.into(),
            drive: self.drive.into(),
            hours_before: self.hours_before,
            since: dates::given(self.since.as_deref(), clock)?,
            has_logger: self.said.has_logger(),
            is_second_hand: self.said.is_second_hand(),
        };
        let is_asked = !self.json && ask::somebody_is_there();
        if is_asked {
            let studio = Studio::of(&store.entries()?);
            let same = questions(&mut stdin().lock(), &mut stdout(), &studio, &mut new);
            // The answers may have taken their time.
            store.read_anew();
            if let Some(same) = same {
                let holds = change::change(store, clock, named(same, new))?;
                return show::words(&view::machines::machine::changed(&holds, &clock.zone()));
            }
        }
        let mut report = machine::add(store, clock, new)?;
        report.unnamed = report.unnamed.filter(|_| !is_asked);
        show::report(&report, self.json, view::machines::machine::added)
    }
}

/// Asks what was not said. Returns the number of the machine that is only to be named, where it is that one.
fn questions(
    answers: &mut impl BufRead,
    out: &mut impl Write,
    studio: &Studio,
    new: &mut NewMachine,
) -> Option<u32> {
    let same = machine::unnamed(studio).filter(|card| is_same(answers, out, card, &new.name));
    let has_one = same.is_some_and(|card| studio.fittings.was_ever_on(card.tag));
    if new.has_logger.is_none() && !has_one {
        new.has_logger = Some(ask::is_yes(answers, out, "Is there a logger board on it? (y/N) ", false));
    }
    if new.hours_before.is_none() && new.is_second_hand.is_none() {
        let question = "Is it new (n), or second-hand with parts of unknown age (s)? Enter: neither. ";
        match ask::line(answers, out, question).as_deref() {
            Some("n" | "N") => new.hours_before = Some(0),
            Some("s" | "S") => new.is_second_hand = Some(true),
            _ => {}
        }
    }
    same.map(|card| card.tag.0)
}

fn is_same(answers: &mut impl BufRead, out: &mut impl Write, card: &MachineCard, name: &str) -> bool {
    let question = format!(
        "{} entered itself and nobody named it yet. Is {} that machine? (Y/n) ",
        card.name,
        name.trim()
    );
    ask::is_yes(answers, out, &question, true)
}

/// What is said of a machine that was only to be named.
fn named(machine: u32, new: NewMachine) -> MachineChange {
    MachineChange {
        machine: Some(machine),
        name: Some(new.name),
        pile: Some(new.pile),
        drive: Some(new.drive),
        hours_before: new.hours_before,
        since: new.since,
        has_logger: new.has_logger,
        is_second_hand: new.is_second_hand,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::entries::{Entry, EntryBody, EntryId, InForce, MachineAdded};
    use shared_types::{MachineTag, UtcMillis};

    fn studio(names: &[&str]) -> Studio {
        let added = |(number, name): (u32, &&str)| Entry {
            id: EntryId(number.into()),
            entered_at: UtcMillis(0),
            body: EntryBody::MachineAdded(MachineAdded {
                machine: MachineTag(number),
                name: (*name).to_owned(),
                pile: entries::Pile::CutAndLoop,
                before_logger: None,
                since: UtcMillis(0),
                drive: entries::Drive::Electric,
                has_logger: None,
                is_second_hand: None,
            }),
        };
        Studio::of(&InForce::of((1..).zip(names).map(added).collect::<Vec<_>>()))
    }

    fn new() -> NewMachine {
        NewMachine {
            name: "Blue handle".to_owned(),
            pile: entries::Pile::Cut,
            drive: entries::Drive::Electric,
            hours_before: None,
            since: None,
            has_logger: None,
            is_second_hand: None,
        }
    }

    fn asked(typed: &str, names: &[&str], mut new: NewMachine) -> (Option<u32>, NewMachine, String) {
        let mut out = Vec::new();
        let same = questions(&mut typed.as_bytes(), &mut out, &studio(names), &mut new);
        (same, new, String::from_utf8(out).unwrap())
    }

    #[test]
    fn a_first_machine_is_asked_for_its_logger_and_its_age_and_enter_means_neither() {
        let (same, said, out) = asked("\n\n", &[], new());
        assert_eq!(
            (same, said.has_logger, said.hours_before, said.is_second_hand),
            (None, Some(false), None, None)
        );
        assert!(out.contains("logger board") && !out.contains("entered itself"), "{out}");
        let (_, said, _) = asked("y\ns\n", &[], new());
        assert_eq!((said.has_logger, said.hours_before, said.is_second_hand), (Some(true), None, Some(true)));
        let (_, said, _) = asked("y\nn\n", &[], new());
        assert_eq!((said.hours_before, said.is_second_hand), (Some(0), None));
    }

    #[test]
    fn what_was_said_is_not_asked_again() {
        let said = NewMachine { has_logger: Some(false), is_second_hand: Some(true), ..new() };
        let (_, said, out) = asked("y\nn\n", &[], said);
        assert_eq!((said.has_logger, said.hours_before, out.as_str()), (Some(false), None, ""));
    }

    #[test]
    fn a_machine_that_entered_itself_is_offered_to_be_named_and_one_with_a_name_is_not() {
        assert_eq!(asked("\n\n\n", &["Machine 1"], new()).0, Some(1));
        assert_eq!(asked("n\n\n\n", &["Machine 1"], new()).0, None);
        assert_eq!(asked("\n\n\n", &["Rosie"], new()).0, None);
        assert_eq!(asked("\n\n\n", &["Machine 1", "Rosie"], new()).0, None);
    }
}

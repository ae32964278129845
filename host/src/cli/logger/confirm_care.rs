//! The end of a pull: what was done when the care button was pressed, asked once.

use std::collections::BTreeSet;
use std::io::{BufRead, Write};

use shared_types::UtcMillis;

use crate::app::care::done::DoneSaid;
use crate::app::care::part_care::CareSaid;
use crate::app::care::press::{self, OFFERED, PressAsked, TaskOffered};
use crate::app::logger::pull_report::PullReport;
use crate::app::ports::{Clock, Store};
use crate::cli::care::{self, ask_finding};
use crate::cli::shell::ask::{line, somebody_is_there};
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;

/// What the maker says of one press.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Answer {
    /// These of the tasks offered.
    Done(Vec<usize>),
    /// Nothing: a slip of the hand.
    Nothing,
    Later,
}

impl Answer {
    /// `offered` tasks have the digits from 1 on.
    fn of(typed: &str, offered: usize) -> Option<Self> {
        let typed = typed.trim().to_lowercase();
        match typed.as_str() {
            "" | "l" | "later" | "q" => return Some(Self::Later),
            "n" | "no" | "nothing" => return Some(Self::Nothing),
            _ => {}
        }
        let digits = typed.chars().filter(|letter| !matches!(letter, ' ' | ','));
        let place = |letter: char| {
            let digit = usize::try_from(letter.to_digit(10)?).ok()?;
            digit.checked_sub(1).filter(|place| *place < offered.min(OFFERED))
        };
        let mut places: Vec<usize> = digits.map(place).collect::<Option<_>>()?;
        let mut seen = BTreeSet::new();
        places.retain(|place| seen.insert(*place));
        (!places.is_empty()).then_some(Self::Done(places))
    }
}

/// Asks about the care presses that a pull brought, where there is somebody to ask; else names them.
///
/// # Errors
/// When the database cannot be read, or does not take an answer; earlier answers are kept then.
pub fn presses_of(report: &PullReport, store: &mut impl Store, clock: &impl Clock) -> Result<(), Failure> {
    let presses = press::presses_of_pull(store, clock, report)?;
    let zone = clock.zone();
    let asking = somebody_is_there();
    for press in &presses {
        let Some(at) = press.at.filter(|_| asking) else {
            show::words(&view::care::record::press_open(press, &zone))?;
            continue;
        };
        let mut answers = std::io::stdin().lock();
        let mut out = std::io::stdout();
        match ask(
            &mut answers,
            &mut out,
            &view::care::record::press_question(press, &zone),
            press.tasks.len(),
        ) {
            Answer::Later => show::words("   `needlehours due` keeps the question.")?,
            Answer::Nothing => {
                store.read_anew();
                press::withdraw_press(store, clock, &press.press)?;
            }
            Answer::Done(places) => {
                let tasks = places.iter().filter_map(|place| press.tasks.get(*place));
                let said = said(press, tasks, at, store, clock, &mut answers, &mut out)?;
                store.read_anew();
                care::note(&said, store, clock)?;
            }
        }
    }
    Ok(())
}

/// Asks on about the tasks that were done at a press: what was seen, and whether new parts went on.
fn said<'a>(
    press: &PressAsked,
    tasks: impl Iterator<Item = &'a TaskOffered>,
    at: UtcMillis,
    store: &impl Store,
    clock: &impl Clock,
    answers: &mut impl BufRead,
    out: &mut impl Write,
) -> Result<Vec<CareSaid>, Failure> {
    let finding = ask_finding(answers, out, "What did you see?");
    let mut said = Vec::new();
    for task in tasks {
        let done = DoneSaid {
            task: task.task.clone(),
            machine: Some(press.machine.0),
            at: Some(at),
            finding,
            ..DoneSaid::default()
        };
        // What was seen was said of all of them; it makes no second entry of a new part.
        let new_part = care::asked(&done, &said, store, clock, answers, out)?;
        said.push(new_part.unwrap_or(CareSaid::Done(done)));
    }
    Ok(said)
}

/// Asks until the answer is one that is understood; nobody there means later.
fn ask(answers: &mut impl BufRead, out: &mut impl Write, question: &str, offered: usize) -> Answer {
    loop {
        let Some(typed) = line(answers, out, question) else { return Answer::Later };
        if let Some(answer) = Answer::of(&typed, offered) {
            return answer;
        }
    }
}

#[cfg(test)]
mod tests {
    use shared_types::{LogId, LoggerId, MachineTag, RecordSeq};

    use super::*;
    use crate::app::machines::machine::{self, NewMachine};
    use crate::store::Database;
    use host_core::care::done::OpenQuestion;
    use host_core::entries::{Drive, Pile};
    use host_core::records::when::When;

    fn answered(typed: &str) -> Answer {
        ask(&mut typed.as_bytes(), &mut Vec::new(), "What was done?", 3)
    }

    #[test]
    fn one_key_is_enough_and_several_are_several_tasks() {
        assert_eq!(answered("1\n"), Answer::Done(vec![0]));
        assert_eq!(answered("2 1\n"), Answer::Done(vec![1, 0]));
        assert_eq!(answered("n\n"), Answer::Nothing);
        assert_eq!(answered("\n"), Answer::Later);
    }

    struct Eight;

    impl Clock for Eight {
        fn now(&self) -> UtcMillis {
            UtcMillis(8 * 3_600_000)
        }

        fn zone(&self) -> jiff::tz::TimeZone {
            jiff::tz::TimeZone::UTC
        }
    }

    #[test]
    fn of_two_tasks_with_one_part_it_is_asked_until_it_was_said_and_nothing_is_noted_before_all_is() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Database::open(&folder.path().join("studio.db")).unwrap();
        let (name, hours_before, since) = ("Rosie".to_owned(), None, None);
        let (pile, drive) = (Pile::Cut, Drive::Electric);
        machine::add(
            &mut store,
            &Eight,
            NewMachine { name, pile, drive, hours_before, since, has_logger: None, is_second_hand: None },
        )
        .unwrap();
        let (logger, log, seq, when) = (LoggerId(1), LogId(2), RecordSeq(3), When::Undated);
        let offered = |task: &str| TaskOffered { task: task.to_owned(), is_due: true };
        let press = PressAsked {
            machine: MachineTag(1),
            machine_name: "Rosie".to_owned(),
            press: OpenQuestion { logger, log, seq, when },
            at: Some(Eight.now()),
            tasks: ["needle", "needle-change", "screws"].map(offered).to_vec(),
        };
        let said = |typed: &str| {
            let mut out = Vec::new();
            let tasks = press.tasks.iter();
            let said =
                said(&press, tasks, Eight.now(), &store, &Eight, &mut typed.as_bytes(), &mut out).unwrap();
            let named = said.into_iter().map(|one| match one {
                CareSaid::NewPart(part, _) => format!("new {}", part.part),
                CareSaid::Done(done) => format!("{} {:?}", done.task, done.finding),
            });
            (named.collect::<Vec<_>>(), String::from_utf8(out).unwrap().matches("new part").count())
        };
        let none = ["needle None", "needle-change None", "screws None"].map(str::to_owned).to_vec();
        assert_eq!(said("\n\n\n"), (none, 2));
        let new = ["new needle", "needle-change Some(Lint)", "screws Some(Lint)"].map(str::to_owned).to_vec();
        assert_eq!(said("l\ny\n"), (new, 1));
        assert_eq!(store.entries().unwrap().iter().count(), 1, "the machine");
    }

    #[test]
    fn what_was_not_offered_is_asked_again_and_silence_means_later() {
        assert_eq!(answered("4\n0\nx\n3\n"), Answer::Done(vec![2]));
        assert_eq!(answered("7\n"), Answer::Later);
    }
}

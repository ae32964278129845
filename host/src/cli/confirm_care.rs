//! The end of a pull: what was done when the care button was pressed, asked once.

use std::collections::BTreeSet;
use std::io::{BufRead, Write};

use super::walk::{ask_finding, line, somebody_is_there};
use super::{Failure, new_part, show};
use crate::app::care::{self, DoneSaid};
use crate::app::care_press::{self, OFFERED};
use crate::app::ports::{Clock, Store};
use crate::app::pull::PullReport;
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
    let presses = care_press::presses_of_pull(store, clock, report)?;
    let zone = clock.zone();
    let asking = somebody_is_there();
    for press in &presses {
        let Some(at) = press.at.filter(|_| asking) else {
            show::words(&view::care::press_open(press, &zone))?;
            continue;
        };
        let mut answers = std::io::stdin().lock();
        let mut out = std::io::stdout();
        match ask(&mut answers, &mut out, &view::care::press_question(press, &zone), press.tasks.len()) {
            Answer::Later => show::words("   `needlehours due` keeps the question.")?,
            Answer::Nothing => care_press::withdraw_press(store, clock, &press.press)?,
            Answer::Done(places) => {
                let finding = ask_finding(&mut answers, &mut out, "What did you see?");
                let tasks = places.iter().filter_map(|place| press.tasks.get(*place));
                for task in tasks {
                    let said = DoneSaid {
                        task: task.task.clone(),
                        machine: Some(press.machine.0),
                        at: Some(at),
                        finding,
                        ..DoneSaid::default()
                    };
                    // What was seen was said of all of them; it makes no second entry of a new part.
                    let bare = DoneSaid { finding: None, ..said.clone() };
                    if new_part::asked(&bare, store, clock, &mut answers, &mut out)? {
                        continue;
                    }
                    let noted = care::done(store, clock, &said)?;
                    show::words(&view::due::done(&noted, &zone, true))?;
                }
            }
        }
    }
    Ok(())
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
    use super::*;

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

    #[test]
    fn what_was_not_offered_is_asked_again_and_silence_means_later() {
        assert_eq!(answered("4\n0\nx\n3\n"), Answer::Done(vec![2]));
        assert_eq!(answered("7\n"), Answer::Later);
    }
}

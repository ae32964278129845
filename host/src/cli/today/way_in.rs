//! The first time: machine, board or not, first rug, in at most six questions, each with a default.

use std::io::{BufRead, Write};

use crate::app::machines::{NewMachine, add};
use crate::app::ports::{Clock, Store};
use crate::app::rugs::{NewRug, change_work, order};
use crate::app::typed::measures;
use crate::cli::shell::ask::{is_yes, line};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use host_core::entries::{Drive, Pile, WorkChange};

/// What the first questions tell.
#[derive(Debug)]
struct FirstSaid {
    machine: NewMachine,
    rug: Option<NewRug>,
}

/// Asks, and enters machine and rug in one act; false where nobody answers.
///
/// # Errors
/// When something said cannot be, or the database does not take it.
pub fn lead(store: &mut impl Store, around: &CommandEnv) -> Result<bool, Failure> {
    show::words("Welcome. Six questions; Enter takes what stands in brackets.")?;
    let (mut answers, mut out) = (std::io::stdin().lock(), std::io::stdout());
    let Some(said) = questions(&mut answers, &mut out) else { return Ok(false) };
    let clock = around.clock();
    store.read_anew();
    store.together(|store| enter(store, clock, said))?;
    show::words("That is all. What you work without a board is noted with: needlehours worked 1h40")?;
    Ok(true)
}

fn enter(store: &mut impl Store, clock: &impl Clock, said: FirstSaid) -> Result<(), Failure> {
    add(store, clock, said.machine)?;
    if let Some(rug) = said.rug {
        let name = order(store, clock, rug)?;
        change_work(store, clock, &name.0, WorkChange::Started, None, None)?;
    }
    Ok(())
}

/// None when nobody answers any more.
fn questions(answers: &mut impl BufRead, out: &mut impl Write) -> Option<FirstSaid> {
    let name = line(answers, out, "1. What do you call your machine? [Machine 1] ")?;
    let pile = one_of(
        answers,
        out,
        "2. Does it cut the pile (c), make loops (l), or both (b)? [c] ",
        &[('c', Pile::Cut), ('l', Pile::Loop), ('b', Pile::CutAndLoop)],
    )?;
    let has_logger = is_yes(answers, out, "3. Is there a logger board on it? y or n [n] ", false);
    let age = one_of(
        answers,
        out,
        "4. Is it new (n), yours for a while (y), or second-hand with parts of unknown age (s)? [y] ",
        &[('y', Age::Known), ('n', Age::New), ('s', Age::SecondHand)],
    )?;
    let rug = line(answers, out, "5. Which rug is on the frame? [none yet] ")?;
    let size_mm = if rug.is_empty() { None } else { size(answers, out)? };
    let name = if name.is_empty() { "Machine 1".to_owned() } else { name };
    Some(FirstSaid {
        machine: NewMachine {
            name,
            pile,
            drive: Drive::Electric,
            hours_before: (age == Age::New).then_some(0),
            since: None,
            has_logger: Some(has_logger),
            is_second_hand: (age == Age::SecondHand).then_some(true),
        },
        rug: (!rug.is_empty()).then(|| NewRug { name: rug, size_mm, ..NewRug::default() }),
    })
}

/// How old the machine is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Age {
    Known,
    New,
    SecondHand,
}

/// What a letter stands for; Enter for the first. A slip of the finger is asked again.
fn one_of<T: Copy>(
    answers: &mut impl BufRead,
    out: &mut impl Write,
    question: &str,
    meant: &[(char, T)],
) -> Option<T> {
    loop {
        let typed = line(answers, out, question)?.to_lowercase();
        if typed.is_empty() {
            return meant.first().map(|(_, first)| *first);
        }
        let found = meant.iter().find(|(letter, _)| typed == letter.to_string());
        if let Some((_, found)) = found {
            return Some(*found);
        }
    }
}

/// Width and height; none where they are not known yet.
#[expect(clippy::option_option, reason = "nobody there, and not known yet, are two things")]
fn size(answers: &mut impl BufRead, out: &mut impl Write) -> Option<Option<(u32, u32)>> {
    loop {
        let typed = line(answers, out, "6. How large is it, for example 80x120cm? [not known yet] ")?;
        if typed.is_empty() {
            return Some(None);
        }
        match measures::size_mm(&typed) {
            Ok(sides) => return Some(Some(sides)),
            Err(error) => {
                writeln!(out, "   {error}").ok()?;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answered(typed: &str) -> (Option<FirstSaid>, String) {
        let mut out = Vec::new();
        let said = questions(&mut typed.as_bytes(), &mut out);
        (said, String::from_utf8(out).unwrap())
    }

    #[test]
    fn six_times_enter_is_a_machine_without_a_board_and_no_rug() {
        let (said, asked) = answered("\n\n\n\n\n");
        let said = said.unwrap();
        assert_eq!((said.machine.name.as_str(), said.machine.has_logger), ("Machine 1", Some(false)));
        assert_eq!((said.machine.pile, said.machine.hours_before), (Pile::Cut, None));
        assert!(said.rug.is_none());
        assert!((1..=5).all(|number| asked.contains(&format!("{number}. "))), "{asked}");
    }

    #[test]
    fn what_is_said_is_kept_and_a_slip_is_asked_again() {
        let (said, asked) = answered("Blue handle\nx\nb\ny\ns\nFox\nlarge\n80x120cm\n");
        let said = said.unwrap();
        assert_eq!((said.machine.pile, said.machine.has_logger), (Pile::CutAndLoop, Some(true)));
        assert_eq!(said.machine.is_second_hand, Some(true));
        let rug = said.rug.unwrap();
        assert_eq!((rug.name.as_str(), rug.size_mm), ("Fox", Some((800, 1200))));
        assert_eq!((asked.matches("2. ").count(), asked.matches("6. ").count()), (2, 2), "{asked}");
    }

    #[test]
    fn silence_on_the_way_enters_nothing() {
        for typed in ["", "Blue\n", "Blue\nc\nn\ny\nFox\n"] {
            assert!(answered(typed).0.is_none(), "{typed:?}");
        }
    }
}

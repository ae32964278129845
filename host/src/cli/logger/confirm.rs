//! The end of a pull: one line for each new session, and one key to say that it is right.

use std::io::{BufRead, Write};

use crate::app::hours::check;
use crate::app::logger::pull_report::PullReport;
use crate::app::ports::{Clock, Store};
use crate::app::rugs::rug::{self, Choice};
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{ask, show};
use crate::view;
use host_core::sessions::session_list::SessionLine;

/// What the maker says of one session.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Answer {
    Right,
    Wrong,
    AllRight,
    Later,
}

impl Answer {
    fn of(line: &str) -> Option<Self> {
        match line.trim().to_lowercase().as_str() {
            "" | "y" | "yes" => Some(Self::Right),
            "n" | "no" => Some(Self::Wrong),
            "a" | "all" => Some(Self::AllRight),
            "l" | "later" | "q" => Some(Self::Later),
            _ => None,
        }
    }
}

/// Shows the sessions that a pull brought, and asks whether they are counted right where there is somebody to ask.
///
/// # Errors
/// When the database cannot be read, or does not take an answer; earlier answers are kept then.
pub fn sessions_of(report: &PullReport, store: &mut impl Store, clock: &impl Clock) -> Result<(), Failure> {
    let lines = rug::sessions_of_pull(store, clock, report)?;
    let asking = ask::somebody_is_there();
    let zone = clock.zone();
    let doubtful = check::of_pull(store, report)?;
    if let Some(words) = view::hours::check::to_check(&doubtful, &zone) {
        show::words(&words)?;
    }
    if !asking {
        for line in &lines {
            show::words(&view::rugs::rug::session_sentence(line, &zone))?;
        }
        return Ok(());
    }
    let mut answers = std::io::stdin().lock();
    let mut to_rest = None;
    for line in &lines {
        let sentence = view::rugs::rug::session_sentence(line, &zone);
        if !line.is_assumed() {
            show::words(&sentence)?;
            continue;
        }
        let answer = match to_rest {
            Some(answer) => answer,
            None => ask(&mut answers, &mut std::io::stdout(), &sentence),
        };
        match answer {
            Answer::Right => confirm(store, clock, line)?,
            Answer::AllRight => {
                to_rest = Some(Answer::Right);
                confirm(store, clock, line)?;
            }
            Answer::Wrong => show::words(&format!(
                "   To put it right: needlehours rug assign NAME --session {}   (or --care, or --nobody)",
                line.session
            ))?,
            Answer::Later => to_rest = Some(Answer::Later),
        }
    }
    Ok(())
}

fn confirm(store: &mut impl Store, clock: &impl Clock, line: &SessionLine) -> Result<(), Failure> {
    // The answer may have taken its time.
    store.read_anew();
    rug::confirm(store, clock, &Choice { named: vec![line.session], ..Choice::default() })?;
    Ok(())
}

/// Asks until the answer is one that is understood; nobody there means later.
fn ask(answers: &mut impl BufRead, out: &mut impl Write, sentence: &str) -> Answer {
    loop {
        let question = format!("{sentence} Right? [Enter yes, n no, a all, l later] ");
        let Some(typed) = ask::line(answers, out, &question) else { return Answer::Later };
        if let Some(answer) = Answer::of(&typed) {
            return answer;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answered(typed: &str) -> (Answer, String) {
        let mut out = Vec::new();
        let answer = ask(&mut typed.as_bytes(), &mut out, "Tuesday, 48 min, counted to Fox.");
        (answer, String::from_utf8(out).unwrap())
    }

    #[test]
    fn one_key_is_enough() {
        for (typed, answer) in
            [("\n", Answer::Right), ("n\n", Answer::Wrong), ("A\n", Answer::AllRight), ("l\n", Answer::Later)]
        {
            assert_eq!(answered(typed).0, answer, "{typed:?}");
        }
    }

    #[test]
    fn what_is_not_understood_is_asked_again_and_silence_means_later() {
        let (answer, said) = answered("perhaps\ny\n");
        assert_eq!(answer, Answer::Right);
        assert_eq!(said.matches("Right?").count(), 2);
        assert_eq!(answered("").0, Answer::Later);
    }
}

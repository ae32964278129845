//! Walking through the oiling routine on a terminal, one key a step.

use std::io::{BufRead, Write};

use shared_types::UtcMillis;
use textwrap::{Options, fill};

use crate::app::care::done::DoneSaid;
use crate::app::ports::Clock;
use crate::cli::shell::ask::line;
use host_core::care::routine::{FINDINGS, Step, StepKind, finding_of};
use host_core::entries::Finding;

/// So often run and wipe are repeated at the most; then something is wrong with the machine, not with the wiping.
const MOST_WIPES: u32 = 6;

/// A step is read at arm's length, on any terminal.
const COLUMNS: usize = 80;

/// The keys at the brush-out.
const CLEAN_KEYS: &str = "Enter when done, it is noted as brush-out; n left out this time, q stop";

/// How a walk ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Walked {
    /// At the end.
    Done {
        /// When the lint was out; none where that was left out this time.
        brushed_at: Option<UtcMillis>,
        /// When the last drop was on.
        oiled_at: UtcMillis,
        /// What was seen first on the wipe; later wipes get cleaner by themselves.
        finding: Option<Finding>,
    },
    /// The maker stopped, or nobody is there.
    Stopped,
}

/// Leads through the steps. `now` is asked when the oil is on; `seen` is a finding that was given beforehand.
pub fn walk(
    steps: &[Step],
    answers: &mut impl BufRead,
    out: &mut impl Write,
    mut now: impl FnMut() -> UtcMillis,
    seen: Option<Finding>,
) -> Walked {
    let (mut brushed_at, mut oiled_at) = (None, None);
    for (number, step) in (1..).zip(steps) {
        if matches!(step.step, StepKind::PlugIn | StepKind::DryRun) && oiled_at.is_none() {
            oiled_at = Some(now());
        }
        let is_clean = step.step == StepKind::Clean;
        let keys = if is_clean { CLEAN_KEYS } else { "Enter when done, q stop" };
        let words =
            fill(&format!("{number}. {}", step.words), Options::new(COLUMNS).subsequent_indent("   "));
        let question = format!("{words}\n   [{keys}] ");
        // What is no answer is asked again: a slip of the finger is not work done.
        let typed = loop {
            match line(answers, out, &question) {
                None => return Walked::Stopped,
                Some(typed) if is_stop(&typed) => return Walked::Stopped,
                Some(typed) if typed.is_empty() || (is_clean && typed.eq_ignore_ascii_case("n")) => {
                    break typed;
                }
                Some(_) => {}
            }
        };
        if is_clean && typed.is_empty() {
            brushed_at = Some(now());
        }
    }
    let oiled_at = oiled_at.unwrap_or_else(&mut now);
    let is_wiped = steps.iter().any(|step| step.step == StepKind::Wipe);
    if seen.is_some() || !is_wiped {
        return Walked::Done { brushed_at, oiled_at, finding: seen };
    }
    let mut first = None;
    for _ in 0..MOST_WIPES {
        let Some(finding) = ask_finding(answers, out, "What is on the wipe?") else { break };
        first = first.or(Some(finding));
        if !tell(out, finding.meaning()) || finding == Finding::Clean {
            break;
        }
        match line(
            answers,
            out,
            "Run it, bring it to rest as before, and wipe once more. [Enter when done, n enough] ",
        ) {
            Some(typed) if !typed.eq_ignore_ascii_case("n") && !is_stop(&typed) => {}
            _ => break,
        }
    }
    Walked::Done { brushed_at, oiled_at, finding: first }
}

/// Leads through the steps and adds to what is said when and with what it was done; none when the maker stopped.
pub fn walked(
    steps: &[Step],
    said: DoneSaid,
    clock: &impl Clock,
    answers: &mut impl BufRead,
    out: &mut impl Write,
) -> Option<DoneSaid> {
    match walk(steps, answers, out, || clock.now(), said.finding) {
        Walked::Stopped => None,
        Walked::Done { brushed_at, oiled_at, finding } => Some(DoneSaid {
            at: Some(oiled_at),
            finding,
            brushed_out: brushed_at.map(Some).or(said.brushed_out),
            ..said
        }),
    }
}

/// Asks for a finding by one key; Enter, or nobody there, notes none.
pub fn ask_finding(answers: &mut impl BufRead, out: &mut impl Write, question: &str) -> Option<Finding> {
    let keys: Vec<String> =
        FINDINGS.iter().map(|(key, finding)| format!("{key} {}", finding.words())).collect();
    let question = format!("{question} [{}, Enter nothing to note] ", keys.join(", "));
    loop {
        let typed = line(answers, out, &question)?;
        let mut letters = typed.chars();
        match (letters.next(), letters.next()) {
            (None, _) => return None,
            (Some(key), None) => {
                if let Some(finding) = finding_of(key) {
                    return Some(finding);
                }
            }
            _ => {}
        }
    }
}

fn is_stop(typed: &str) -> bool {
    typed.eq_ignore_ascii_case("q")
}

fn tell(out: &mut impl Write, text: &str) -> bool {
    writeln!(out, "   {text}").is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steps() -> Vec<Step> {
        [StepKind::SwitchOff, StepKind::Oil, StepKind::DryRun, StepKind::Wipe]
            .map(|step| Step { step, words: format!("{step:?}") })
            .to_vec()
    }

    /// A clock that counts how often it was asked.
    fn walked(typed: &str) -> (Walked, String) {
        let mut out = Vec::new();
        let mut asked = 0;
        let clock = || {
            asked += 1;
            UtcMillis(asked)
        };
        let walked = walk(&steps(), &mut typed.as_bytes(), &mut out, clock, None);
        (walked, String::from_utf8(out).unwrap())
    }

    fn done(finding: Option<Finding>) -> Walked {
        Walked::Done { brushed_at: None, oiled_at: UtcMillis(1), finding }
    }

    #[test]
    fn enter_leads_through_and_one_key_tells_what_was_seen() {
        let (end, said) = walked("\n\n\n\nc\n");
        assert_eq!(end, done(Some(Finding::Clean)));
        assert!(said.contains("1. SwitchOff") && said.contains("4. Wipe"), "{said}");
    }

    #[test]
    fn what_was_seen_first_is_noted_and_the_wipe_repeated_until_it_is_clean() {
        let (end, said) = walked("\n\n\n\ng\n\nc\n");
        assert_eq!(end, done(Some(Finding::GreyBlackOil)));
        assert_eq!(said.matches("What is on the wipe?").count(), 2);
        assert!(said.contains("Worn metal"), "{said}");
    }

    #[test]
    fn a_wipe_that_is_never_clean_ends_all_the_same() {
        let (end, said) = walked(&format!("\n\n\n\n{}", "g\n\n".repeat(50)));
        assert_eq!(end, done(Some(Finding::GreyBlackOil)));
        assert_eq!(said.matches("What is on the wipe?").count(), 6);
    }

    #[test]
    fn an_unknown_key_is_asked_again_and_enter_notes_nothing() {
        let (end, said) = walked("\n\n\n\nx\ncl\n\n");
        assert_eq!(end, done(None));
        assert_eq!(said.matches("What is on the wipe?").count(), 3);
    }

    #[test]
    fn the_brush_out_on_the_way_is_told_when_it_was_done_and_not_where_it_was_left_out() {
        let steps = [StepKind::SwitchOff, StepKind::Clean, StepKind::Oil, StepKind::DryRun, StepKind::Wipe]
            .map(|step| Step { step, words: String::new() });
        let brushed = |typed: &str| {
            let mut asked = 0;
            let clock = || {
                asked += 1;
                UtcMillis(asked)
            };
            walk(&steps, &mut typed.as_bytes(), &mut Vec::new(), clock, None)
        };
        let done = |brushed_at: Option<i64>, oiled_at| Walked::Done {
            brushed_at: brushed_at.map(UtcMillis),
            oiled_at: UtcMillis(oiled_at),
            finding: Some(Finding::Clean),
        };
        assert_eq!(brushed("\n\n\n\n\nc\n"), done(Some(1), 2));
        assert_eq!(brushed("\nn\n\n\n\nc\n"), done(None, 1));
        assert_eq!(brushed("\nq\n"), Walked::Stopped);
        assert_eq!(brushed("\nx\nno\n"), Walked::Stopped, "a slip of the finger is no brush-out");
        assert_eq!(brushed("\nx\nn\n\n\n\nc\n"), done(None, 1), "what is no answer is asked again");
    }

    #[test]
    fn stopping_on_the_way_or_silence_ends_the_walk() {
        assert_eq!(walked("\nq\n").0, Walked::Stopped);
        assert_eq!(walked("\n").0, Walked::Stopped);
        assert_eq!(walked("\n\n\n\n").0, done(None), "the oil is on, and nothing more was said");
    }
}

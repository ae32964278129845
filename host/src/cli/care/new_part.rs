//! Whether care came with a new part: asked on a terminal, noted as the one fitting that it is.

use std::io::{BufRead, Write};

use jiff::tz::TimeZone;

use crate::app::care::CareError;
use crate::app::care::done::DoneSaid;
use crate::app::care::part_care::{CareNoted, CareSaid, note_all, part_of_task};
use crate::app::care::part_offer::PartOffer;
use crate::app::parts::part::{self, PartSaid};
use crate::app::ports::{Clock, Store};
use crate::app::typed::error::RequestError;
use crate::cli::shell::ask::line;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;
use host_core::care::stock::is_spare_for;
use host_core::entries::{PartName, TakenOff};

/// A key for each reason.
const REASONS: [(char, TakenOff, &str); 6] = [
    ('w', TakenOff::WornOut, "worn out"),
    ('s', TakenOff::Strike, "it struck something hard"),
    ('a', TakenOff::Accident, "another accident"),
    ('l', TakenOff::Lost, "lost"),
    ('p', TakenOff::Precaution, "it still worked, but its time had come"),
    ('g', TakenOff::StillGood, "still good"),
];

/// A new part, and why the one before it went, where one was on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NewPart {
    /// Why.
    pub replaces: Option<TakenOff>,
}

/// Asks whether a new part went on. Enter, or nobody there, means that the old one stays.
pub fn ask(offer: &PartOffer, answers: &mut impl BufRead, out: &mut impl Write) -> Option<NewPart> {
    loop {
        let question = format!("Did a new part ({}) go on? [y yes, Enter no] ", offer.part);
        match line(answers, out, &question)?.to_lowercase().as_str() {
            "" | "n" | "no" => return None,
            "y" | "yes" => break,
            _ => {}
        }
    }
    if !offer.is_on {
        return Some(NewPart { replaces: None });
    }
    let keys: Vec<String> = REASONS.iter().map(|(key, _, words)| format!("{key} {words}")).collect();
    loop {
        let typed = line(answers, out, &format!("Why did the old one go? [{}] ", keys.join(", ")))?;
        let mut letters = typed.chars();
        if let (Some(letter), None) = (letters.next(), letters.next()) {
            let meant = REASONS.iter().find(|(key, ..)| key.eq_ignore_ascii_case(&letter));
            if let Some((_, why, _)) = meant {
                return Some(NewPart { replaces: Some(*why) });
            }
        }
    }
}

/// Asks whether a new part came with a task that is about to be noted; not where one of the kind was said `before`, in the
/// same act. A new part does the task by itself.
///
/// # Errors
/// When the database cannot be read.
pub fn asked(
    said: &DoneSaid,
    before: &[CareSaid],
    store: &impl Store,
    clock: &impl Clock,
    answers: &mut impl BufRead,
    out: &mut impl Write,
) -> Result<Option<CareSaid>, Failure> {
    let offer = match part_of_task(store, clock, &said.task, said.machine, said.at) {
        Ok(offer) => offer,
        // The task itself says what is wrong with it when it is noted.
        Err(CareError::NoPartOfTask(_) | CareError::Request(RequestError::UnknownTask { .. })) => {
            return Ok(None);
        }
        Err(error) => return Err(error.into()),
    };
    let is_it = |one: &CareSaid| matches!(one, CareSaid::NewPart(part, _) if part.part == offer.part);
    if offer.fitted_entry.is_some() || before.iter().any(is_it) {
        return Ok(None);
    }
    let Some(new) = ask(&offer, answers, out) else { return Ok(None) };
    let fitting = PartSaid { note: said.note.clone(), ..PartSaid::of_task(&offer, said.machine, said.at) };
    let part = PartName::of(&offer.part);
    let used_it = said.used.iter().any(|(spare, _)| is_spare_for(spare, &part));
    Ok(Some(CareSaid::NewPart(PartSaid { not_from_stock: used_it, ..fitting }, new.replaces)))
}

/// Notes in one act what was done at one time, then tells it.
///
/// # Errors
/// When something of it cannot be, or the database does not take it; nothing is noted then.
pub fn note(said: &[CareSaid], store: &mut impl Store, clock: &impl Clock) -> Result<(), Failure> {
    let zone = clock.zone();
    for noted in note_all(store, clock, said)? {
        show::words(&match noted {
            CareNoted::NewPart(changed) => view::parts::part::changed(&changed, &zone),
            CareNoted::Done(report) => view::care::done::done(&report, &zone, true),
        })?;
    }
    Ok(())
}

/// A fitting that was said with `done TASK --fitted`.
///
/// # Errors
/// When the task looks after no part, or as [`part::fit`].
pub fn fitted(
    said: &DoneSaid,
    serial: Option<String>,
    replaces: Option<TakenOff>,
    json: bool,
    store: &mut impl Store,
    clock: &impl Clock,
    zone: &TimeZone,
) -> Result<(), Failure> {
    let offer = part_of_task(store, clock, &said.task, said.machine, said.at)?;
    let fitting =
        PartSaid { serial, note: said.note.clone(), ..PartSaid::of_task(&offer, said.machine, said.at) };
    let changed = part::fit(store, clock, &fitting, replaces)?;
    show::report(&changed, json, |changed| view::parts::part::changed(changed, zone))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answered(typed: &str, is_on: bool) -> Option<NewPart> {
        let offer = PartOffer { part: "needle".to_owned(), is_on, fitted_entry: None };
        ask(&offer, &mut typed.as_bytes(), &mut Vec::new())
    }

    #[test]
    fn one_key_says_that_the_old_part_stays_or_why_it_went() {
        assert_eq!(answered("\n", true), None);
        assert_eq!(answered("y\nw\n", true), Some(NewPart { replaces: Some(TakenOff::WornOut) }));
        assert_eq!(answered("Y\nG\n", true), Some(NewPart { replaces: Some(TakenOff::StillGood) }));
        assert_eq!(answered("y\n", false), Some(NewPart { replaces: None }));
    }

    #[test]
    fn an_unknown_key_is_asked_again_and_silence_fits_nothing() {
        assert_eq!(answered("x\ny\nq\n1\ns\n", true), Some(NewPart { replaces: Some(TakenOff::Strike) }));
        assert_eq!(answered("y\n", true), None);
        assert_eq!(answered("", false), None);
    }
}

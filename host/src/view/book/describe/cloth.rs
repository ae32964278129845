//! Entries about harm to the cloth and about whose running is whose, in words.

use shared_types::RecordSeq;

use super::{Sentence, knob};
use crate::view::cloth::answered;
use crate::view::words::run_time;
use host_core::entries::{
    BurstsAssigned, Certainty, DoubtAnswer, DoubtAnswered, EntryBody, Harm, Owner, RugWork, SessionNoted,
    TearDetails, WorkChange,
};

/// The words; none for other entries.
pub fn describe(body: &EntryBody) -> Option<String> {
    match body {
        EntryBody::TearNoted(noted) => {
            let harm = match noted.harm {
                Harm::Tear => "Tear",
                Harm::NearMiss => "Near-miss",
            };
            Sentence::new(harm).and_if(noted.knob_per_mille.map(knob)).and_if(details(&noted.details)).done()
        }
        EntryBody::TearAnswered(more) => {
            Sentence::new(format!("More about entry {}", more.entry.0)).and_if(details(&more.details)).done()
        }
        EntryBody::PressAnswered(more) => {
            Sentence::new(format!("More about the press of the button that is record {}", more.seq.0))
                .and_if(details(&more.details))
                .done()
        }
        EntryBody::PressWithdrawn(press) => {
            Sentence::new(format!("The press of the button that is record {} was a mistake", press.seq.0))
                .quoting("because: ", Some(&press.reason))
                .done()
        }
        EntryBody::CeilingSet(set) => Some(match set.knob_per_mille {
            Some(place) => format!(
                "Ceiling of the knob set to {} % of its travel{}",
                f64::from(place) / 10.0,
                if set.was_proposed { ", as it was proposed" } else { "" }
            ),
            None => "Ceiling of the knob taken away".to_owned(),
        }),
        EntryBody::HandHours(hours) => Some(by_hand(&hours.into())),
        EntryBody::SessionNoted(session) => Some(by_hand(session)),
        EntryBody::SessionBegun(_) => Some("Work at the frame began, to be timed".to_owned()),
        EntryBody::MotorShareSet(set) => {
            Some(format!("In an hour at the frame the motor runs {}", run_time(set.run_ms_per_hour.into())))
        }
        EntryBody::RugWork(work) => Some(rug_work(work)),
        EntryBody::RugRenamed(renamed) => {
            Some(format!("{} is called {} from now on", renamed.rug, renamed.now))
        }
        EntryBody::BurstsAssigned(given) => Some(assigned(given)),
        EntryBody::SessionAssigned(given) => {
            Some(given_to(&format!("Session e{}", given.session.0), &given.owner, given.certainty))
        }
        EntryBody::DoubtAnswered(answered) => Some(doubt_answered(answered)),
        _ => None,
    }
}

fn details(details: &TearDetails) -> Option<String> {
    let mut said: Vec<String> = Vec::new();
    said.extend(details.rug.as_ref().map(|rug| format!("on {rug}")));
    said.extend(details.cloth_lot.as_ref().map(|lot| format!("cloth \u{201C}{lot}\u{201D}")));
    said.extend(details.note.as_ref().map(|note| format!("\u{201C}{note}\u{201D}")));
    let mut answers = String::new();
    answered(&mut answers, details.answers);
    let answers = answers.trim_start_matches(", ");
    if !answers.is_empty() {
        said.push(answers.to_owned());
    }
    (!said.is_empty()).then(|| said.join(", "))
}

fn by_hand(hours: &SessionNoted) -> String {
    let ran = hours.run.map(|run| format!("{} of running", run_time(run.0)));
    let frame = hours.frame_ms.map(|ms| format!("{} at the frame", run_time(ms)));
    let what: Vec<String> = [ran, frame].into_iter().flatten().collect();
    let whose = hours.rug.as_ref().map_or_else(String::new, |rug| format!(" for {rug}"));
    let place = hours.knob_per_mille.map_or_else(String::new, |place| format!(", {}", knob(place)));
    format!("Written by hand: {}{whose}{place}", what.join(" and "))
}

fn rug_work(work: &RugWork) -> String {
    let rug = &work.rug;
    match work.change {
        WorkChange::Started => format!("{rug}: on the frame, worked on with this machine"),
        WorkChange::Paused => format!("{rug}: rests"),
        WorkChange::Finished => format!("{rug}: tufting finished"),
        WorkChange::Delivered => format!("{rug}: delivered"),
    }
}

fn of_records(from: RecordSeq, to: RecordSeq) -> String {
    if from == to { format!("of record {}", from.0) } else { format!("of records {} to {}", from.0, to.0) }
}

fn doubt_answered(answered: &DoubtAnswered) -> String {
    let running = format!("Doubtful running {}", of_records(answered.from, answered.to));
    match answered.answer {
        DoubtAnswer::Real => format!("{running} was real work"),
        DoubtAnswer::NotReal => format!("{running} was no work; set aside"),
        DoubtAnswer::LeftOpen => {
            format!("{running} was left out when its rug was delivered; not answered yet")
        }
    }
}

fn assigned(given: &BurstsAssigned) -> String {
    given_to(&format!("Running {}", of_records(given.from, given.to)), &given.owner, given.certainty)
}

fn given_to(running: &str, owner: &Owner, certainty: Certainty) -> String {
    let whose = match owner {
        Owner::Rug(name) => name.0.clone(),
        Owner::Care => "care".to_owned(),
        Owner::Nobody => "no rug yet".to_owned(),
    };
    match certainty {
        Certainty::Explicit => format!("{running} moved to {whose}"),
        Certainty::Confirmed => format!("{running} is rightly counted to {whose}"),
    }
}

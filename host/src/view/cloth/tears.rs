//! What `tear` says in plain words.

use jiff::tz::TimeZone;

use crate::app::cloth::tears::{HarmChanged, HarmList};
use crate::view::rugs;
use crate::view::words::{count, moment, push};
use host_core::cloth::HarmRecord;
use host_core::entries::Harm;
use host_core::entries::harm_answers::{Answers, NeedleLook, Place, Question, Repair, Tension, Travel};

/// Every tear and near-miss, one a line.
#[must_use]
pub fn list(list: &HarmList, zone: &TimeZone) -> String {
    let mut text = String::new();
    for harm in &list.harms {
        push(&mut text, format_args!("{}", one(harm, zone)));
    }
    push(
        &mut text,
        format_args!(
            "{} and {}; {} taken back.",
            count(list.tears, "tear", "tears"),
            count(list.near_misses, "near-miss", "near-misses"),
            list.withdrawn
        ),
    );
    text
}

/// What was noted, answered or taken back.
#[must_use]
pub fn changed(changed: &HarmChanged, zone: &TimeZone) -> String {
    changed.now.as_ref().map_or_else(
        || format!("{} is noted.\n", changed.id),
        |harm| format!("{}\n{}", one(harm, zone), assumed(harm)),
    )
}

/// How to confirm the rug that was assumed, or to name another one.
fn assumed(harm: &HarmRecord) -> String {
    match &harm.rug {
        Some(rug) if harm.rug_is_assumed && harm.counts() => format!(
            "    {rug} is assumed, because it was worked on then. Right? needlehours tear answer {} --rug \"{rug}\"; else the other rug's name.\n",
            harm.id
        ),
        _ => String::new(),
    }
}

fn one(harm: &HarmRecord, zone: &TimeZone) -> String {
    let mut line = format!(
        "{}: {}, {}",
        harm.id,
        match harm.harm {
            Harm::Tear => "tear",
            Harm::NearMiss => "near-miss",
        },
        moment(harm.when, zone)
    );
    if let Some(knob) = harm.knob_before {
        line.push_str(&format!(", knob at {} % before it", f64::from(knob.get()) / 10.0));
    }
    if let Some(rug) = &harm.rug {
        line.push_str(&format!(", {rug}{}", if harm.rug_is_assumed { " (assumed)" } else { "" }));
    }
    if let Some(lot) = &harm.cloth_lot {
        line.push_str(&format!(", cloth {lot}"));
    }
    if let Some(note) = &harm.note {
        line.push_str(&format!(", \"{note}\""));
    }
    answered(&mut line, harm.answers);
    if !harm.open_questions.is_empty() {
        let asked: Vec<&str> = harm.open_questions.iter().map(|question| option(*question)).collect();
        line.push_str(&format!("\n    if you know: needlehours tear answer {} {}", harm.id, asked.join(" ")));
    }
    if let Some(reason) = &harm.withdrawn {
        line.push_str(&format!(" - taken back: {reason}"));
    }
    line
}

/// The option of `tear answer` that answers a question.
const fn option(question: Question) -> &'static str {
    match question {
        Question::Rug => "--rug NAME",
        Question::Tension => "--tension slack|right|hard",
        Question::SecondPass => "--second-pass yes|no",
        Question::Needle => "--needle smooth|rough",
        Question::Stage => "--stage outline|fill|detail|rework",
        Question::Travel => "--travel with-foot|sideways|back|turning",
    }
}

pub(in crate::view) fn answered(line: &mut String, answers: Answers) {
    let stage = answers.stage.map(rugs::stage_name);
    let tension = answers.tension.map(|tension| match tension {
        Tension::Slack => "cloth felt slack",
        Tension::Right => "cloth felt right",
        Tension::Hard => "cloth felt hard",
    });
    let pass = answers.second_pass.map(|second| if second { "second pass" } else { "first pass" });
    let pulled = answers
        .pulled_out_before
        .map(|pulled| if pulled { "yarn pulled out there before" } else { "never pulled out" });
    let place = answers.place.map(|place| match place {
        Place::Centre => "in the middle",
        Place::Edge => "near the edge",
        Place::Corner => "in a corner",
        Place::NearRepair => "near a repair",
    });
    let needle = answers.needle.map(|needle| match needle {
        NeedleLook::Smooth => "needle smooth",
        NeedleLook::Rough => "needle rough",
    });
    let repair = answers.repair.map(|repair| match repair {
        Repair::Coaxed => "threads coaxed back",
        Repair::Patched => "patched",
        Repair::Hidden => "hidden",
        Repair::Abandoned => "rug given up",
    });
    let travel = answers.travel.map(|travel| match travel {
        Travel::WithFoot => "led with the foot",
        Travel::Sideways => "led sideways",
        Travel::Back => "led backwards",
        Travel::Turning => "while turning",
    });
    for word in [stage, pass, pulled, tension, place, needle, repair, travel].into_iter().flatten() {
        line.push_str(", ");
        line.push_str(word);
    }
    if let Some(strands) = answers.strands {
        line.push_str(&format!(", {}", count(u64::from(strands), "strand", "strands")));
    }
}

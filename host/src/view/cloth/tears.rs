//! What `tear` says in plain words.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use crate::app::cloth::tears::{HarmChanged, HarmList};
use crate::view::rugs;
use crate::view::words::table::{Column, Table};
use crate::view::words::{all_of, count, cut, days, moment, push, run_time};
use host_core::cloth::{HarmLine, HarmRecord};
use host_core::entries::Harm;
use host_core::entries::harm_answers::{Answers, NeedleLook, Place, Question, Repair, Tension, Travel};
use host_core::records::when::When;

/// What stands before everything that is told or asked about a tear just noted.
const UNPLUG: &str = "Before you mend: switch off and unplug (or air and hose off), and wait for standstill.";

/// Every tear and near-miss, one a line.
#[must_use]
pub fn list(list: &HarmList, zone: &TimeZone) -> String {
    let mut text = String::new();
    if !list.harms.is_empty() {
        text.push_str(&lines(&list.harms.iter().collect::<Vec<_>>(), zone));
    }
    push(&mut text, format_args!("{}", totals(list)));
    text
}

/// "6 tears and 25 near-misses; 0 taken back."
#[must_use]
pub fn totals(list: &HarmList) -> String {
    format!(
        "{} and {}; {} taken back.",
        count(list.tears, "tear", "tears"),
        count(list.near_misses, "near-miss", "near-misses"),
        list.withdrawn
    )
}

/// What stands in a column for a tear or near-miss.
type Cell<'a> = &'a dyn Fn(&HarmLine) -> String;

/// Names are cut to so many letters, so that a tear takes one line of eighty.
const NAME_LETTERS: usize = 12;

/// The list itself, a line each, what the maker said of it below; a column of which nothing is known is left out.
#[must_use]
pub fn lines(list: &[&HarmLine], zone: &TimeZone) -> String {
    let mut text = with_what_was_said(&table(list, zone).text(), list);
    for line in legend(list) {
        push(&mut text, format_args!("({line})"));
    }
    text
}

/// The list as a table.
#[must_use]
pub fn table(list: &[&HarmLine], zone: &TimeZone) -> Table {
    let known = |is_known: fn(&HarmLine) -> bool| list.iter().any(|line| is_known(line));
    let first = list.first().map(|line| &line.harm);
    let has_several = list.iter().any(|line| Some(line.harm.machine) != first.map(|harm| harm.machine));
    let year = one_year(list, zone);
    let columns: [(bool, Column, Cell<'_>); 9] = [
        (true, Column::Dates("number"), &|line| line.number.clone()),
        (has_both(list), Column::Dates("what"), &kind_in_short),
        (has_several, Column::Numbers("machine"), &|line| {
            line.harm.machine.map_or_else(String::new, |machine| machine.0.to_string())
        }),
        (true, Column::Dates("when"), &|line| when(line.harm.when, zone, year)),
        (known(|line| line.harm.rug.is_some()), Column::Dates("rug"), &rug),
        (known(is_tight), Column::Numbers("tight"), &|line| {
            line.run_since_tensioning_ms.map_or_else(String::new, run_time)
        }),
        (known(|line| line.harm.cloth_lot.is_some()), Column::Dates("cloth"), &|line| {
            line.harm.cloth_lot.as_deref().map_or_else(String::new, |lot| cut(lot, NAME_LETTERS))
        }),
        (known(is_of_a_knob), Column::Numbers("knob"), &|line| {
            line.harm.knob_before.map_or_else(String::new, |at| format!("{} %", f64::from(at.get()) / 10.0))
        }),
        (known(is_of_a_rate), Column::Numbers("per s"), &|line| {
            line.harm.rate_before.map_or_else(String::new, |rate| format!("{:.0}", f64::from(rate) / 10.0))
        }),
    ];
    let shown: Vec<_> = columns.iter().filter(|(is_shown, ..)| *is_shown).collect();
    let heads: Vec<Column> = shown.iter().map(|(_, column, _)| *column).collect();
    let mut table = Table::new(&heads);
    for line in list {
        table.row(shown.iter().map(|(.., cell)| cell(line)));
    }
    table
}

fn has_both(list: &[&HarmLine]) -> bool {
    list.iter().any(|line| Some(line.harm.harm) != list.first().map(|first| first.harm.harm))
}

const fn is_tight(line: &HarmLine) -> bool {
    line.run_since_tensioning_ms.is_some()
}

const fn is_of_a_knob(line: &HarmLine) -> bool {
    line.harm.knob_before.is_some()
}

const fn is_of_a_rate(line: &HarmLine) -> bool {
    line.harm.rate_before.is_some()
}

/// What the short heads of the table mean, and its mark.
#[must_use]
pub fn legend(list: &[&HarmLine]) -> Vec<String> {
    let known = |is_known: fn(&HarmLine) -> bool| list.iter().any(|line| is_known(line));
    let heads = [
        has_both(list).then_some("near: a near-miss"),
        known(is_tight).then_some("tight: counted running since tightening"),
        match (known(is_of_a_knob), known(is_of_a_rate)) {
            (true, true) => Some("knob, strokes per s: before it"),
            (true, false) => Some("knob: before it"),
            (false, true) => Some("strokes per s: before it"),
            (false, false) => None,
        },
    ];
    let heads: Vec<&str> = heads.into_iter().flatten().collect();
    let heads = (!heads.is_empty()).then(|| heads.join("; "));
    let mark = known(|line| line.harm.rug_is_assumed)
        .then(|| "* assumed: the rug that was worked on then".to_owned());
    heads.into_iter().chain(mark).collect()
}

/// No cell takes two lines, so below its two lines of heads the table has a line for each of them.
fn with_what_was_said(table: &str, list: &[&HarmLine]) -> String {
    let mut text = String::new();
    for (place, row) in table.lines().enumerate() {
        push(&mut text, format_args!("{row}"));
        let said = place.checked_sub(2).and_then(|place| list.get(place)).map(|line| said(&line.harm));
        if let Some(said) = said.filter(|said| !said.is_empty()) {
            push(&mut text, format_args!("        {said}"));
        }
    }
    text
}

fn kind_in_short(line: &HarmLine) -> String {
    match line.harm.harm {
        Harm::Tear => "tear",
        Harm::NearMiss => "near",
    }
    .to_owned()
}

const fn kind(harm: Harm) -> &'static str {
    match harm {
        Harm::Tear => "tear",
        Harm::NearMiss => "near-miss",
    }
}

fn rug(line: &HarmLine) -> String {
    let mark = if line.harm.rug_is_assumed { " *" } else { "" };
    line.harm.rug.as_ref().map_or_else(String::new, |rug| cut(&rug.0, NAME_LETTERS) + mark)
}

/// What the maker said of it.
fn said(harm: &HarmRecord) -> String {
    let mut line = String::new();
    answered(&mut line, harm.answers);
    if let Some(note) = &harm.note {
        line.push_str(&format!(", \"{note}\""));
    }
    if let Some(reason) = &harm.withdrawn {
        line.push_str(&format!(", TAKEN BACK: {reason}"));
    }
    line.trim_start_matches(", ").to_owned()
}

fn local(at: UtcMillis, zone: &TimeZone) -> Option<DateTime> {
    Some(Timestamp::from_millisecond(at.0).ok()?.to_zoned_datetime(zone.clone()).datetime())
}

/// The year of all of them, where it is one.
fn one_year(list: &[&HarmLine], zone: &TimeZone) -> Option<i16> {
    let years = list.iter().flat_map(|line| [line.harm.when.earliest(), line.harm.when.latest()]).flatten();
    let mut years = years.filter_map(|at| local(at, zone)).map(|at| at.year());
    let first = years.next()?;
    years.all(|year| year == first).then_some(first)
}

/// "7 Mar 10:22", with the year where the list goes over several; a day or two where the hour is not known.
fn when(when: When, zone: &TimeZone, year: Option<i16>) -> String {
    let format = if year.is_some() { "%-d %b %H:%M" } else { "%-d %b %Y %H:%M" };
    match when {
        When::Dated(at) => local(at, zone).map(|at| at.strftime(format).to_string()),
        When::Between { earliest, latest } => {
            let day = |at| local(at, zone).map(|at| at.date());
            Some(days(day(earliest), day(latest)))
        }
        When::Undated => None,
    }
    .unwrap_or_else(|| "not known".to_owned())
}

/// Tears and near-misses that a pull brought, by the numbers under which more is said of them; none where there are none.
#[must_use]
pub fn of_pull(new: &[HarmLine]) -> Option<String> {
    let newest = new.last()?;
    let numbers: Vec<String> = new.iter().map(|line| line.number.clone()).collect();
    let many =
        |harm| u64::try_from(new.iter().filter(|line| line.harm.harm == harm).count()).unwrap_or(u64::MAX);
    Some(format!(
        "{UNPLUG}\n{} and {} noted with the button: {}.\nSay what you know: needlehours tear answer {} --help",
        count(many(Harm::Tear), "tear", "tears"),
        count(many(Harm::NearMiss), "near-miss", "near-misses"),
        all_of(&numbers),
        newest.number
    ))
}

/// What was noted, answered or taken back.
#[must_use]
pub fn changed(changed: &HarmChanged, zone: &TimeZone) -> String {
    match &changed.now {
        None => format!("{UNPLUG}\n{} is noted.\n", changed.id),
        Some(harm) if harm.counts() => format!("{UNPLUG}\n{}\n{}", one(harm, zone), assumed(harm)),
        Some(harm) => format!("{}\n", one(harm, zone)),
    }
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
    let mut line = format!("{}: {}, {}", harm.id, kind(harm.harm), moment(harm.when, zone));
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

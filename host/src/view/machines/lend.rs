//! Lending and the spread of running on screen.

use jiff::tz::TimeZone;

use super::machine;
use crate::app::hand::people::Person;
use crate::app::machines::lend::{HandedReport, LoanList};
use crate::app::typed::counting::how_to_count;
use crate::view::words::table::{Column, Table};
use crate::view::words::{clock, count, push, run_time, thousands};
use host_core::entries::{MeterReading, ReadingSource};
use host_core::hours::spread::{SpreadGroup, SpreadLine, SpreadReport};
use host_core::studio::loans::Loan;

fn name(person: &Person) -> String {
    person.name.clone().unwrap_or_else(|| format!("person {}", person.person.0))
}

/// A machine left.
#[must_use]
pub fn lent(report: &HandedReport, zone: &TimeZone) -> String {
    let mut text = String::new();
    let new = if report.is_new_person {
        format!(", who is person {} from now on", report.person.person.0)
    } else {
        String::new()
    };
    push(
        &mut text,
        format_args!(
            "{} is lent to {}{new}. {}",
            report.machine_name,
            name(&report.person),
            told(report, zone)
        ),
    );
    match report.reading.source {
        ReadingSource::LogSoFar => push(
            &mut text,
            format_args!(
                "If it ran since, pull once more; what is read later corrects it in `needlehours machine loans`."
            ),
        ),
        ReadingSource::NotKnown => push(&mut text, format_args!("{}", no_reading(report))),
        ReadingSource::Log | ReadingSource::Typed | ReadingSource::WhenEntered => {}
    }
    push(
        &mut text,
        format_args!("Care goes on counting what it runs; no rug does, unless you give it to one."),
    );
    text
}

const fn no_reading(report: &HandedReport) -> &'static str {
    if report.is_without_logger {
        "No logger counts it. To note what a meter on it shows: --reading-hours"
    } else {
        "No logger on it has been read yet. To note what another meter shows: --reading-hours"
    }
}

/// The reading with its moment, as a sentence.
fn told(report: &HandedReport, zone: &TimeZone) -> String {
    let reading = &report.reading;
    let when = match (reading.source, report.last_read_utc_ms) {
        (ReadingSource::Log, _) => format!(" of {}", clock(report.at_utc_ms, zone)),
        (ReadingSource::LogSoFar, Some(read)) => format!(", as last read on {}", clock(read, zone)),
        _ => String::new(),
    };
    format!("Reading{when}: {}.", self::reading(reading))
}

/// A reading in words.
#[must_use]
pub fn reading(reading: &MeterReading) -> String {
    let Some(run) = reading.run else { return "not known".to_owned() };
    let span = |least: String, most: Option<String>| match most {
        Some(most) if most != least => format!("{least} to {most}"),
        _ => least,
    };
    let run = span(run_time(run.0), reading.run_at_most.map(|most| run_time(most.0)));
    let strokes = reading.strokes.map(|least| {
        let most = reading.strokes_at_most.filter(|most| *most != least);
        match most {
            Some(most) => format!(", {} to {} strokes", thousands(least), thousands(most)),
            None => format!(", {}", count(least, "stroke", "strokes")),
        }
    });
    let source = match reading.source {
        ReadingSource::LogSoFar => " or more",
        ReadingSource::Typed => ", as typed",
        ReadingSource::WhenEntered | ReadingSource::Log | ReadingSource::NotKnown => "",
    };
    format!("{run} of running{}{source}", strokes.unwrap_or_default())
}

/// A machine came back.
#[must_use]
pub fn returned(report: &HandedReport, zone: &TimeZone) -> String {
    let mut text = String::new();
    push(
        &mut text,
        format_args!("{} is back from {}. {}", report.machine_name, name(&report.person), told(report, zone)),
    );
    if report.reading.source == ReadingSource::NotKnown {
        push(&mut text, format_args!("{}", no_reading(report)));
    }
    if let Some(loan) = &report.loan {
        push(&mut text, format_args!("{}", meanwhile(loan)));
    }
    if report.reading.source != ReadingSource::Log {
        let what = match report.is_without_logger {
            true => "If it ran meanwhile, say how long, so that it is counted",
            false => "Pull its logger now, so that what it ran meanwhile is counted",
        };
        push(&mut text, format_args!("{what}: {}", how_to_count(report.is_without_logger)));
    }
    text
}

/// A loan's reading: what was typed, else what the records tell now, else what was noted.
#[must_use]
pub fn best_reading(noted: &MeterReading, counted: &MeterReading) -> String {
    let best = match (noted.source, counted.source) {
        (ReadingSource::Typed, _) | (_, ReadingSource::NotKnown) => noted,
        _ => counted,
    };
    reading(best)
}

fn meanwhile(loan: &Loan) -> String {
    let mut sentence = format!("It ran {} while it was lent, by its records", run_time(loan.run_time_ms));
    if loan.perhaps_run_time_ms > 0 {
        sentence.push_str(&format!(
            ", and {} that may have been before or after",
            run_time(loan.perhaps_run_time_ms)
        ));
    }
    if loan.by_hand_run_time_ms > 0 {
        sentence.push_str(&format!("; typed in {}", run_time(loan.by_hand_run_time_ms)));
    }
    sentence.push('.');
    sentence
}

/// All loans.
#[must_use]
pub fn loans(list: &LoanList, zone: &TimeZone) -> String {
    if list.loans.is_empty() {
        return "No machine was ever lent: needlehours machine lend NUMBER --to NAME".to_owned();
    }
    let mut text = String::new();
    for line in &list.loans {
        let loan = &line.loan;
        let back = loan
            .back_utc_ms
            .map_or_else(|| "still away".to_owned(), |back| format!("back {}", clock(back, zone)));
        push(
            &mut text,
            format_args!(
                "{} (machine {}) to {}: out {}, {back}.",
                line.machine_name,
                loan.machine.0,
                line.to,
                clock(loan.out_utc_ms, zone)
            ),
        );
        push(&mut text, format_args!("  Condition {}.", loan_condition(loan)));
        let back = loan.reading_back.as_ref().zip(loan.counted_back.as_ref());
        let back = back.map(|(noted, counted)| format!("; back: {}", best_reading(noted, counted)));
        let out = best_reading(&loan.reading_out, &loan.counted_out);
        push(&mut text, format_args!("  Reading out: {out}{}.", back.unwrap_or_default()));
        push(&mut text, format_args!("  {}", meanwhile(loan)));
    }
    text
}

/// The condition of a machine when it left and came back.
fn loan_condition(loan: &Loan) -> String {
    let condition = |said: &Option<String>| said.clone().unwrap_or_else(|| "not said".to_owned());
    let came =
        if loan.is_away() { String::new() } else { format!("; back: {}", condition(&loan.condition_back)) };
    format!("out: {}{came}", condition(&loan.condition_out))
}

/// The spread of running.
#[must_use]
pub fn spread(report: &SpreadReport, zone: &TimeZone) -> String {
    let mut text = String::new();
    let period = match (report.since_utc_ms, report.until_utc_ms) {
        (None, None) => "everything recorded so far".to_owned(),
        (Some(since), None) => format!("since {}", clock(since, zone)),
        (None, Some(until)) => format!("until {}", clock(until, zone)),
        (Some(since), Some(until)) => format!("from {} to {}", clock(since, zone), clock(until, zone)),
    };
    push(&mut text, format_args!("How running is spread, {period}:"));
    for group in &report.groups {
        push(&mut text, format_args!("\n{}", of_group(group)));
    }
    push(
        &mut text,
        format_args!("\nEver: counted by loggers on it. Before: by its owner's estimate, kept apart."),
    );
    text
}

fn of_group(group: &SpreadGroup) -> String {
    let mut table = Table::new(&[
        Column::Numbers("machine"),
        Column::Words("name"),
        Column::Numbers("ran"),
        Column::Numbers("typed in"),
        Column::Numbers("share"),
        Column::Numbers("ever"),
        Column::Numbers("before"),
        Column::Words(""),
    ]);
    for line in &group.machines {
        table.row([
            line.machine.0.to_string(),
            line.machine_name.clone(),
            run_time(line.run_time_ms),
            run_time(line.by_hand_run_time_ms),
            line.share.map_or_else(|| "-".to_owned(), |share| format!("{:.0} %", share * 100.0)),
            run_time(line.measured_ever_ms),
            line.before_logger_run_time_ms.map_or_else(|| "-".to_owned(), run_time),
            match (line.is_lent, line.is_resting) {
                (true, _) => "lent out",
                (false, true) => "out of use",
                (false, false) => "",
            }
            .to_owned(),
        ]);
    }
    let mut text = format!("Machines for {} pile\n{}", machine::pile(group.pile), table.text());
    let perhaps: u64 = group.machines.iter().map(|line| line.perhaps_run_time_ms).sum();
    if perhaps > 0 {
        text.push_str(&format!(
            "\n{} more may have been in that time; they are in no share.",
            run_time(perhaps)
        ));
    }
    text.push_str(&format!("\n{}", advice(group)));
    text
}

fn advice(group: &SpreadGroup) -> String {
    let next: Option<&SpreadLine> = group.machines.iter().find(|line| Some(line.machine) == group.take_next);
    match next {
        Some(next) => {
            let here = group.machines.iter().filter(|line| line.is_at_hand()).count();
            let away = away(group);
            let why = match (here, here == group.machines.len()) {
                (1, false) => format!("it is the only one that is not {away}"),
                (_, false) => {
                    let ran = run_time(next.in_period_ms());
                    format!("of those not {away} it ran least, {ran} in that time")
                }
                (_, true) => format!("it ran least, {} in that time", run_time(next.in_period_ms())),
            };
            format!(
                "Take {} (machine {}) next: {why}. If its care is due, give it that first: needlehours due --machine {}",
                next.machine_name, next.machine.0, next.machine.0
            )
        }
        None if group.machines.len() == 1 => {
            "There is no other machine for this pile to share the work with.".to_owned()
        }
        None => format!("All of them are {}.", away(group)),
    }
}

/// Why machines of a group are not at hand.
fn away(group: &SpreadGroup) -> &'static str {
    let is_any = |is: fn(&SpreadLine) -> bool| group.machines.iter().any(is);
    match (is_any(|line| line.is_lent), is_any(|line| line.is_resting)) {
        (true, true) => "lent out or out of use",
        (false, true) => "out of use",
        (_, false) => "lent out",
    }
}

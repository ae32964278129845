//! When care will probably fall due, in plain words.

use jiff::civil::Date;
use shared_types::MachineTag;

use crate::view::words::{push, run_time, so_many_weeks};
use host_core::care::forecast::due_day::{DueDay, Told, due_day};
use host_core::care::forecast::{DueForecast, NoDate};
use host_core::care::report::TaskReport;

/// Further ahead than this no day is told: nobody plans with it.
const YEAR_DAYS: i32 = 365;
/// Days ahead for which the name of a weekday says which day is meant.
const NEAR_DAYS: i32 = 6;

/// Sentences that follow how the task stands, with a blank before each; empty where there is nothing to say of it.
#[must_use]
pub fn words(task: &TaskReport) -> String {
    let forecast = &task.forecast;
    let sentences = match forecast.no_date_because {
        Some(NoDate::DueNow | NoDate::NotNow | NoDate::EndOfDay) => [None, None, None],
        Some(NoDate::TooFewWeeks) => [left(task), None, at_the_latest(forecast)],
        Some(NoDate::TooFar) => {
            let pace = "Not due within a year at this pace.".to_owned();
            [left(task), Some(pace), at_the_latest(forecast)]
        }
        None => [range(forecast).map(|range| format!("Likely due {range}.")), None, None],
    };
    sentences.into_iter().flatten().map(|sentence| format!(" {sentence}")).collect()
}

/// What a short history means: a line for each machine with too few weeks of its own for a date, or with so few that its dates
/// are rough, however many of its tasks have one.
#[must_use]
pub fn short_history(tasks: &[TaskReport], several_machines: bool) -> String {
    let mut text = String::new();
    let mut told: Vec<MachineTag> = Vec::new();
    for task in tasks {
        let forecast = &task.forecast;
        let has_none = forecast.no_date_because == Some(NoDate::TooFewWeeks);
        if !(has_none || forecast.is_rough()) || told.contains(&task.machine) {
            continue;
        }
        told.push(task.machine);
        let of = if several_machines { format!(" for {}", task.machine_name) } else { String::new() };
        if has_none {
            push(
                &mut text,
                format_args!(
                    "A date{of} needs {} whole weeks of your own running; so far there {}.",
                    forecast.least_whole_weeks,
                    so_many_weeks(forecast.whole_weeks)
                ),
            );
        } else {
            push(&mut text, format_args!("{}", rough(&of, forecast.whole_weeks)));
        }
    }
    text
}

/// That dates rest on a short history; `of` is empty or names the machine.
pub(super) fn rough(of: &str, whole_weeks: usize) -> String {
    format!("Dates{of} are rough: only {whole_weeks} whole weeks of your own running are known.")
}

/// "between Tuesday and Friday", "today", "between 3 Mar and 20 Mar, about 9 Mar"; nothing where there is no date.
#[must_use]
pub fn range(forecast: &DueForecast) -> Option<String> {
    let (today, earliest, middle) = (forecast.today?, forecast.earliest?, forecast.middle?);
    // Over the turn of a year each day says its year.
    let is_one_year = earliest.year() == forecast.latest.unwrap_or(middle).year();
    let dated = |date: Date| if is_one_year { day(date, today) } else { full_day(date) };
    let is_within_a_year = |date: &Date| days_ahead(today, *date).is_some_and(|days| days <= YEAR_DAYS);
    if !is_within_a_year(&middle) {
        return Some("later than in a year".to_owned());
    }
    let Some(latest) = forecast.latest.filter(is_within_a_year) else {
        return Some(format!("about {}, perhaps not within a year", dated(middle)));
    };
    let is_near = days_ahead(today, latest).is_some_and(|days| days <= NEAR_DAYS);
    Some(match (earliest == latest, is_near) {
        (true, true) => on(latest, today),
        (true, false) => format!("on {}", day(latest, today)),
        (false, true) => format!("between {} and {}", name(earliest, today), name(latest, today)),
        (false, false) if middle == earliest || middle == latest => {
            format!("between {} and {}", dated(earliest), dated(latest))
        }
        (false, false) => {
            format!("between {} and {}, about {}", dated(earliest), dated(latest), dated(middle))
        }
    })
}

/// "4 h of running left.", where a limit of running says so.
fn left(task: &TaskReport) -> Option<String> {
    let left = task.remaining_run_time_ms.and_then(|left| u64::try_from(left).ok())?;
    Some(format!("{} of running left.", run_time(left)))
}

/// "Due on 2 Mar 2027 at the latest.", where a limit in days says so.
fn at_the_latest(forecast: &DueForecast) -> Option<String> {
    match (due_day(forecast), forecast.today) {
        (Some(DueDay { on, told: Told::AtTheLatest, .. }), Some(today)) => {
            Some(format!("Due on {} at the latest.", day(on, today)))
        }
        _ => None,
    }
}

fn days_ahead(today: Date, date: Date) -> Option<i32> {
    today.until(date).ok().map(|span| span.get_days())
}

/// "today", "tomorrow", "on Friday".
fn on(date: Date, today: Date) -> String {
    match days_ahead(today, date) {
        Some(0 | 1) => name(date, today),
        _ => format!("on {}", name(date, today)),
    }
}

/// "today", "tomorrow", "Friday".
fn name(date: Date, today: Date) -> String {
    match days_ahead(today, date) {
        Some(0) => "today".to_owned(),
        Some(1) => "tomorrow".to_owned(),
        _ => date.strftime("%A").to_string(),
    }
}

/// "3 Mar", with its year where that is another than today's.
fn day(date: Date, today: Date) -> String {
    if date.year() == today.year() { date.strftime("%-d %b").to_string() } else { full_day(date) }
}

fn full_day(date: Date) -> String {
    date.strftime("%-d %b %Y").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    /// On Monday 2 March 2026.
    fn forecast(earliest: Date, middle: Date, latest: Option<Date>) -> DueForecast {
        DueForecast {
            earliest: Some(earliest),
            middle: Some(middle),
            latest,
            by_calendar: None,
            today: Some(date(2026, 3, 2)),
            no_date_because: None,
            whole_weeks: 12,
            least_whole_weeks: 4,
            prior_weeks: 0,
            range: 0.83,
            draws: 500,
            seed: 1,
        }
    }

    #[test]
    fn within_a_week_days_are_called_by_their_names() {
        let said = |earliest, middle, latest| range(&forecast(earliest, middle, Some(latest)));
        let (today, tuesday, friday) = (date(2026, 3, 2), date(2026, 3, 3), date(2026, 3, 6));
        assert_eq!(said(date(2026, 3, 4), friday, friday).as_deref(), Some("between Wednesday and Friday"));
        assert_eq!(said(tuesday, tuesday, friday).as_deref(), Some("between tomorrow and Friday"));
        assert_eq!(said(today, today, today).as_deref(), Some("today"));
        assert_eq!(said(tuesday, tuesday, tuesday).as_deref(), Some("tomorrow"));
        assert_eq!(said(friday, friday, friday).as_deref(), Some("on Friday"));
        // The same weekday a week later would not be told from today.
        let sunday = date(2026, 3, 8);
        assert_eq!(said(friday, sunday, sunday).as_deref(), Some("between Friday and Sunday"));
    }

    #[test]
    fn further_ahead_they_are_dates() {
        let said = |latest| range(&forecast(date(2026, 3, 3), date(2026, 3, 9), latest));
        let monday = said(Some(date(2026, 3, 9)));
        assert_eq!(monday.as_deref(), Some("between 3 Mar and 9 Mar"));
        let wednesday = said(Some(date(2026, 3, 11)));
        assert_eq!(wednesday.as_deref(), Some("between 3 Mar and 11 Mar, about 9 Mar"));
        let far = said(Some(date(2027, 1, 20)));
        assert_eq!(far.as_deref(), Some("between 3 Mar 2026 and 20 Jan 2027, about 9 Mar 2026"));
        assert_eq!(said(None).as_deref(), Some("about 9 Mar, perhaps not within a year"));
    }

    #[test]
    fn what_lies_beyond_a_year_has_no_day() {
        let of = |middle, latest| range(&forecast(date(2026, 12, 26), middle, latest)).unwrap();
        // From 2 March 2026 a year is 365 days: 2 March 2027.
        assert_eq!(of(date(2027, 8, 10), None), "later than in a year");
        assert_eq!(of(date(2027, 3, 3), Some(date(2027, 9, 1))), "later than in a year");
        assert_eq!(
            of(date(2027, 3, 2), Some(date(2027, 9, 1))),
            "about 2 Mar 2027, perhaps not within a year"
        );
        assert_eq!(
            of(date(2027, 2, 1), Some(date(2027, 3, 2))),
            "between 26 Dec 2026 and 2 Mar 2027, about 1 Feb 2027"
        );
    }
}

//! `exposure` on screen.

use jiff::tz::TimeZone;

use crate::app::hand::exposure::{DayMachine, ExposureDay, LogAnswer, MachineFigure, PersonDay, TableAnswer};
use crate::app::hand::who::WhoSet;
use crate::app::typed::counting::how_to_count;
use crate::view::words::sheet::Block;
use crate::view::words::table::{Column, Table};
use crate::view::words::{self, all_of, clock, run_time};
use host_core::entries::{FigureSource, VibrationFigure};
use host_core::hand::vibration::{DailyExposure, Standing};
use host_core::stats::MINUTE_MS;

/// As many days are listed; the others are counted.
const LISTED_DAYS: usize = 31;

/// What is said of every dose.
const ESTIMATE: &str = "This is an estimate from the figure that you entered, not a measurement: a competent person's measurement at \
     your work comes first. It is the dose of one person on one day; whoever shares a machine shares it out. Gloves are no answer.";

/// Which rule acts when.
const RULES: &str = "Directive 2002/44/EC asks for action when the action value (2.5 m/s², 100 points) is exceeded; the regulations \
     of the United Kingdom ask for it at the value or above. Above the limit value (5 m/s², 400 points) nobody may work by either.";

/// The day of a table.
#[must_use]
pub fn table(answer: &TableAnswer) -> String {
    let exposure = &answer.exposure;
    let mut tools = Table::new(&[
        Column::Numbers("vibration"),
        Column::Numbers("time"),
        Column::Numbers("points"),
        Column::Numbers("alone to the action value"),
        Column::Numbers("alone to the limit value"),
    ]);
    for tool in &exposure.tools {
        tools.row([
            format!("{} m/s²", tool.a_hv_m_s2),
            minutes(tool.minutes),
            points(tool.points),
            tool.minutes_to_action_value.map_or_else(never, minutes),
            tool.minutes_to_limit_value.map_or_else(never, minutes),
        ]);
    }
    format!("{}\n\n{}\n{}\n{RULES}\n{ESTIMATE}", tools.text(), day_sum(exposure), acts(exposure))
}

fn never() -> String {
    "never".to_owned()
}

/// Minutes as "12 min" or "2 h 5 min"; more than a day is only named so.
fn minutes(minutes: f64) -> String {
    if minutes > 1_440.0 {
        return "more than a day".to_owned();
    }
    let whole = format!("{minutes:.0}");
    whole
        .parse::<u64>()
        .map_or(whole, |whole| if whole == 0 { "0 min".to_owned() } else { run_time(whole * MINUTE_MS) })
}

fn points(points: f64) -> String {
    format!("{points:.0}")
}

fn day_sum(exposure: &DailyExposure) -> String {
    format!(
        "The day: {:.1} m/s² over eight hours, {} points. Action value {}; limit value {}.",
        exposure.a8_m_s2,
        points(exposure.points),
        standing(exposure.action_value),
        standing(exposure.limit_value)
    )
}

const fn standing(standing: Standing) -> &'static str {
    match standing {
        Standing::Below => "not reached",
        Standing::Reached => "reached",
        Standing::Exceeded => "exceeded",
    }
}

/// The same in a row of a table, short enough that a row with a name in it stays one line.
const fn standing_in_row(standing: Standing) -> &'static str {
    match standing {
        Standing::Below => "below",
        Standing::Reached => "reached",
        Standing::Exceeded => "exceeded",
    }
}

fn acts(exposure: &DailyExposure) -> &'static str {
    match (exposure.rules.above_limit, exposure.rules.eu_action, exposure.rules.uk_action) {
        (true, ..) => "Stop for today: by this estimate the day is above the limit value.",
        (_, true, _) => {
            "By this estimate something must be done: less time, a machine that shakes less, other hands in turn."
        }
        (_, false, true) => {
            "By this estimate the action value is just reached: the rule of the United Kingdom acts, the directive not yet."
        }
        _ => "By this estimate neither rule asks for anything today.",
    }
}

/// The days of the log.
#[must_use]
pub fn log(answer: &LogAnswer) -> String {
    let told = log_blocks(answer).into_iter().map(|block| match block {
        Block::Table(table) => table.text(),
        Block::Text(text) | Block::Strong(text) | Block::Note(text) => text,
        Block::Facts(_) | Block::Warning(_) | Block::Head(_) | Block::List(_) => String::new(),
    });
    told.collect::<Vec<_>>().join("\n")
}

/// The same, part by part.
#[must_use]
pub fn log_blocks(answer: &LogAnswer) -> Vec<Block> {
    let mut blocks: Vec<Block> = answer.machines.iter().map(|one| Block::Text(machine(one))).collect();
    if answer.days.is_empty() {
        let how = how_to_count(answer.is_without_logger);
        blocks.push(Block::Text(format!("No day with running is known yet: {how}")));
        return blocks;
    }
    let is_dosed = answer.days.iter().any(|day| day.people.iter().any(|person| person.exposure.is_some()));
    if answer.is_anybody_named {
        blocks.extend(by_person(answer, is_dosed));
        return blocks;
    }
    let mut days = if is_dosed {
        Table::new(&[
            Column::Words("day"),
            Column::Numbers("running"),
            Column::Numbers("over 8 h"),
            Column::Numbers("points"),
            Column::Words("action value"),
            Column::Words("limit value"),
        ])
    } else {
        Table::new(&[Column::Words("day"), Column::Numbers("running")])
    };
    let hidden = answer.days.len().saturating_sub(LISTED_DAYS);
    for day in answer.days.iter().skip(hidden) {
        days.row(row(day, &day.machines, day.exposure.as_ref(), is_dosed));
    }
    blocks.push(Block::Table(days));
    blocks.extend(earlier(hidden));
    if is_dosed {
        blocks.extend([RULES, ESTIMATE].map(|text| Block::Text(text.to_owned())));
        blocks.push(Block::Text(
            "Everything is taken as one person's. Say who works: needlehours exposure who PERSON".to_owned(),
        ));
    }
    blocks
}

fn earlier(hidden: usize) -> Option<Block> {
    (hidden > 0).then(|| Block::Text(format!("{hidden} earlier days are in --json.")))
}

/// One row for each person and day.
fn by_person(answer: &LogAnswer, is_dosed: bool) -> Vec<Block> {
    let mut columns = vec![Column::Dates("day"), Column::Words("who"), Column::Numbers("running")];
    if is_dosed {
        columns.extend([
            Column::Numbers("over 8 h"),
            Column::Numbers("points"),
            Column::Words("action value"),
            Column::Words("limit value"),
        ]);
    }
    let mut rows = Table::new(&columns);
    let hidden = answer.days.len().saturating_sub(LISTED_DAYS);
    for day in answer.days.iter().skip(hidden) {
        for person in &day.people {
            let mut row = row(day, &person.machines, person.exposure.as_ref(), is_dosed);
            row.insert(1, who(person));
            rows.row(row);
        }
    }
    let mut blocks = vec![Block::Table(rows)];
    blocks.extend(earlier(hidden));
    let of_nobody = answer.days.iter().flat_map(|day| &day.people).filter(|day| day.person.is_none());
    let unnamed = of_nobody.flat_map(|day| &day.machines);
    let unnamed_ms = unnamed.fold(0, |sum: u64, machine| sum.saturating_add(machine.run_time_ms));
    if unnamed_ms > 0 {
        blocks.push(Block::Text(format!(
            "Of {} of running nobody was named; its dose is that of one person who held it all. Say who it was: needlehours \
             exposure who PERSON --session NUMBER",
            run_time(unnamed_ms)
        )));
    }
    if is_dosed {
        blocks.extend([RULES, ESTIMATE].map(|text| Block::Text(text.to_owned())));
    }
    blocks
}

fn who(day: &PersonDay) -> String {
    match (&day.name, day.person) {
        (Some(name), _) => name.clone(),
        (None, Some(person)) => format!("person {}", person.0),
        (None, None) => "not said".to_owned(),
    }
}

/// It was said who works, or worked.
#[must_use]
pub fn who_set(set: &WhoSet, zone: &TimeZone) -> String {
    let who = set.person.as_ref().map_or_else(
        || "Nobody is named".to_owned(),
        |person| person.name.clone().unwrap_or_else(|| format!("Person {}", person.person.0)),
    );
    let machine = set.machine.map(|machine| format!(" on machine {}", machine.0)).unwrap_or_default();
    match set.from_utc_ms {
        Some(from) => format!("{who} from {} on{machine}, until something else is said.", clock(from, zone)),
        None => {
            let sessions: Vec<String> = set.sessions.iter().map(ToString::to_string).collect();
            format!("{who} for session {}.", all_of(&sessions))
        }
    }
}

fn row(
    day: &ExposureDay,
    machines: &[DayMachine],
    exposure: Option<&DailyExposure>,
    is_dosed: bool,
) -> Vec<String> {
    let run: u64 = machines.iter().fold(0, |sum, machine| sum.saturating_add(machine.run_time_ms));
    let date = day.day.map_or_else(String::new, |day| day.strftime("%a %-d %b %Y").to_string());
    let mut row = vec![date, run_time(run)];
    match exposure {
        Some(exposure) => row.extend([
            format!("{:.1} m/s²", exposure.a8_m_s2),
            points(exposure.points),
            standing_in_row(exposure.action_value).to_owned(),
            standing_in_row(exposure.limit_value).to_owned(),
        ]),
        None if is_dosed => row.push("no dose".to_owned()),
        None => {}
    }
    row
}

fn machine(figure: &MachineFigure) -> String {
    let mut line = match figure.a_hv_m_s2 {
        Some(a_hv) => format!("{}: {a_hv} m/s²{}.", figure.machine_name, source(figure.source)),
        None => format!(
            "{}: no vibration figure was entered, so there is no dose. If its manual declares one or somebody measured it: \
             needlehours exposure set --machine {} --vibration M_S2",
            figure.machine_name, figure.machine.0
        ),
    };
    if figure.day_unknown_run_time_ms > 0 {
        line.push_str(&format!(
            " {} of running are of no certain day and in no dose.",
            run_time(figure.day_unknown_run_time_ms)
        ));
    }
    if figure.entered_run_time_ms > 0 {
        line.push_str(&format!("\n{}", words::typed_in(figure.entered_run_time_ms).trim_start()));
    }
    line
}

const fn source(source: Option<FigureSource>) -> &'static str {
    match source {
        Some(FigureSource::Declared) => ", as the manufacturer declares it",
        Some(FigureSource::Measured) => ", as it was measured",
        Some(FigureSource::NotSaid) | None => ", as entered",
    }
}

/// A figure was entered.
#[must_use]
pub fn entered(figure: &VibrationFigure) -> String {
    format!(
        "Machine {} vibrates with {} m/s²{}. `needlehours exposure` works with it, for all days recorded so far, too.",
        figure.machine.0,
        f64::from(figure.a_hv_mm_s2) / 1_000.0,
        source(Some(figure.source))
    )
}

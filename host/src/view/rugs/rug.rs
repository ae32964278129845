//! `rug` on screen.

use jiff::tz::TimeZone;

use super::rug_book::{self, ordered_later};
use crate::app::rugs::rug::{Assigned, RugLine, RugList, SessionList, WorkOutcome};
use crate::app::typed::counting::how_to_count;
use crate::view::words;
use crate::view::words::table::{Column, Table};
use host_core::entries::WorkChange;
use host_core::sessions::session_list::SessionLine;

/// The list of commissions.
#[must_use]
pub fn list(list: &RugList) -> String {
    if list.rugs.is_empty() {
        return "No rug has been entered yet: needlehours rug new NAME --size 80x120cm".to_owned();
    }
    table(list).text()
}

/// The commissions as a table.
#[must_use]
pub fn table(list: &RugList) -> Table {
    // Who types no sessions in needs no column of noughts.
    let is_by_hand = list.rugs.iter().any(|rug| rug.by_hand_run_time_ms > 0);
    let mut columns = vec![
        Column::Words("rug"),
        Column::Words("state"),
        Column::Words("size"),
        Column::Words("pile"),
        Column::Words("cloth"),
        Column::Numbers("running"),
    ];
    columns.extend(is_by_hand.then_some(Column::Numbers("typed in")));
    let mut table = Table::new(&columns);
    for rug in &list.rugs {
        let mut cells = vec![
            names(rug),
            words::rug_state(rug.state).to_owned(),
            size(rug),
            rug.style.map_or("", rug_book::style).trim_end_matches(" pile").to_owned(),
            rug.cloth_lot.clone().unwrap_or_default(),
            words::run_time(rug.run_time_ms),
        ];
        cells.extend(is_by_hand.then(|| words::run_time(rug.by_hand_run_time_ms)));
        table.row(cells);
    }
    table
}

/// "on the frame, 100 x 100 cm, 1 h 52 min of running".
#[must_use]
pub fn in_a_line(rug: &RugLine) -> String {
    let size = Some(size(rug)).filter(|size| !size.is_empty());
    let ran = (rug.run_time_ms > 0).then(|| format!("{} of running", words::run_time(rug.run_time_ms)));
    let parts = [Some(words::rug_state(rug.state).to_owned()), size, ran];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// Its name, and the names that it had before.
fn names(line: &RugLine) -> String {
    match line.former_names.as_slice() {
        [] => line.rug.clone(),
        former => format!("{} (before: {})", line.rug, words::all_of(former)),
    }
}

/// A list of sessions.
#[must_use]
pub fn sessions(list: &SessionList, zone: &TimeZone) -> String {
    if list.sessions.is_empty() {
        let typed_in = how_to_count(true);
        return if list.is_without_logger {
            format!("There is no such session. Sessions come from what you say of your work: {typed_in}")
        } else {
            let counted = how_to_count(false);
            format!(
                "There is no such session. Sessions come from the logger: {counted}, or are typed in: {typed_in}"
            )
        };
    }
    session_table(list.sessions.iter(), zone)
}

/// Sessions as a table.
pub fn session_table<'list>(
    sessions: impl IntoIterator<Item = &'list SessionLine>,
    zone: &TimeZone,
) -> String {
    let mut table = Table::new(&[
        Column::Numbers("session"),
        Column::Words("began"),
        Column::Numbers("running"),
        Column::Numbers("strokes"),
        Column::Words("counted to"),
    ]);
    for session in sessions {
        let mut whose: Vec<String> = session.parts.iter().map(words::counted_to).collect();
        whose.sort();
        whose.dedup();
        table.row([
            session.session.to_string(),
            words::session_start(session, zone),
            words::run_time(session.run_time_ms),
            words::thousands(session.strokes),
            whose.join("; "),
        ]);
    }
    table.text()
}

/// One session in one sentence: "Tue 3 Mar 2026 18:10: 48 min, counted to Fox (assumed)."
#[must_use]
pub fn session_sentence(line: &SessionLine, zone: &TimeZone) -> String {
    let parts: Vec<String> = line.parts.iter().map(words::counted_to).collect();
    format!(
        "{}: {}, counted to {}.",
        words::session_start(line, zone),
        words::run_time(line.run_time_ms),
        parts.join("; ")
    )
}

/// A commission was entered.
#[must_use]
pub fn ordered(name: &str) -> String {
    format!("{name} is entered. When it goes on the frame: needlehours rug start \"{name}\"")
}

/// Work began, rested or ended.
#[must_use]
pub fn work_changed(outcome: &WorkOutcome, change: WorkChange, zone: &TimeZone) -> String {
    let what = match change {
        WorkChange::Started => "is on the frame",
        WorkChange::Paused => "rests",
        WorkChange::Finished => "is finished",
        WorkChange::Delivered => "is delivered",
    };
    let mut text = format!(
        "{} {what} since {}.",
        outcome.rug,
        words::clock(shared_types::UtcMillis(outcome.at_utc_ms), zone)
    );
    if outcome.held_already {
        text.push_str(match change {
            WorkChange::Started => "\nIt was on the frame already; nothing changes by it.",
            WorkChange::Paused => "\nIt was off the frame already; nothing changes by it.",
            WorkChange::Finished | WorkChange::Delivered => {
                "\nIt had been finished before, and running is counted to it up to that first date only."
            }
        });
        text.push_str(&format!(" What was said so far: needlehours rug history \"{}\"", outcome.rug));
    }
    if let Some(ordered) = outcome.ordered_later_utc_ms {
        text.push_str(&ordered_later(&outcome.rug, shared_types::UtcMillis(ordered), zone));
    }
    if outcome.is_back {
        text.push_str("\nIt had been finished before; from then on it is being worked on again.");
    }
    if let [_, more @ ..] = outcome.lent_out.as_slice() {
        text.push_str(&format!(
            "\n{} {} lent out then, and what a lent machine runs is counted to no rug. If it is back: needlehours machine \
             back",
            words::all_of(&outcome.lent_out),
            if more.is_empty() { "is" } else { "are" }
        ));
    }
    if let [first, ..] = outcome.also_on_the_frame.as_slice() {
        text.push_str(&format!(
            "\n{} on the frame too. While more than one is, running is counted to none of them until you say whose it \
             was. If it came off: needlehours rug pause \"{first}\"",
            match outcome.also_on_the_frame.as_slice() {
                [one] => format!("{one} is"),
                several => format!("{} are", words::all_of(several)),
            }
        ));
    }
    text
}

/// Sessions were moved.
#[must_use]
pub fn assigned(outcome: &Assigned, to: &str) -> String {
    let sessions = words::count(u64::try_from(outcome.sessions).unwrap_or(u64::MAX), "session", "sessions");
    format!("{sessions}, {} of running, now counted to {to}.", words::run_time(outcome.run_time_ms))
}

/// Sessions were confirmed.
#[must_use]
pub fn confirmed(outcome: &Assigned) -> String {
    let sessions = words::count(u64::try_from(outcome.sessions).unwrap_or(u64::MAX), "session", "sessions");
    format!("Confirmed: {sessions}, {} of running.", words::run_time(outcome.run_time_ms))
}

fn size(rug: &RugLine) -> String {
    rug.width_mm.zip(rug.height_mm).map_or_else(String::new, |(width, height)| words::size(width, height))
}

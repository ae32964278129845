//! `hours` on screen.

use jiff::tz::TimeZone;

use super::check;
use crate::app::hours::report::{Added, HoursAnswer};
use crate::app::typed::counting::how_to_count;
use crate::view::words::table::{Column, Table};
use crate::view::{rugs, sessions, words};
use host_core::hours::entered::Entered;
use host_core::hours::report::{HoursReport, MachineHours, RugHours, Sum};
use host_core::sessions::session_list::SessionLine;

/// As many sessions without an owner are listed; the rest are counted.
const LISTED_SESSIONS: usize = 8;

/// The whole answer.
#[must_use]
pub fn text(answer: &HoursAnswer, zone: &TimeZone) -> String {
    if answer.is_empty {
        return EMPTY.to_owned();
    }
    if let Some(rug) = &answer.only_rug {
        let sums = one_rug(rug, &answer.hours);
        return [Some(sums), check::to_check(&answer.to_check, zone)]
            .into_iter()
            .flatten()
            .collect::<Vec<_>>()
            .join("\n\n");
    }
    let mut parts: Vec<String> = answer.hours.machines.iter().map(machine).collect();
    parts.extend(answer.hours.no_machine.as_ref().map(machine));
    if parts.is_empty() {
        parts.push("No machine has been entered yet: needlehours machine add \"My machine\"".to_owned());
    }
    parts.extend(open_sessions(&answer.open_sessions, zone));
    parts.extend(check::to_check(&answer.to_check, zone));
    parts.extend(cautions(&answer.hours));
    parts.join("\n\n")
}

const EMPTY: &str = "Nothing is here yet. Enter your machine first:\n  \
     needlehours machine add \"My machine\"\n\
     then read its logger with `needlehours pull`, or note a session with `needlehours worked 1h40`.\n\
     To see what the answers look like without a machine: needlehours demo";

/// One commission on all machines, without the rest of their sums.
fn one_rug(name: &str, hours: &HoursReport) -> String {
    let has_typed =
        hours.all().flat_map(|machine| &machine.rugs).any(|rug| rug.rug == name && rug.entered.sessions > 0);
    let mut table = sums_by("machine", has_typed);
    for (machine, rug) in hours.all().flat_map(|machine| machine.rugs.iter().map(move |rug| (machine, rug))) {
        let on = machine.name.clone().unwrap_or_else(|| "not known".to_owned());
        table.row(std::iter::once(on).chain(rug_cells(rug, has_typed)));
    }
    let mut lines = vec![if table.is_empty() {
        format!("No machine hours have been counted to {name} yet.")
    } else {
        format!("{name}:\n{}", table.text())
    }];
    let entered = hours.all().flat_map(|machine| &machine.rugs).map(|rug| rug.entered);
    lines.extend(typed_in(entered.fold(Entered::default(), Entered::plus)));
    lines.join("\n")
}

/// A table with a row for each machine, or each rug.
fn sums_by(first: &'static str, has_typed: bool) -> Table {
    let mut columns = vec![Column::Words(first), Column::Numbers("running")];
    // With one more column there is no room for the sessions.
    let typed_or_sessions = if has_typed { ["typed in", "strokes"] } else { ["strokes", "sessions"] };
    columns.extend(typed_or_sessions.map(Column::Numbers));
    columns.extend([Column::Words("assumed"), Column::Dates("days")]);
    Table::new(&columns)
}

fn rug_cells(rug: &RugHours, has_typed: bool) -> Vec<String> {
    let [hours, strokes, sessions] = figures(rug.total);
    let assumed = match rug.assumed.run_time_ms {
        0 => "-",
        assumed if assumed < rug.total.run_time_ms => "part",
        _ => "all",
    };
    let typed = some_run_time(rug.entered.run_time_ms);
    let [second, third] = if has_typed { [typed, strokes] } else { [strokes, sessions] };
    vec![hours, second, third, assumed.to_owned(), words::days(rug.first_day, rug.last_day)]
}

/// How much of the running was typed in.
fn typed_in(entered: Entered) -> Option<String> {
    let about = if entered.about { "about " } else { "" };
    (entered.sessions > 0).then(|| {
        format!(
            "Of it typed in: {about}{}, from {} and {} at the frame; strokes exist only where they were counted.",
            words::run_time(entered.run_time_ms),
            words::count(entered.sessions, "session", "sessions"),
            words::run_time(entered.frame_time_ms)
        )
    })
}

fn machine(hours: &MachineHours) -> String {
    let mut lines = vec![heading(hours)];
    if hours.total != Sum::default() {
        lines.push(sums(hours));
        lines.extend(assumed_note(hours));
    } else {
        let how = how_to_count(hours.is_without_logger);
        lines.push(match hours.is_without_logger {
            true => format!("No running is counted here yet. After work, say how long it ran: {how}"),
            false => format!("Nothing has been read from a logger on it yet: {how}"),
        });
    }
    if hours.not_recorded.records_exceed_totals {
        lines.push(
            "The logger says that it counted less than its own records hold; the records count here. \
             `needlehours doctor` tells more."
                .to_owned(),
        );
    }
    if let Some(before) = hours.before_logger_run_time_ms.filter(|before| *before > 0) {
        lines.push(format!(
            "In its life about {}, of which about {} before you, by its owner's estimate; that is in no other sum.",
            words::run_time(hours.life_run_time_ms),
            words::run_time(before)
        ));
    }
    lines.extend(typed_in(hours.entered));
    lines.join("\n")
}

fn heading(hours: &MachineHours) -> String {
    let name = match (hours.machine, &hours.name) {
        (Some(number), Some(name)) => format!("Machine {number}, {name}"),
        (Some(number), None) => format!("Machine {number}, which was never entered"),
        (None, _) => "Loggers that sit on no machine (needlehours machine fit)".to_owned(),
    };
    format!(
        "{name}: {} of running, {}",
        words::run_time(hours.total.run_time_ms),
        words::count(hours.total.strokes, "stroke", "strokes")
    )
}

fn sums(hours: &MachineHours) -> String {
    let has_typed = hours.entered.sessions > 0;
    let mut table = sums_by("rug", has_typed);
    for rug in &hours.rugs {
        table.row(std::iter::once(rug.rug.clone()).chain(rug_cells(rug, has_typed)));
    }
    let nothing = Entered::default();
    let others = [
        ("care", hours.care, hours.entered_care),
        ("lent out", hours.unassigned_while_lent, nothing),
        ("no rug yet", hours.unassigned_here, hours.entered_unassigned),
        ("date not known", hours.undated, nothing),
    ];
    let mut row = |name: &str, sum: Sum, entered: Entered, has_sessions: bool| {
        let [running, strokes, sessions] = figures(sum);
        let typed = some_run_time(entered.run_time_ms);
        let sessions = if has_sessions { sessions } else { String::new() };
        let [second, third] = if has_typed { [typed, strokes] } else { [strokes, sessions] };
        table.row([name.to_owned(), running, second, third]);
    };
    for (name, sum, entered) in others.into_iter().filter(|(_, sum, _)| *sum != Sum::default()) {
        row(name, sum, entered, true);
    }
    let doubtful = [("to check", hours.doubtful.to_check), ("set aside", hours.doubtful.set_aside)];
    for (name, sum) in doubtful.into_iter().filter(|(_, sum)| sum.bursts > 0) {
        row(name, sum, nothing, false);
    }
    let lost = hours.not_recorded;
    if lost.run_time_ms > 0 || lost.edges > 0 {
        let sum = Sum { run_time_ms: lost.run_time_ms, strokes: lost.strokes, ..Sum::default() };
        row("not recorded", sum, nothing, false);
    }
    row("all together", hours.total, hours.entered, true);
    let others = others.map(|(name, sum, _)| (name, sum));
    let others_sessions = others.map(|(_, sum)| sum.sessions);
    let of_rugs = hours.rugs.iter().map(|rug| rug.total.run_time_ms);
    let others = others.into_iter().chain(doubtful).map(|(_, sum)| sum.run_time_ms);
    let parts = of_rugs.chain(others).chain([lost.run_time_ms]);
    let of_lines = hours.rugs.iter().map(|rug| rug.total.sessions).chain(others_sessions).sum::<u64>();
    let is_twice = !has_typed && of_lines > hours.total.sessions;
    let notes = [
        is_twice.then_some("A session on two rugs is counted with both, and once in the last line."),
        words::rounding_note(parts, hours.total.run_time_ms),
    ];
    std::iter::once(table.text())
        .chain(notes.into_iter().flatten().map(str::to_owned))
        .collect::<Vec<_>>()
        .join("\n")
}

fn figures(sum: Sum) -> [String; 3] {
    [words::run_time(sum.run_time_ms), words::thousands(sum.strokes), words::thousands(sum.sessions)]
}

fn some_run_time(ms: u64) -> String {
    if ms == 0 { "-".to_owned() } else { words::run_time(ms) }
}

fn assumed_note(hours: &MachineHours) -> Option<String> {
    hours.rugs.iter().any(|rug| rug.assumed.bursts > 0).then(|| {
        "Assumed: counted by which rug was on the frame that day. To say that it is right: needlehours rug confirm NAME"
            .to_owned()
    })
}

fn open_sessions(sessions: &[SessionLine], zone: &TimeZone) -> Option<String> {
    let newest = sessions.last()?;
    let mut lines = vec![format!("{} with no rug yet:", words::count_of(sessions, "session", "sessions"))];
    lines.push(rugs::session_table(sessions.iter().rev().take(LISTED_SESSIONS), zone));
    if sessions.len() > LISTED_SESSIONS {
        lines.push(format!(
            "... and {} older: needlehours rug sessions --open",
            sessions.len() - LISTED_SESSIONS
        ));
    }
    lines.push(format!(
        "To give one away: needlehours rug assign NAME --session {}   (or --care, or --nobody)",
        newest.session
    ));
    Some(lines.join("\n"))
}

fn cautions(hours: &HoursReport) -> Vec<String> {
    let mut told = Vec::new();
    if !hours.clock_jumps.is_empty() {
        let jumps = u64::try_from(hours.clock_jumps.len()).unwrap_or(u64::MAX);
        told.push(format!(
            "A clock was wrong: it jumped {}. All readings are kept; dates near the jumps may be off, hours are not.",
            words::count(jumps, "time", "times")
        ));
    }
    told.extend(hours.fitting_conflicts.iter().map(|conflict| format!("Please check: {conflict}.")));
    let steady_ms: u64 = hours.all().map(|machine| machine.steady_as_mains.run_time_ms).sum();
    if steady_ms > 0 {
        told.push(format!(
            "{} ran at a rate as steady as the hum of the mains, which a motor in cloth hardly ever is; it is counted. If the \
             machine stood still then, unplug it and lead the wires of the needle's sensor away from mains leads.",
            words::run_time(steady_ms)
        ));
    }
    if hours.unreadable_records > 0 {
        told.push(format!(
            "{} from a newer logger cannot be read by this program; they are kept, and their hours show as not recorded.",
            words::count(hours.unreadable_records, "record", "records")
        ));
    }
    if hours.conflicting_records > 0 {
        told.push(format!(
            "{} came twice with different contents; the first is used, both are kept: needlehours doctor",
            words::count(hours.conflicting_records, "record", "records")
        ));
    }
    told
}

/// What was entered by hand, repeated for the maker.
#[must_use]
pub fn added(added: &Added, zone: &TimeZone) -> String {
    let hours = &added.hours;
    let mut what = Vec::new();
    what.extend(hours.run.map(|run| format!("{} of running", words::run_time(run.0))));
    what.extend(hours.tufting_ms.map(|ms| format!("{} at the frame", words::run_time(ms))));
    let whose = hours.rug.as_ref().map_or_else(String::new, |rug| format!(" for {rug}"));
    let mut text = format!(
        "Written down: {}{whose}, machine {}, {}.",
        words::all_of(&what),
        hours.machine.0,
        words::clock(hours.at, zone)
    );
    if hours.run.is_none() {
        text.push_str(" How long the motor ran of it is taken from: needlehours worked share");
    }
    text.push_str(&sessions::although(&added.doubts, zone));
    text
}

#[cfg(test)]
#[path = "report_tests.rs"]
mod tests;

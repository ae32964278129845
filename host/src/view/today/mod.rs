//! What the bare command says: at most eight lines of 80 columns, the last with the caution and the keys.

use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::app::sessions::TimerReport;
use crate::app::today::{DayWorked, MachineToday, TodayReport};
use crate::view::care::{so_far, when};
use crate::view::rugs::in_short;
use crate::view::words::{all_of, clock, count, count_of, cut, moment, run_time};
use host_core::care::report::TaskReport;
use host_core::records::when::When;
use host_core::sessions::local_day;

/// So many lines are one glance.
pub const MOST_LINES: usize = 8;
/// So many letters are one line on every terminal.
pub const MOST_COLUMNS: usize = 80;

/// So many open days are told at once.
const MOST_DAYS: usize = 10;

/// The caution where the keys need room too.
const CAUTION: &str = "Unplug for care; manual first.";
const CAUTION_ON_AIR: &str = "Hose off for care; manual first.";
const CAUTION_MIXED: &str = "Unplug, or hose off, for care; manual first.";
/// So many letters of a name, so that the question after it has room.
const MOST_OF_A_NAME: usize = 14;

/// A key, and what it does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Key {
    /// The session that is being timed ends now.
    End,
    /// The day's work is counted right.
    Right,
    /// It is of another rug.
    OtherRug,
    /// All days are counted right.
    AllRight,
    /// How the cloth felt at a tear.
    Tear,
    /// What was done when the care button was held.
    Press,
    /// End-of-day care was done.
    EndOfDay,
    /// End-of-day care that is left out for long is asked for by hours instead.
    ByHours,
    /// The steps of the most pressing care.
    Steps,
    /// It waits until tomorrow.
    Later,
    /// What did not fit.
    More,
}

impl Key {
    /// All of them, in the order in which they stand in the last line.
    pub const ALL: [Self; 11] = [
        Self::End,
        Self::Right,
        Self::OtherRug,
        Self::AllRight,
        Self::Tear,
        Self::Press,
        Self::EndOfDay,
        Self::ByHours,
        Self::Steps,
        Self::Later,
        Self::More,
    ];

    /// The key itself, and a word for it.
    #[must_use]
    pub const fn letter_and_word(self) -> (char, &'static str) {
        match self {
            Self::End => ('e', "end"),
            Self::Right => ('r', "right"),
            Self::OtherRug => ('o', "other"),
            Self::AllRight => ('a', "all"),
            Self::Tear => ('t', "tear"),
            Self::Press => ('c', "care"),
            Self::EndOfDay => ('d', "done"),
            Self::ByHours => ('h', "by hours"),
            Self::Steps => ('s', "steps"),
            Self::Later => ('l', "later"),
            Self::More => ('?', "more"),
        }
    }

    /// The key of a letter, whether it is offered or not.
    #[must_use]
    pub fn of(letter: char) -> Option<Self> {
        Self::ALL.into_iter().find(|key| key.letter_and_word().0 == letter.to_ascii_lowercase())
    }
}

/// The keys that have something to do.
#[must_use]
pub fn keys(machine: &MachineToday) -> Vec<Key> {
    let (days, care) = (&machine.to_answer, &machine.care);
    let is_offered = |key: &Key| match key {
        Key::End => machine.timer.is_some(),
        Key::Right => days.first().is_some_and(|day| day.rug.is_some()),
        Key::OtherRug => !days.is_empty(),
        Key::AllRight => days.iter().filter(|day| day.rug.is_some()).count() > 1,
        Key::Tear => !machine.tears.is_empty(),
        Key::Press => {
            care.presses.first().is_some_and(|question| matches!(question.press.when, When::Dated(_)))
        }
        Key::EndOfDay => !care.end_of_day.is_empty(),
        Key::ByHours => !care.often_left_out.is_empty(),
        Key::Steps | Key::Later => !care.due.is_empty(),
        Key::More => care.due.len() > 1 || days.len() > 1 || machine.tears.len() > 1,
    };
    Key::ALL.into_iter().filter(is_offered).collect()
}

/// Whether a machine is chosen by a number that is typed, because one key is too few.
#[must_use]
pub fn is_number_typed(machines: &[MachineToday]) -> bool {
    machines.iter().any(|machine| machine.machine.0 > 9)
}

/// The glance: of the only machine all, of several a line each.
#[must_use]
pub fn glance(report: &TodayReport, zone: &TimeZone) -> Vec<String> {
    match report.machines.as_slice() {
        [] => way_in(),
        [machine] => of_machine(report, machine, zone),
        several => {
            let room = MOST_LINES - 1;
            let shown = if several.len() > room { room - 1 } else { several.len() };
            let mut lines: Vec<String> = several
                .iter()
                .take(shown)
                .map(|machine| fit(&format!("{} {}", machine.machine.0, in_a_line(report, machine))))
                .collect();
            if shown < several.len() {
                lines.push(format!("{} more: needlehours machine list", several.len() - shown));
            }
            let caution = match several.iter().filter(|machine| machine.is_on_air).count() {
                0 => CAUTION,
                on_air if on_air == several.len() => CAUTION_ON_AIR,
                _ => CAUTION_MIXED,
            };
            let which = if is_number_typed(several) {
                "Which? Its number, then Enter."
            } else {
                "Which machine? Its number."
            };
            lines.push(format!("{caution} {which}"));
            lines
        }
    }
}

/// All of one machine, in at most [`MOST_LINES`] lines.
#[must_use]
pub fn of_machine(report: &TodayReport, machine: &MachineToday, zone: &TimeZone) -> Vec<String> {
    let care = &machine.care;
    let mut lines: Vec<String> = machine.timer.iter().map(|timer| timed(timer, zone)).collect();
    lines.push(worked(report, machine));
    lines.extend(machine.tears.first().map(|tear| {
        let rug = tear.rug.as_deref().map_or_else(String::new, |rug| format!(", {}", short(rug)));
        let day = day_name(tear.when.earliest().and_then(|at| local_day(at, zone)), report.today);
        format!("Tear {day}{rug}: unplug before you mend. How was the cloth?")
    }));
    lines.extend(
        care.presses.first().map(|press| {
            format!("The care button was held {}. What was done?", moment(press.press.when, zone))
        }),
    );
    lines.extend(end_of_day(machine));
    lines.extend(
        care.often_left_out
            .first()
            .map(|task| format!("{task} was left out for five working days. Ask for it by hours instead?")),
    );
    lines.extend(care.due.first().map(|task| {
        let more = care.due.len() - 1;
        let more = if more == 0 { String::new() } else { format!(" {more} more: ?") };
        format!("Due: {}, {}.{more}", task.task, so_far(task))
    }));
    let rest = [next(machine), Some(rug(machine))];
    let room = (MOST_LINES - 1).saturating_sub(lines.len());
    let rest: Vec<String> = rest.into_iter().flatten().collect();
    lines.extend(rest.into_iter().rev().take(room).rev());
    lines.truncate(MOST_LINES - 1);
    let mut lines: Vec<String> = lines.iter().map(|line| fit(line)).collect();
    lines.push(last_line(machine));
    lines
}

/// "Timed since Mon 30 Nov 2026 18:05 on Fox."
#[must_use]
pub fn timed(timer: &TimerReport, zone: &TimeZone) -> String {
    let rug = timer.begun.rug.as_ref().map_or_else(String::new, |rug| format!(" on {}", short(&rug.0)));
    format!("Timed since {}{rug}. Is it over?", clock(timer.begun.at, zone))
}

/// What was worked, with the question of the newest day that is open.
#[must_use]
pub fn worked(report: &TodayReport, machine: &MachineToday) -> String {
    let Some(day) = machine.to_answer.first() else {
        let Some(last) = machine.last_worked.first() else { return "Nothing was worked yet.".to_owned() };
        let rugs: Vec<String> = machine.last_worked.iter().map(of_rug).collect();
        return format!("{}: {}.", day_name(last.day, report.today), all_of(&rugs));
    };
    let sessions = count_of(&day.sessions, "session", "sessions");
    let question = if day.rug.is_some() { "Right?" } else { "Whose is it?" };
    let more = machine.to_answer.len() - 1;
    let more = if more == 0 { String::new() } else { format!(" {more} more: ?") };
    format!("{}: {}, {sessions}. {question}{more}", day_name(day.day, report.today), of_rug(day))
}

/// "1 h 48 min on Fox"; of what was typed in the time at the frame.
#[must_use]
pub fn of_rug(day: &DayWorked) -> String {
    let time = if day.frame_time_ms > 0 && day.is_typed_in {
        format!("{} at the frame", run_time(day.frame_time_ms))
    } else {
        run_time(day.run_time_ms)
    };
    match &day.rug {
        Some(rug) => format!("{time} on {}", short(rug)),
        None => format!("{time}, no rug yet"),
    }
}

/// "Today", "Yesterday", "Fri 27 Nov", with the year where it is another.
#[must_use]
pub fn day_name(day: Option<Date>, today: Option<Date>) -> String {
    let (Some(day), Some(today)) = (day, today) else { return "On a day that is not certain".to_owned() };
    match day.until(today).map(|span| span.get_days()) {
        Ok(0) => "Today".to_owned(),
        Ok(1) => "Yesterday".to_owned(),
        _ if day.year() == today.year() => day.strftime("%a %-d %b").to_string(),
        _ => day.strftime("%a %-d %b %Y").to_string(),
    }
}

/// "End of day: brush-out and screws." while it is asked for.
#[must_use]
pub fn end_of_day(machine: &MachineToday) -> Option<String> {
    let tasks = &machine.care.end_of_day;
    let days = tasks.iter().map(|task| task.days_worked_since).max()?;
    let names: Vec<String> = tasks.iter().map(|task| task.task.clone()).collect();
    let last = if days > 1 { format!(" (last noted {days} working days ago)") } else { String::new() };
    Some(format!("End of day: {}{last}.", all_of(&names)))
}

/// "Next: oiling, about 6 Jun."
#[must_use]
pub fn next(machine: &MachineToday) -> Option<String> {
    let task = machine.care.next.as_ref()?;
    let when = when(&task.forecast).or_else(|| {
        let left = task.remaining_run_time_ms.and_then(|left| u64::try_from(left).ok())?;
        Some(format!("after {} more of running", run_time(left)))
    })?;
    Some(format!("Next: {}, {when}.", task.task))
}

/// "On the frame: Fox, about 62 % done."
#[must_use]
pub fn rug(machine: &MachineToday) -> String {
    match machine.rugs.as_slice() {
        [] => "No rug is on the frame: needlehours rug start NAME".to_owned(),
        [one] => format!("On the frame: {}.", in_short(one)),
        several => {
            let names: Vec<String> = several.iter().map(|rug| rug.rug.clone()).collect();
            format!("On the frame: {}.", all_of(&names))
        }
    }
}

/// The caution and the keys; their letters alone where the words have no room.
#[must_use]
pub fn last_line(machine: &MachineToday) -> String {
    let keys = keys(machine);
    if keys.is_empty() {
        return machine.caution.to_owned();
    }
    let caution = if machine.is_on_air { CAUTION_ON_AIR } else { CAUTION };
    // What did not fit names its key itself.
    let with_words: Vec<String> = keys
        .iter()
        .filter(|key| **key != Key::More)
        .map(|key| {
            let (letter, word) = key.letter_and_word();
            format!("{letter} {word}")
        })
        .collect();
    let line = format!("{caution} {}", with_words.join("  "));
    if line.chars().count() <= MOST_COLUMNS {
        return line;
    }
    let letters: Vec<String> = keys.iter().map(|key| key.letter_and_word().0.to_string()).collect();
    format!("{caution} Keys: {} (k tells)", letters.join(" "))
}

/// The lines that are not as they were before a key, with the keys that are left.
#[must_use]
pub fn changed(before: &[String], after: &[String]) -> String {
    let keys = after.len().saturating_sub(1);
    let is_told = |(place, line): &(usize, &String)| *place == keys || !before.contains(line);
    after.iter().enumerate().filter(is_told).map(|(_, line)| format!("{line}\n")).collect()
}

/// What every key does, a line each.
#[must_use]
pub fn keys_in_words(machine: &MachineToday) -> String {
    let lines = keys(machine).into_iter().map(|key| {
        let (letter, _) = key.letter_and_word();
        format!("  {letter}  {}\n", key.meaning())
    });
    lines.collect()
}

impl Key {
    const fn meaning(self) -> &'static str {
        match self {
            Self::End => "end: of the session that is being timed",
            Self::Right => "right: the day's work is counted to that rug",
            Self::OtherRug => "other rug: it asks which one",
            Self::AllRight => "all right: every day that waits for a yes",
            Self::Tear => "tear: how the cloth felt",
            Self::Press => "care: what was done when the button was held",
            Self::EndOfDay => "done: end-of-day care",
            Self::ByHours => "by hours: asked for after hours of running, no more each evening",
            Self::Steps => "steps: of the care that is due, one by one; then it is noted",
            Self::Later => "later: it is put off until tomorrow",
            Self::More => "more: what did not fit",
        }
    }
}

fn in_a_line(report: &TodayReport, machine: &MachineToday) -> String {
    let care = &machine.care;
    let open = machine.to_answer.first().map(|day| {
        let question = if day.rug.is_some() { "right?" } else { "whose?" };
        format!("{} {}, {question}", day_name(day.day, report.today), of_rug(day))
    });
    let names = |tasks: &[TaskReport]| -> Option<String> {
        let names: Vec<String> = tasks.iter().map(|task| task.task.clone()).collect();
        (!names.is_empty()).then(|| names.join(", "))
    };
    let parts = [
        open,
        (!machine.tears.is_empty()).then(|| count_of(&machine.tears, "tear", "tears")),
        names(&care.due).map(|due| format!("due: {due}")),
        names(&care.end_of_day).map(|evening| format!("end of day: {evening}")),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    let said = if parts.is_empty() { "nothing to do".to_owned() } else { parts.join("; ") };
    format!("{}: {said}", machine.machine_name)
}

/// What did not fit: every open day and tear; the care stands in `due`.
#[must_use]
pub fn more(report: &TodayReport, machine: &MachineToday, zone: &TimeZone) -> String {
    let left_out = machine.to_answer.len().saturating_sub(MOST_DAYS);
    let rest =
        (left_out > 0).then(|| format!("  and {left_out} more days: needlehours rug sessions --assumed\n"));
    let days = machine.to_answer.iter().take(MOST_DAYS).map(|day| {
        let sessions = count_of(&day.sessions, "session", "sessions");
        format!("  {}: {}, {sessions}\n", day_name(day.day, report.today), of_rug(day))
    });
    let tears = machine.tears.iter().map(|tear| format!("  tear {} {}\n", tear.id, moment(tear.when, zone)));
    let due = machine.care.due.iter().map(|task| format!("  {}: {}\n", task.task, so_far(task)));
    days.chain(rest).chain(tears).chain(due).collect()
}

/// On an empty database, where nobody can be asked.
fn way_in() -> Vec<String> {
    [
        "No machine is known yet. At a terminal, needlehours alone asks what it needs.",
        "Your machine:        needlehours machine add NAME [--without-logger]",
        "What is on the frame: needlehours rug new NAME --size 80x120cm; rug start NAME",
        "Without a board:     needlehours worked 1h40",
        "With a board:        needlehours pull",
        "To look around first: needlehours demo",
    ]
    .map(str::to_owned)
    .to_vec()
}

/// Cut to one line.
fn fit(line: &str) -> String {
    cut(line, MOST_COLUMNS)
}

/// A name that leaves room for the question after it.
fn short(name: &str) -> String {
    cut(name, MOST_OF_A_NAME)
}

/// How many things were noted, in one line after a key.
#[must_use]
pub fn settled(days: usize, rug: Option<&str>) -> String {
    let days = count(u64::try_from(days).unwrap_or(u64::MAX), "day", "days");
    rug.map_or_else(|| format!("{days} noted as right."), |rug| format!("{days} counted to {rug}."))
}

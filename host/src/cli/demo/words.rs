//! What the demo says.

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::WithoutBoard;
use crate::demo::folder::DemoFolder;
use crate::demo::run::{DemoReport, StudioReport, WrongRug};
use crate::view;
use crate::view::words;
use host_core::care::schedule::DueState;

/// The program's own answers, already in words.
#[derive(Clone, Debug)]
pub struct Answers {
    /// Of `hours`.
    pub hours: String,
    /// Of `due`.
    pub due: String,
    /// Of `speed`.
    pub speed: String,
    /// On the maker without a board.
    pub without_board: String,
}

/// The whole demo.
#[must_use]
pub fn text(report: &DemoReport, answers: &Answers, folder: &DemoFolder) -> String {
    let Answers { hours, due, speed, without_board } = answers;
    format!(
        "A made-up studio, three months, seed {seed}. The logger was read {pulls} times and gave {records} records.\n\n\
         HOURS\n{hours}\n\n\
         CARE\n{due}\n\n\
         CLOTH\n{speed}\n\n\
         WAS IT TRUE?\n{truth}\n{wrong}{without}\n\n\
         WITHOUT A BOARD\n{without_board}\n\n\
         TO LOOK AT\n{papers}\n\n\
         Try next: needlehours --db {database} hours",
        seed = report.seed,
        pulls = report.with_clock.pulls,
        records = words::thousands(report.with_clock.records),
        hours = hours.trim_end(),
        due = due.trim_end(),
        speed = speed.trim_end(),
        truth = truth(&report.with_clock),
        wrong = report.wrong_rug.as_ref().map(wrong_rug).unwrap_or_default(),
        without = without_clock(&report.without_clock),
        papers = papers(folder),
        database = folder.database.display(),
    )
}

/// The maker without a board, in one paragraph.
pub(super) fn without_board(her: &WithoutBoard, folder: &DemoFolder) -> String {
    let named = |is_meant: fn(DueState) -> bool| {
        let names = her.care.iter().filter(|task| is_meant(task.state)).map(|task| task.task.clone());
        let names: Vec<String> = names.collect();
        if names.is_empty() { "nothing".to_owned() } else { words::all_of(&names) }
    };
    format!(
        "Another made-up maker has no board, and types in what her notebook says: {} on {} and one on the frame, {} at \
         the frame, of which the motor ran about {}. Her next rug: {} Care that is due: {}; soon: {}.\n\
         Go on with hers: needlehours --db {} hours",
        words::count(her.entered.sessions, "session", "sessions"),
        words::count(her.played.rugs_finished, "finished rug", "finished rugs"),
        words::run_time(her.entered.frame_time_ms),
        words::run_time(her.entered.run_time_ms),
        view::rugs::quote::phone(&her.next_rug),
        named(|state| matches!(state, DueState::Due | DueState::Overdue)),
        named(|state| state == DueState::Soon),
        folder.without_board.display(),
    )
}

fn papers(folder: &DemoFolder) -> String {
    let lines = folder.papers().map(|paper| format!("{}: {}", folder.paper(paper).display(), paper.shows()));
    lines.collect::<Vec<_>>().join("\n")
}

fn truth(studio: &StudioReport) -> String {
    let StudioReport { truth, .. } = studio;
    format!(
        "The simulated needle ran {} and made {} strokes; the records hold {} and {} strokes.\n\
         The plug was pulled {} while the needle ran, which cost {} in all (ten seconds each at most).\n\
         The maker had {} and {}; the log tells of {} and {}.",
        exact(truth.run_time_ms),
        words::thousands(truth.strokes),
        exact(studio.run_time_ms),
        words::thousands(studio.strokes),
        words::count(studio.cuts_mid_burst, "time", "times"),
        exact(studio.lost_in_cuts_ms.unsigned_abs()),
        words::count(truth.tears, "tear", "tears"),
        words::count(truth.near_misses, "near-miss", "near-misses"),
        words::count(studio.tears, "tear", "tears"),
        words::count(studio.near_misses, "near-miss", "near-misses"),
    )
}

fn wrong_rug(wrong: &WrongRug) -> String {
    let day = words::clock(UtcMillis(wrong.began_utc_ms), &TimeZone::UTC);
    let session = wrong.session.as_deref().unwrap_or("NUMBER");
    format!(
        "What no logger can know: on {day} {} was on the frame, and the maker's notes say {}. The program counts it to {} \
         until the maker puts it right: needlehours rug assign \"{}\" --session {session}\n",
        wrong.on_frame, wrong.in_notes, wrong.in_notes, wrong.on_frame
    )
}

fn without_clock(studio: &StudioReport) -> String {
    format!(
        "The same three months on a logger without a clock chip: {} recorded, just as much; only the days are less certain.",
        exact(studio.run_time_ms)
    )
}

/// To the second: "24 h 3 min 12 s".
fn exact(ms: u64) -> String {
    let seconds = ms.saturating_add(500) / 1_000;
    match (seconds - seconds % 60, seconds % 60) {
        (0, _) => words::run_time(ms),
        (minutes, 0) => words::run_time(minutes * 1_000),
        (minutes, seconds) => format!("{} {seconds} s", words::run_time(minutes * 1_000)),
    }
}

#[cfg(test)]
mod tests {
    use super::exact;

    #[test]
    fn exact_times_never_round_their_minutes_up_beside_their_seconds() {
        // By hand: 23 * 3,600 + 44 * 60 + 50 = 85,490 s.
        let said = [
            (85_490_000, "23 h 44 min 50 s"),
            (85_489_499, "23 h 44 min 49 s"),
            (85_500_000, "23 h 45 min"),
            (14_000, "14 s"),
            (59_999, "1 min"),
            (0, "0 s"),
        ];
        for (ms, words) in said {
            assert_eq!(exact(ms), words, "{ms}");
        }
    }
}

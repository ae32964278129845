use super::*;
use crate::care::run_pieces::{Place, RunPieces};
use crate::records::log_records::LogKey;
use jiff::civil::date;
use jiff::tz::offset;
use shared_types::{BootId, LogId, LoggerId, RecordSeq, RunMillis, UptimeMillis};

const HOUR: u64 = 3_600_000;

/// A moment on the clock of a maker two hours east of Greenwich.
fn at(year: i16, month: i8, day: i8, hour: i8) -> UtcMillis {
    let zoned = date(year, month, day).at(hour, 0, 0, 0).to_zoned_datetime(zone()).unwrap();
    UtcMillis(zoned.timestamp().as_millisecond())
}

fn zone() -> TimeZone {
    TimeZone::fixed(offset(2))
}

fn ran(earliest: UtcMillis, latest: UtcMillis, run: u64) -> RunPiece {
    let log = LogKey { logger: LoggerId(1), log: LogId(1) };
    let place = Place { log, seq: RecordSeq(1), boot: BootId(1), at: UptimeMillis(0) };
    RunPiece {
        place,
        until: RecordSeq(1),
        earliest: Some(earliest),
        latest: Some(latest),
        run: RunMillis(run),
        edges: run / 100,
        is_recorded: true,
    }
}

fn history(ran_at: &[UtcMillis]) -> History {
    let pieces: Vec<RunPiece> = ran_at.iter().map(|at| ran(*at, *at, HOUR)).collect();
    History { sessions: pieces.clone(), pieces: RunPieces::of(pieces), ..History::default() }
}

#[test]
fn a_week_runs_from_the_makers_monday_to_the_makers_sunday() {
    // 2 March 2026 is a Monday. Half past midnight on Monday by the maker's clock is Sunday evening in Greenwich.
    let history = history(&[at(2026, 3, 2, 0), at(2026, 3, 8, 23), at(2026, 3, 11, 9), at(2026, 3, 17, 9)]);
    let past = past_of(&history, at(2026, 3, 18, 12), &zone());
    assert_eq!(past.weeks.len(), 2);
    let hours = |week: &Week| week.map(|day| day.run_ms / HOUR);
    assert_eq!(hours(&past.weeks[0]), [1, 0, 0, 0, 0, 0, 1]);
    assert_eq!(hours(&past.weeks[1]), [0, 0, 1, 0, 0, 0, 0]);
    assert_eq!(hours(&past.this_week), [0, 1, 0, 0, 0, 0, 0]);
    assert_eq!((past.weekday, past.today_over), (2, 0.5));
    assert_eq!(past.weeks[0][6].sessions, 1);
}

#[test]
fn the_week_in_which_the_first_running_falls_is_whole_only_from_its_monday_on() {
    let since = |first| past_of(&history(&[first]), at(2026, 3, 18, 12), &zone()).weeks.len();
    assert_eq!(since(at(2026, 3, 2, 8)), 2);
    assert_eq!(since(at(2026, 3, 3, 8)), 1);
    assert_eq!(since(at(2026, 3, 8, 8)), 1);
    assert_eq!(since(at(2026, 3, 9, 8)), 1);
    assert_eq!(since(at(2026, 3, 10, 8)), 0);
    assert_eq!(past_of(&History::default(), at(2026, 3, 18, 12), &zone()).weeks.len(), 0);
}

#[test]
fn of_todays_weekday_only_what_ran_later_in_the_day_is_still_to_come() {
    let history = history(&[at(2026, 3, 2, 8), at(2026, 3, 4, 9), at(2026, 3, 4, 15), at(2026, 3, 12, 15)]);
    let past = past_of(&history, at(2026, 3, 18, 12), &zone());
    let rests: Vec<u64> = past.rests.iter().map(|day| day.run_ms / HOUR).collect();
    // In the first week 15:00 on Wednesday; in the second nothing, because the 12th is a Thursday.
    assert_eq!(rests, [1, 0]);
}

#[test]
fn what_has_no_date_is_in_no_week_and_what_has_nearly_one_is_in_its_middle() {
    let mut history = history(&[at(2026, 3, 2, 8)]);
    let third = ran(at(2026, 3, 3, 0), at(2026, 3, 3, 0), 16 * HOUR);
    history.pieces = RunPieces::of(
        [
            &history.pieces[..],
            &[
                ran(at(2026, 3, 10, 0), at(2026, 3, 12, 0), 2 * HOUR),
                ran(at(2026, 3, 3, 0), at(2026, 3, 12, 0), 4 * HOUR),
                RunPiece { earliest: None, run: RunMillis(8 * HOUR), ..third },
                RunPiece { is_recorded: false, ..third },
            ],
        ]
        .concat(),
    );
    history.by_hand.push((at(2026, 3, 5, 20), RunMillis(32 * HOUR)));
    let past = past_of(&history, at(2026, 3, 18, 12), &zone());
    let hours = |week: &Week| week.map(|day| day.run_ms / HOUR);
    assert_eq!(hours(&past.weeks[0]), [1, 0, 0, 32, 0, 0, 0]);
    assert_eq!(hours(&past.weeks[1]), [0, 0, 2, 0, 0, 0, 0]);
}

#[test]
fn a_long_history_loses_its_beginning() {
    let history = history(&[at(2020, 1, 6, 8), at(2026, 3, 9, 8)]);
    let past = past_of(&history, at(2026, 3, 18, 12), &zone());
    assert_eq!(past.weeks.len(), MOST_WEEKS);
    assert_eq!(past.weeks[MOST_WEEKS - 1][0].run_ms, HOUR);
    assert_eq!(past.weeks.iter().flatten().map(|day| day.run_ms).sum::<u64>(), HOUR);
}

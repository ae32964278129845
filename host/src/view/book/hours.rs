//! The hours in the book: three kinds apart, then the parts of what was measured, which add up on paper.

use crate::view::words::sheet::{Block, Section};
use crate::view::words::table::Column::{Numbers, Words};
use crate::view::words::table::{RowKind, Table};
use crate::view::words::{count, days, run_time, thousands};
use host_core::book::hours::{BookHours, BookPart, PartOf};
use host_core::hours::report::HandSum;

/// The chapter.
pub fn chapter(hours: &BookHours, is_without_logger: bool) -> Section {
    let by_hand = |pick: fn(&HandSum) -> u64| hours.by_hand.iter().map(pick).sum::<u64>();
    let mut kinds = Table::new(&[Words("kind"), Numbers("running"), Numbers("strokes"), Words("what it is")]);
    let before = hours.before_logger_run_time_ms.map_or_else(|| "none given".to_owned(), run_time);
    kinds.row(["Before its owner", &before, "", "its owner's estimate"]);
    let [running, strokes] = [run_time(hours.measured.run_time_ms), thousands(hours.measured.strokes)];
    if !is_without_logger {
        kinds.row(["Measured", &running, &strokes, "counted by loggers on it"]);
    }
    let at_the_frame = format!("and {} at the frame", run_time(by_hand(|sum| sum.tufting_time_ms)));
    kinds.row(["Typed in", &run_time(by_hand(|sum| sum.run_time_ms)), "", &at_the_frame]);
    let life = format!("about {}", run_time(hours.life_run_time_ms));
    kinds.row_of(RowKind::Total, ["In its life", &life, "", "as far as it is known"]);
    let mut blocks = vec![
        Block::Note("Kinds of hours, kept apart; together they are the machine's life.".to_owned()),
        Block::Table(kinds),
    ];
    let mut shown = hours.parts();
    shown.retain(|part| part.run_time_ms > 0 || part.edges > 0);
    if !shown.is_empty() {
        blocks.push(Block::Table(parts(hours, &shown)));
        blocks.extend(notes(hours).into_iter().map(Block::Note));
    }
    Section::new("Hours and strokes", blocks)
}

fn parts(hours: &BookHours, shown: &[BookPart<'_>]) -> Table {
    let mut table = Table::new(&[
        Words("Measured for"),
        Numbers("running"),
        Numbers("h:min:s"),
        Numbers("strokes"),
        Words("when"),
    ]);
    for part in shown {
        let (name, when) = match part.of {
            PartOf::Rug(rug) => (rug.rug.as_str(), days(rug.first_day, rug.last_day)),
            PartOf::Care => ("care", "dry and test runs".to_owned()),
            PartOf::WhileLent => ("no rug yet: lent out", "while it was away".to_owned()),
            PartOf::Unassigned => ("no rug yet", "no rug was on the frame, or more than one".to_owned()),
            PartOf::Undated => ("date not known", "no rug yet".to_owned()),
            PartOf::Doubtful => ("doubtful", "no machine at work runs so; no rug yet".to_owned()),
            PartOf::NotRecorded => ("not recorded", "counted, but without a record".to_owned()),
        };
        let [about, exactly] = [run_time(part.run_time_ms), exact(part.run_time_ms)];
        table.row([name, &about, &exactly, &thousands(part.strokes), &when]);
    }
    let all = hours.measured;
    let [about, exactly] = [run_time(all.run_time_ms), exact(all.run_time_ms)];
    table.row_of(RowKind::Total, ["all together", &about, &exactly, &thousands(all.strokes), "as measured"]);
    table
}

fn notes(hours: &BookHours) -> Vec<String> {
    let strokes: u64 = hours.parts().iter().map(|part| part.strokes).sum();
    let begun = hours.measured.strokes.saturating_sub(strokes);
    let mut exact = "The third column is exact, to the thousandth of a second, and adds up; the second is rounded to the nearest minute."
        .to_owned();
    if begun > 0 {
        exact.push_str(&format!(
            " A stroke takes several passes of a magnet here, and each line counts whole strokes only: together they are {} \
             short of the sum.",
            count(begun, "stroke", "strokes")
        ));
    }
    let mut notes = vec![exact];
    let doubtful = hours.doubtful;
    if doubtful.set_aside.run_time_ms > 0 {
        let said = run_time(doubtful.set_aside.run_time_ms);
        notes.push(format!(
            "Of the doubtful running, {said} were said to be no work; the rest was not answered yet."
        ));
    }
    if doubtful.questioned.run_time_ms > 0 {
        let said = run_time(doubtful.questioned.run_time_ms);
        notes.push(format!(
            "{said} of what is counted above are doubtful too; they had been given away, confirmed or delivered before."
        ));
    }
    if hours.lent_run_time_ms > 0 {
        notes.push(format!(
            "{} of it were recorded while the machine was surely lent out, whatever they are counted to.",
            run_time(hours.lent_run_time_ms)
        ));
    }
    notes
}

/// Milliseconds as hours, minutes and seconds to the thousandth: `2:40:17.250`.
pub fn exact(ms: u64) -> String {
    let (hours, minutes, seconds) = (ms / 3_600_000, ms / 60_000 % 60, ms / 1_000 % 60);
    format!("{}:{minutes:02}:{seconds:02}.{:03}", thousands(hours), ms % 1_000)
}

#[cfg(test)]
mod tests {
    use super::exact;

    #[test]
    fn exact_times_lose_no_millisecond() {
        let said = [0, 999, 59_999, 3_600_000, 9_617_250, 7_200_000_001].map(exact);
        assert_eq!(
            said,
            ["0:00:00.000", "0:00:00.999", "0:00:59.999", "1:00:00.000", "2:40:17.250", "2,000:00:00.001"]
        );
    }
}

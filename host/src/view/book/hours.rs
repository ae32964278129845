//! The hours in the book: three kinds apart, then the parts of what was measured, which add up on paper.

use crate::view::words::html::Page;
use crate::view::words::{count, days, run_time, thousands};
use host_core::book::hours::{BookHours, PartOf};
use host_core::hours::report::HandSum;

/// The chapter.
pub fn chapter(page: &mut Page, hours: &BookHours) {
    page.heading(2, "Hours and strokes");
    page.note("Three kinds of hours, kept apart and never added up.");
    let by_hand = |pick: fn(&HandSum) -> u64| hours.by_hand.iter().map(pick).sum::<u64>();
    let before = hours.before_logger_run_time_ms.map_or_else(|| "none given".to_owned(), run_time);
    page.table_start(&["", "#running", "#strokes", "what it is"]);
    page.row(&["Before the logger", &before, "", "its owner's estimate"]);
    let strokes = thousands(hours.measured.strokes);
    page.row(&["Measured", &run_time(hours.measured.run_time_ms), &strokes, "counted by loggers on it"]);
    let at_the_frame = format!("and {} at the frame", run_time(by_hand(|sum| sum.tufting_time_ms)));
    page.row(&["Written by hand", &run_time(by_hand(|sum| sum.run_time_ms)), "", &at_the_frame]);
    page.table_end();
    parts(page, hours);
}

fn parts(page: &mut Page, hours: &BookHours) {
    let parts = hours.parts();
    let shown: Vec<_> = parts.iter().filter(|part| part.run_time_ms > 0 || part.edges > 0).collect();
    if shown.is_empty() {
        return;
    }
    page.table_start(&["Measured for", "#running", "#h:min:s", "#strokes", "when"]);
    for part in &shown {
        let (name, when) = match part.of {
            PartOf::Rug(rug) => (rug.rug.as_str(), days(rug.first_day, rug.last_day)),
            PartOf::Care => ("care", "dry and test runs".to_owned()),
            PartOf::WhileLent => ("nobody: lent out", "while it was away".to_owned()),
            PartOf::Unassigned => ("no rug yet", "not counted to any rug".to_owned()),
            PartOf::Undated => ("date not known", "not counted to any rug".to_owned()),
            PartOf::Doubtful => ("doubtful", "no machine at work runs so; not counted to any rug".to_owned()),
            PartOf::NotRecorded => ("not recorded", "counted, but without a record".to_owned()),
        };
        let [about, exactly] = [run_time(part.run_time_ms), exact(part.run_time_ms)];
        page.row(&[name, &about, &exactly, &thousands(part.strokes), &when]);
    }
    let all = hours.measured;
    let [about, exactly] = [run_time(all.run_time_ms), exact(all.run_time_ms)];
    page.sum_row(&["all together", &about, &exactly, &thousands(all.strokes), "as measured"]);
    page.table_end();
    let strokes: u64 = parts.iter().map(|part| part.strokes).sum();
    let begun = all.strokes.saturating_sub(strokes);
    let mut note = "The third column is exact, to the thousandth of a second, and adds up; the second is rounded to the nearest minute."
        .to_owned();
    if begun > 0 {
        note.push_str(&format!(
            " A stroke takes several passes of a magnet here, and each line counts whole strokes only: together they are {} \
             short of the sum.",
            count(begun, "stroke", "strokes")
        ));
    }
    page.note(&note);
    let doubtful = hours.doubtful;
    if doubtful.set_aside.run_time_ms > 0 {
        let said = run_time(doubtful.set_aside.run_time_ms);
        page.note(&format!(
            "Of the doubtful running, {said} were said to be no work; the rest was not answered yet."
        ));
    }
    if doubtful.questioned.run_time_ms > 0 {
        let said = run_time(doubtful.questioned.run_time_ms);
        page.note(&format!(
            "{said} of what is counted above are doubtful too; they had been given away, confirmed or delivered before."
        ));
    }
    if hours.lent_run_time_ms > 0 {
        page.note(&format!(
            "{} of it were recorded while the machine was surely lent out, whatever they are counted to.",
            run_time(hours.lent_run_time_ms)
        ));
    }
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

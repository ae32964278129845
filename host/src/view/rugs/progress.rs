//! `rug progress` and `rug yarn` on screen.

use super::quote;
use super::rug_book::{grams, of_style};
use crate::app::rugs::sheet::{Along, AlongLine};
use crate::view::words::figures::whole;
use crate::view::words::table::{Column, Table};
use crate::view::words::{about, count, cut, thousands};

use host_core::rugs::progress::{Pace, Progress, ProgressBasis, WhyNot};
use host_core::rugs::yarn::{ColourLine, Lasts, YarnReport};
use host_core::stats::Estimate;

/// Letters of a name that leave room for how far along it is.
const MOST_OF_A_NAME: usize = 20;

/// The whole answer.
#[must_use]
pub fn text(along: &Along) -> String {
    if along.rugs.is_empty() {
        return "No rug is under way. Put one on the frame: needlehours rug start NAME".to_owned();
    }
    along.rugs.iter().map(one).collect::<Vec<_>>().join("\n\n")
}

fn one(line: &AlongLine) -> String {
    let mut parts = vec![sentence(&line.progress)];
    parts.extend(basis(&line.progress));
    if !line.yarn.colours.is_empty() {
        parts.push(yarn(&line.progress.rug, &line.yarn));
    }
    parts.join("\n")
}

/// "Fox: about 62 % done (55 to 70 %), about 2 h left at the frame (1 h 30 min to 3 h)."
#[must_use]
pub fn sentence(progress: &Progress) -> String {
    let rug = &progress.rug;
    let so_far = count(progress.strokes, "stroke", "strokes");
    match progress.why_not {
        None => {}
        Some(WhyNot::Done) => return format!("{rug}: its tufting is done, with {so_far}."),
        Some(WhyNot::NoSize) => {
            return format!(
                "{rug}: {so_far} so far. How far along that is cannot be told without its size: needlehours rug \
                 change \"{rug}\" --size 80x120cm"
            );
        }
        Some(WhyNot::HistoryTooThin) if progress.partly_typed => {
            return format!(
                "{rug}: {} at the frame so far. How far along that is cannot be told yet: it takes {} finished rugs of your \
                 own with a size{}; there {} {}.",
                progress.tufting_hours.map_or_else(|| "some hours".to_owned(), hours),
                progress.own_rugs_needed,
                of_style(progress.style),
                if progress.own_rugs == 1 { "is" } else { "are" },
                progress.own_rugs
            );
        }
        Some(WhyNot::HistoryTooThin) => {
            return format!(
                "{rug}: {so_far} so far. How far along that is cannot be told yet: it takes {} finished rugs of your \
                 own with a size{}; there {} {}.\nUntil then a timed sample square with its strokes does: needlehours \
                 quote sample --size 6x6in --run-minutes MINUTES --strokes NUMBER",
                progress.own_rugs_needed,
                of_style(progress.style),
                if progress.own_rugs == 1 { "is" } else { "are" },
                progress.own_rugs
            );
        }
        Some(WhyNot::BeyondOwnRugs) => {
            return format!(
                "{rug}: {so_far} so far, far more than your finished rugs took for such an area. How far along it is \
                 cannot be told; is its size right?"
            );
        }
    }
    let mut text = format!("{rug}: {} done", spoken(progress.share_done, percent));
    if progress.tufting_hours_left.estimate.is_some() {
        text.push_str(&format!(", {} left at the frame", spoken(progress.tufting_hours_left, hours)));
    } else if progress.run_hours_left.estimate.is_some() {
        text.push_str(&format!(", {} of running left", spoken(progress.run_hours_left, hours)));
    }
    text.push('.');
    text
}

/// "Fox, about 62 % done, about 2 h left at the frame": in one short line; how far it has come where the rest is not known.
#[must_use]
pub fn in_short(progress: &Progress) -> String {
    let rug = cut(&progress.rug, MOST_OF_A_NAME);
    let about = |estimate: Estimate, show: fn(f64) -> String| {
        estimate.estimate.map(|value| format!("about {}", show(value)))
    };
    let left = about(progress.tufting_hours_left, hours).map(|left| format!("{left} left at the frame"));
    let left =
        left.or_else(|| about(progress.run_hours_left, hours).map(|left| format!("{left} of running left")));
    let done = about(progress.share_done, percent).map(|share| format!("{share} done"));
    let known: Vec<String> = [done, left].into_iter().flatten().collect();
    if !known.is_empty() {
        return format!("{rug}, {}", known.join(", "));
    }
    match progress.tufting_hours.filter(|so_far| *so_far > 0.0) {
        Some(so_far) => format!("{rug}, {} at the frame so far", hours(so_far)),
        None if progress.strokes > 0 => {
            format!("{rug}, {} so far", count(progress.strokes, "stroke", "strokes"))
        }
        None => format!("{rug}, not begun"),
    }
}

/// From what it follows.
#[must_use]
pub fn basis(progress: &Progress) -> Option<String> {
    let from = match progress.basis {
        ProgressBasis::None => return None,
        ProgressBasis::OwnRugs => format!(
            "From {} of your own{} and {} so far; about {} more",
            count(progress.own_rugs, "finished rug", "finished rugs"),
            of_style(progress.style),
            count(progress.strokes, "stroke", "strokes"),
            progress.strokes_left.estimate.map_or_else(String::new, about)
        ),
        ProgressBasis::OwnHours => format!(
            "From the hours at the frame of {} of your own{} and {} so far, as some of it was typed in",
            count(progress.own_rugs, "finished rug", "finished rugs"),
            of_style(progress.style),
            progress.tufting_hours.map_or_else(|| "some".to_owned(), hours)
        ),
        ProgressBasis::SampleSquare => format!(
            "From {} and {} so far, so there is no range; about {} more",
            count(progress.sample_squares, "sample square", "sample squares"),
            count(progress.strokes, "stroke", "strokes"),
            progress.strokes_left.estimate.map_or_else(String::new, about)
        ),
    };
    let range = progress.level.map_or_else(String::new, |level| {
        format!(" The range should hold about {:.0} times in 100.", level * 100.0)
    });
    let pace = match progress.pace {
        Pace::ThisRug => " Hours by this rug's own pace.",
        Pace::OwnRugs => " Hours by the pace of your finished rugs.",
        Pace::None => "",
    };
    Some(format!("{from}.{range}{pace}"))
}

fn spoken(estimate: Estimate, show: impl Fn(f64) -> String) -> String {
    match (estimate.estimate, estimate.low, estimate.high) {
        (Some(middle), Some(low), Some(high)) => {
            let (low, high) = (show(low), show(high));
            if low == high {
                format!("about {low}")
            } else {
                format!("about {} ({low} to {high})", show(middle))
            }
        }
        (Some(only), ..) => format!("about {}", show(only)),
        _ => "not known".to_owned(),
    }
}

/// Never a hundred: as long as it is on the frame something is left.
fn percent(share: f64) -> String {
    format!("{:.0} %", (share * 100.0).floor().min(99.0))
}

/// Hours to five minutes, below an hour to the minute.
fn hours(hours: f64) -> String {
    quote::time(hours)
}

/// How the ranges come about.
pub const EXPLAINED: &str = "How the ranges come about: strokes per area are taken as log-normal from rug to rug, and the rug on \
     the frame takes more than it has had, so the prediction of a next rug is cut off there. Hours follow from the strokes that are \
     left and one pace. host/core/STATISTICS/rugs.md tells more, and how often such ranges held for made-up makers.";

/// The yarn of a commission.
#[must_use]
pub fn yarn(rug: &str, yarn: &YarnReport) -> String {
    if yarn.colours.is_empty() {
        return format!(
            "No yarn of {rug} has been weighed yet. When it is taken: needlehours rug yarn \"{rug}\" COLOUR --out 500g; \
             later --left or --back."
        );
    }
    let mut table = Table::new(&[
        Column::Words("yarn"),
        Column::Numbers("taken"),
        Column::Numbers("back"),
        Column::Numbers("used"),
        Column::Numbers("g per 1,000 strokes"),
        Column::Numbers("left by now"),
        Column::Words("will it do?"),
    ]);
    for line in &yarn.colours {
        let left = line.left_now_g.map(|left| format!("{:.0}", left.max(0.0)));
        let left =
            left.and_then(|left| left.parse::<u64>().ok()).map(|left| format!("{} g", thousands(left)));
        table.row(weighed(line).into_iter().chain([left.unwrap_or_default(), lasts(line)]));
    }
    let mut parts = vec![table.text()];
    if let Some(first) = &yarn.runs_out_first {
        parts.push(format!("{first} runs out first, if the design goes on as it has so far."));
    }
    if yarn.some_by_hand && yarn.colours.iter().any(|line| line.grams_per_1000_strokes.is_some()) {
        parts.push(
            "Strokes are the logged ones alone. Some running was typed in, without strokes, so the grams per 1,000 \
             strokes are too high, and each colour lasts longer than it says here; which one runs out first holds if \
             all colours had their share of that running."
                .to_owned(),
        );
    }
    if let Some(needed) = yarn.needed_g.estimate {
        parts.push(format!(
            "What is left takes about {} g of yarn, all colours together, by {} of which you weighed all yarn.",
            about(needed),
            count(yarn.own_rugs_weighed, "finished rug", "finished rugs")
        ));
    }
    parts.join("\n")
}

/// A colour and what was weighed of it: taken, brought back, used, grams per 1,000 strokes.
pub(super) fn weighed(line: &ColourLine) -> [String; 5] {
    [
        line.weighed.colour.clone(),
        grams(line.weighed.out_mg),
        grams(line.weighed.back_mg),
        line.used_mg.map_or_else(String::new, grams),
        line.grams_per_1000_strokes.map_or_else(String::new, |grams| format!("{grams:.1}")),
    ]
}

fn lasts(line: &ColourLine) -> String {
    let strokes = || {
        line.strokes_until_out.map_or_else(String::new, |strokes| {
            let rounded = if strokes >= 100.0 { about(strokes) } else { whole(strokes) };
            format!(", about {rounded} strokes more")
        })
    };
    match line.lasts {
        Lasts::Enough => "yes".to_owned(),
        Lasts::Tight => format!("tight{}", strokes()),
        Lasts::Short => format!("no{}", strokes()),
        Lasts::CannotTell if line.strokes_until_out.is_some() => format!("cannot tell{}", strokes()),
        Lasts::CannotTell => "cannot tell".to_owned(),
    }
}

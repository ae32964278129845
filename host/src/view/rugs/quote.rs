//! `quote` on screen: one line for the phone, then the sheet.

use crate::app::rugs::quote::QuoteAnswer;
use crate::view::money::{money, sample_sentence};
use crate::view::words::table::{Column, Table};
use crate::view::words::{self, about, count, run_time, size};
use host_core::entries::{SampleSquare, Style};
use host_core::rugs::quote::{Basis, Quote};
use host_core::stats::{Estimate, Level, MINUTE_MS};

/// The whole answer.
#[must_use]
pub fn text(answer: &QuoteAnswer) -> String {
    let quote = &answer.quote;
    if quote.basis == Basis::None {
        return format!("{}{}", cannot_tell(quote), left_out(answer));
    }
    let mut sheet = Table::new(&[
        Column::Words("it will take"),
        Column::Numbers("about"),
        Column::Numbers("from"),
        Column::Numbers("to"),
    ]);
    for row in rows(quote) {
        sheet.row(row);
    }
    format!("{}\n\n{}\n{}{}", phone(answer), sheet.text(), basis(answer), left_out(answer))
}

/// What it will take: in words, about, from, to.
pub(super) fn rows(quote: &Quote) -> Vec<[String; 4]> {
    let hours: fn(f64) -> String = |hours| time(hours);
    let strokes: fn(f64) -> String = |strokes| about(strokes);
    let all = [
        ("machine hours", quote.run_hours, hours),
        ("hours at the frame", quote.tufting_hours, hours),
        ("strokes", quote.strokes, strokes),
        ("cost of these hours", quote.cost, money as fn(f64) -> String),
    ];
    let known = all.into_iter().filter(|(_, estimate, _)| estimate.estimate.is_some());
    known
        .map(|(what, estimate, show)| {
            let cell = |value: Option<f64>| value.map_or_else(String::new, show);
            [what.to_owned(), cell(estimate.estimate), cell(estimate.low), cell(estimate.high)]
        })
        .collect()
}

/// One line that can be read out on the phone.
pub(super) fn phone(answer: &QuoteAnswer) -> String {
    let quote = &answer.quote;
    let style = match quote.style {
        None => "",
        Some(Style::Cut) => " in cut pile",
        Some(Style::Loop) => " in loop pile",
        Some(Style::Both) => " in cut and loop pile",
    };
    let (hours, what) = if quote.tufting_hours.estimate.is_some() {
        (quote.tufting_hours, "at the frame")
    } else {
        (quote.run_hours, "of running, threading and looking not counted")
    };
    let mut line =
        format!("{}{style}: {} {what}", size(quote.width_mm, quote.height_mm), spoken(hours, time));
    // A handful of coins for machine hours alone would be heard as the price of the rug.
    if quote.cost.estimate.is_some() && quote.tufting_hour_wage.is_some() {
        let currency = answer.currency.as_deref().map_or_else(String::new, |name| format!(" {name}"));
        line.push_str(&format!(", {}{currency} for these hours", spoken(quote.cost, money)));
    }
    line.push('.');
    line
}

fn spoken(estimate: Estimate, show: impl Fn(f64) -> String) -> String {
    match (estimate.estimate, estimate.low, estimate.high) {
        (_, Some(low), Some(high)) => format!("most likely {} to {}", show(low), show(high)),
        (Some(only), ..) => format!("about {}", show(only)),
        _ => "not known".to_owned(),
    }
}

/// Hours to five minutes, below an hour to the minute.
#[must_use]
pub fn time(hours: f64) -> String {
    let minutes = hours * 60.0;
    let rounded = if minutes < 60.0 { minutes.ceil() } else { (minutes / 5.0).round() * 5.0 };
    let whole = format!("{rounded:.0}");
    whole.parse::<u64>().map_or(whole, |minutes| run_time(minutes * MINUTE_MS))
}

/// From what it follows, and what is to be kept in mind.
pub(super) fn basis(answer: &QuoteAnswer) -> String {
    let quote = &answer.quote;
    let mut lines = Vec::new();
    match quote.basis {
        Basis::OwnRugs => {
            lines.push(format!(
                "From {} of your own. The next one should lie within the range about {} times in 100.",
                count(quote.own_rugs, "finished rug", "finished rugs"),
                quote.level.map_or_else(String::new, |level| format!("{:.0}", level * 100.0))
            ));
            if let Some(check) = quote.checked_on_own_rugs {
                lines.push(format!(
                    "Tried on your own: each foretold from the others, {} of {} lay within their range.",
                    check.held, check.of
                ));
            }
            if quote.is_outside_own_sizes {
                lines.push("Careful: none of your rugs is near this size, so the range may be too narrow.".to_owned());
            }
        }
        Basis::SampleSquare | Basis::None => lines.push(format!(
            "From {}, so there is no range: a whole rug has turns, details and mending that a square has not. A range \
             takes {} finished rugs of your own; there {} {}.",
            count(quote.sample_squares, "sample square", "sample squares"),
            quote.own_rugs_needed,
            if quote.own_rugs == 1 { "is" } else { "are" },
            quote.own_rugs
        )),
    }
    if let Some(colours) = quote.colours {
        lines.push(format!(
            "{}: every change stops the machine. Rugs are not told apart by their colours here; many colours lie nearer the upper end.",
            count(u64::from(colours), "colour", "colours")
        ));
    }
    lines.push(match (quote.machine_hour_rate, quote.tufting_hour_wage) {
        (None, None) if answer.is_machine_open => {
            "No price of an hour is known: say with --machine which one will run, and keep prices with `needlehours rate \
             set` and `needlehours rate wage`."
                .to_owned()
        }
        (None, Some(_)) if answer.is_machine_open => {
            "The cost holds hours at the frame only: there are several machines, and --machine says which one will run."
                .to_owned()
        }
        (None, None) => {
            "No price of an hour is known: keep one with `needlehours rate set`, or add --wage.".to_owned()
        }
        (Some(_), Some(_)) => {
            let currency = words::currency(answer.currency.as_deref());
            format!("The cost holds machine hours and hours at the frame, in {currency}.")
        }
        (Some(_), None) => {
            "The cost holds machine hours only; add --wage for the hours at the frame.".to_owned()
        }
        (None, Some(_)) => {
            "The cost holds hours at the frame only; keep a machine's costs with `needlehours rate set`."
                .to_owned()
        }
    });
    lines.join("\n")
}

/// What could not be used, and what the cost does not hold.
pub(super) fn left_out(answer: &QuoteAnswer) -> String {
    let mut text = String::new();
    if answer.own_rugs_left_out > 0 {
        text.push_str(&format!(
            "\n{} could not be used: without a size, without recorded running, or with running written by hand.",
            count(answer.own_rugs_left_out, "finished rug", "finished rugs")
        ));
    }
    if answer.quote.cost.estimate.is_some() {
        text.push_str(&format!("\nNot in it: {}.", answer.cost_leaves_out));
    }
    text
}

fn cannot_tell(quote: &Quote) -> String {
    let of_style = match quote.style {
        None => "",
        Some(Style::Cut) => " in cut pile",
        Some(Style::Loop) => " in loop pile",
        Some(Style::Both) => " in cut and loop pile",
    };
    format!(
        "Cannot tell yet. It takes {} finished rugs of your own with a size{of_style}; there {} {}.\n\
         Until then a timed sample square does: tuft 6 x 6 inches, then\n  \
         needlehours quote sample --size 6x6in --run-minutes MINUTES --strokes NUMBER",
        quote.own_rugs_needed,
        if quote.own_rugs == 1 { "is" } else { "are" },
        quote.own_rugs
    )
}

/// How the range comes about.
#[must_use]
pub fn explained(level: Level) -> String {
    format!(
        "How the range comes about: hours and strokes per area are taken as log-normal from rug to rug. With m and s the \
         mean and standard deviation of the logarithms of n own rugs, the range is area * exp(m -+ t * s * sqrt(1 + 1/n)), t \
         of Student with n - 1 degrees of freedom, at level {:.2}. host/core/STATISTICS/rugs.md tells more, \
         and how often such ranges held for made-up makers.",
        level.share()
    )
}

/// A sample square was entered.
#[must_use]
pub fn sample(sample: &SampleSquare) -> String {
    format!("Kept: {}. Quotes use it until there are enough finished rugs.", sample_sentence(sample))
}

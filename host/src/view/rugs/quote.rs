//! The words of a quote.

use super::rug_book::of_style;
use crate::app::rugs::quote::QuoteAnswer;
use crate::view::money::{money, sample_sentence};
use crate::view::words::{self, count, run_time, size};
use host_core::entries::SampleSquare;
use host_core::rugs::quote::Basis;
use host_core::stats::{Estimate, Level, MINUTE_MS};

/// One line that can be read out on the phone.
#[must_use]
pub fn phone(answer: &QuoteAnswer) -> String {
    let quote = &answer.quote;
    let style = of_style(quote.style);
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
    if let Some(level) = quote.level.filter(|_| hours.low.is_some()) {
        line.push_str(&format!(", {}", words::times_in_100(level)));
    }
    line.push('.');
    line
}

/// A range, else the number alone.
fn spoken(estimate: Estimate, show: impl Fn(f64) -> String) -> String {
    match (estimate.estimate, estimate.low, estimate.high) {
        (_, Some(low), Some(high)) => format!("{} to {}", show(low), show(high)),
        (Some(only), ..) => format!("about {}", show(only)),
        _ => "not known".to_owned(),
    }
}

/// Hours to five minutes, below an hour to the minute.
#[must_use]
pub fn time(hours: f64) -> String {
    let minutes = hours * 60.0;
    // Whole minutes stay so, whatever the last digit of their hours.
    let rounded = if minutes < 60.0 { (minutes - 1e-6).ceil() } else { (minutes / 5.0).round() * 5.0 };
    let whole = format!("{rounded:.0}");
    whole.parse::<u64>().map_or(whole, |minutes| run_time(minutes * MINUTE_MS))
}

/// From what it follows, what is to be kept in mind, and what it leaves out.
pub(super) fn notes(answer: &QuoteAnswer) -> Vec<String> {
    [basis(answer), left_out(answer)].concat()
}

fn basis(answer: &QuoteAnswer) -> Vec<String> {
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
    lines
}

/// What could not be used, and what the cost does not hold.
fn left_out(answer: &QuoteAnswer) -> Vec<String> {
    let mut lines = Vec::new();
    if answer.own_rugs_left_out > 0 {
        lines.push(format!(
            "{} could not be used: without a size, or without running.",
            count(answer.own_rugs_left_out, "finished rug", "finished rugs")
        ));
    }
    if answer.quote.cost.estimate.is_some() {
        lines.push(format!("Not in it: {}.", answer.cost_leaves_out));
    }
    lines
}

/// What it takes until there is a quote.
#[must_use]
pub fn cannot_tell(answer: &QuoteAnswer) -> String {
    let quote = &answer.quote;
    let of_style = of_style(quote.style);
    let takes = format!(
        "Cannot tell yet. It takes {} finished rugs of your own with a size{of_style}; there {} {}.\n\
         Until then a timed sample square does: tuft 6 x 6 inches, then\n  \
         needlehours quote sample --size 6x6in --run-minutes MINUTES --strokes NUMBER",
        quote.own_rugs_needed,
        if quote.own_rugs == 1 { "is" } else { "are" },
        quote.own_rugs
    );
    [vec![takes], left_out(answer)].concat().join("\n")
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

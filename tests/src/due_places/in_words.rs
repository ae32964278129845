//! What was learned, for a person and for `place_weights.rs`.

use super::Side;
use super::cells::{Cell, Makers};
use super::loss::missed;
use crate::due_dates::{self, HOURS_LEFT, weeks_of};
use host_core::care::forecast;

/// The signs, in the order of `Signs::all`.
const SIGNS: [&str; forecast::SIGNS] =
    ["history", "noise", "month_off", "month", "swing", "trend", "trend_off", "idle", "change"];

/// The share of misses in each cell, early and late, in per cent.
#[must_use]
pub fn table(cells: &[Cell], early: &[f64], late: &[f64]) -> String {
    let mut text = format!("{:<28}{:>6}", "makers", "weeks");
    for hours in HOURS_LEFT {
        text.push_str(&format!(" | {:<13}", format!("{hours} h left")));
    }
    let mut outside = 0;
    let mut line = None;
    for cell in cells {
        let (name, history) = named(cell.makers);
        if line.as_ref() != Some(&(name.clone(), history)) {
            text.push_str(&format!("\n{name:<28}{:>6}", weeks_of(history)));
            line = Some((name, history));
        }
        let shares = [missed(cell, Side::Early, early), missed(cell, Side::Late, late)];
        let is_kept = shares.into_iter().all(due_dates::is_kept);
        outside += u32::from(!is_kept);
        let [early, late] = shares.map(|share| 100.0 * share);
        text.push_str(&format!(" | {early:4.1} / {late:4.1}{}", if is_kept { ' ' } else { '*' }));
    }
    text.push_str(&format!("\n\n{outside} of {} cells outside of 5 to 15 per cent\n", cells.len()));
    text
}

fn named(makers: Makers) -> (String, (u32, u32)) {
    match makers {
        Makers::Practice { kind, history, .. } => (format!("practice: {kind:?}"), history),
        Makers::Examination(cell) => (cell.habit.name().to_owned(), cell.history),
    }
}

/// The weights of one end as they stand in `place_weights.rs`.
#[must_use]
pub fn weights(end: Side, weights: &[f64]) -> String {
    let (name, doc) = match end {
        Side::Early => ("EARLY", "The early end."),
        Side::Late => ("LATE", "The late end."),
    };
    // Without the 0.0, what is rounded to no weight could have a minus.
    let rounded = |weight: f64| format!("{:?}", (weight * 1e4).round() / 1e4 + 0.0);
    let mut text = format!("/// {doc}\npub const {name}: End = End {{\n");
    let mut numbers = weights.iter().map(|weight| rounded(*weight));
    for (field, number) in ["always", "ahead", "ahead_squared"].into_iter().zip(numbers.by_ref()) {
        text.push_str(&format!("    {field}: {number},\n"));
    }
    text.push_str("    signs: [\n");
    let numbers: Vec<String> = numbers.collect();
    for (sign, weights) in SIGNS.iter().zip(numbers.chunks(3)) {
        text.push_str(&format!("        // {sign}\n        weight({}),\n", weights.join(", ")));
    }
    text.push_str("    ],\n};\n");
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::care::forecast::{EARLY, LATE};

    #[test]
    fn the_weights_that_are_used_are_printed_as_they_stand_there() {
        let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../host/core/src/care/forecast/place_weights.rs");
        let file = std::fs::read_to_string(file).unwrap();
        for (end, used) in [(Side::Early, EARLY), (Side::Late, LATE)] {
            let printed = weights(end, &used.weights());
            assert!(file.contains(&printed), "{printed}");
        }
    }
}

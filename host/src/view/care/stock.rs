//! What `stock` says.

use crate::app::care::stock::StockReport;
use crate::view::words::{count, push};
use host_core::care::stock::StockLine;
use host_core::entries::StockUnit;

/// Everything in stock, or what was just changed.
#[must_use]
pub fn stock(report: &StockReport) -> String {
    let mut text = String::new();
    if report.items.is_empty() {
        text.push_str("Nothing is in stock yet. Enter what you have: needlehours stock counted needle 3\n");
    }
    for item in &report.items {
        push(&mut text, format_args!("{}.", line(item)));
    }
    if let Some(entry) = report.entry {
        push(&mut text, format_args!("Noted as entry {}.", entry.0));
    }
    text
}

/// One spare: "needle: 2 pieces left, buy more at 2".
#[must_use]
pub fn line(line: &StockLine) -> String {
    let left = match line.unit {
        StockUnit::Pieces => count(line.left, "piece", "pieces"),
        StockUnit::Millilitres => format!("{} ml", line.left),
    };
    let mut text = format!("{}: {left} left", line.item.0);
    match line.reorder_at {
        Some(level) if line.is_low => text.push_str(&format!("; buy more (the level is {level})")),
        Some(level) => text.push_str(&format!("; buy more at {level}")),
        None => {}
    }
    if line.is_short {
        text.push_str("; more was taken out than had been entered, so count it");
    }
    text
}

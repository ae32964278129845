//! What `tear` says in plain words.

use std::fmt::Write as _;

use jiff::tz::TimeZone;

use super::words::{count, moment};
use crate::app::tears::{HarmChanged, HarmList};
use crate::core::entries::Harm;
use crate::core::tears::HarmRecord;

/// Every tear and near-miss, one a line.
#[must_use]
pub fn list(list: &HarmList, zone: &TimeZone) -> String {
    let mut text = String::new();
    for harm in &list.harms {
        push(&mut text, format_args!("{}", one(harm, zone)));
    }
    push(
        &mut text,
        format_args!(
            "{} and {}; {} taken back.",
            count(list.tears, "tear", "tears"),
            count(list.near_misses, "near-miss", "near-misses"),
            list.withdrawn
        ),
    );
    text
}

/// What was noted, answered or taken back.
#[must_use]
pub fn changed(changed: &HarmChanged, zone: &TimeZone) -> String {
    changed
        .now
        .as_ref()
        .map_or_else(|| format!("{} is noted.\n", changed.id), |harm| format!("{}\n", one(harm, zone)))
}

fn one(harm: &HarmRecord, zone: &TimeZone) -> String {
    let mut line = format!(
        "{}: {}, {}",
        harm.id,
        match harm.harm {
            Harm::Tear => "tear",
            Harm::NearMiss => "near-miss",
        },
        moment(harm.when, zone)
    );
    if let Some(knob) = harm.knob_before {
        line.push_str(&format!(", knob at {} % before it", f64::from(knob.get()) / 10.0));
    }
    if let Some(rug) = &harm.rug {
        line.push_str(&format!(", {rug}{}", if harm.rug_is_assumed { " (assumed)" } else { "" }));
    }
    if let Some(lot) = &harm.cloth_lot {
        line.push_str(&format!(", cloth {lot}"));
    }
    if let Some(note) = &harm.note {
        line.push_str(&format!(", \"{note}\""));
    }
    if let Some(reason) = &harm.withdrawn {
        line.push_str(&format!(" - taken back: {reason}"));
    }
    line
}

fn push(text: &mut String, line: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    if writeln!(text, "{line}").is_err() {
        text.push('\n');
    }
}

//! `machine` on screen.

use super::table::{Column, Table};
use super::words;
use crate::app::fit::logger_name;
use crate::app::machine::{MachineLine, MachineList};
use crate::core::entries::{EdgeRatio, Fitting, KnobMarks, Pile};
use crate::core::fittings::FittingConflict;

/// The list of machines.
#[must_use]
pub fn list(list: &MachineList) -> String {
    if list.machines.is_empty() {
        return "No machine has been entered yet: needlehours machine add \"My machine\"".to_owned();
    }
    let mut table = Table::new(&[
        Column::Numbers("number"),
        Column::Words("name"),
        Column::Words("pile"),
        Column::Words("logger"),
        Column::Words("knob"),
        Column::Words("strokes"),
    ]);
    for machine in &list.machines {
        table.row([
            machine.machine.to_string(),
            machine.name.clone(),
            pile(machine.pile).to_owned(),
            if machine.loggers.is_empty() { "none".to_owned() } else { machine.loggers.join(", ") },
            knob(machine),
            ratio(machine.edges, machine.strokes),
        ]);
    }
    let mut text = table.text();
    let lent: Vec<String> = list
        .machines
        .iter()
        .filter(|machine| machine.lent_to.is_some())
        .map(|machine| machine.name.clone())
        .collect();
    if !lent.is_empty() {
        text.push_str(&format!(
            "\n\nLent out: {}. To whom and since when: needlehours machine loans",
            words::all_of(&lent)
        ));
    }
    if !list.loggers_on_no_machine.is_empty() {
        text.push_str(&format!(
            "\n\nOn no machine: logger {}. Say where it sits: needlehours machine fit --machine NUMBER",
            words::all_of(&list.loggers_on_no_machine)
        ));
    }
    text
}

/// A kind of pile.
pub(super) const fn pile(pile: Pile) -> &'static str {
    match pile {
        Pile::Cut => "cut",
        Pile::Loop => "loop",
        Pile::CutAndLoop => "cut and loop",
    }
}

fn knob(machine: &MachineLine) -> String {
    machine.knob_marks.map_or_else(
        || "ends not read".to_owned(),
        |marks| {
            let way = if marks.rising { "rising" } else { "falling" };
            format!("{} to {}, {way}", marks.slow_steps, marks.fast_steps)
        },
    )
}

fn ratio(edges: u32, strokes: u32) -> String {
    match (edges, strokes) {
        (1, 1) => "1 a pass".to_owned(),
        _ => format!("{strokes} in {edges} passes"),
    }
}

/// A machine was entered.
#[must_use]
pub fn added(number: u32, name: &str) -> String {
    format!(
        "Machine {number} is {name}. Next: read its logger with `needlehours pull`, and read the knob's two ends with \
         `needlehours machine calibrate --slow ANGLE --fast ANGLE`."
    )
}

/// The knob's ends were entered.
#[must_use]
pub fn calibrated(marks: &KnobMarks) -> String {
    let way = if marks.rising { "rising" } else { "falling" };
    format!(
        "The knob of machine {} goes from {} to {}, {way}. This holds for everything recorded so far, too.",
        marks.machine.0,
        marks.slow.steps(),
        marks.fast.steps()
    )
}

/// The ratio was entered.
#[must_use]
pub fn ratio_set(set: &EdgeRatio) -> String {
    format!(
        "Machine {}: {} of a magnet make {}. This holds for everything recorded so far, too.",
        set.machine.0,
        if set.edges == 1 { "1 pass".to_owned() } else { format!("{} passes", set.edges) },
        words::count(u64::from(set.strokes), "stroke", "strokes")
    )
}

/// A logger was fitted. `claimed` is another machine's claim to the same records.
#[must_use]
pub fn fitted(fitting: &Fitting, claimed: Option<&FittingConflict>) -> String {
    let since = match fitting.from.0 {
        0 => "from its first record on".to_owned(),
        number => {
            format!("from its record {number} on; what it recorded from there on counts for that machine")
        }
    };
    let sits =
        format!("Logger {} sits on machine {}, {since}.", logger_name(fitting.logger), fitting.machine.0);
    match claimed {
        Some(conflict) => format!(
            "{sits}\nMachine {} claimed the same records; from now on they are machine {}'s. `needlehours hours` goes on naming both.",
            conflict.dropped.0, conflict.kept.0
        ),
        None => sits,
    }
}

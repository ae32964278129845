//! `machine` on screen.

use jiff::tz::TimeZone;

use crate::app::logger::refit::RefitPlan;
use crate::app::machines::machine::{MachineLine, MachineList};
use crate::app::ports::logger_name::logger_name;
use crate::view::words;
use crate::view::words::table::{Column, Table};
use host_core::entries::{Drive, EdgeRatio, KnobMarks, MachineAdded, Pile};

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
pub(in crate::view) const fn pile(pile: Pile) -> &'static str {
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

/// What holds of a machine after it was put right.
#[must_use]
pub fn changed(holds: &MachineAdded, zone: &TimeZone) -> String {
    let before = match holds.before_logger {
        None => "hours before its logger not said".to_owned(),
        Some(run) if run.0 == 0 => "new when it came".to_owned(),
        Some(run) => format!("about {} before its logger, by its owner's estimate", words::run_time(run.0)),
    };
    let moved = match holds.drive {
        Drive::Electric => "moved by a motor",
        Drive::Pneumatic => "moved by compressed air",
    };
    format!(
        "Machine {} is {}: {} pile, {moved}; {before}; in the studio since {}. What was said before stays visible in its \
         record book: needlehours book --machine {}",
        holds.machine.0,
        holds.name,
        pile(holds.pile),
        words::clock(holds.since, zone),
        holds.machine.0
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

/// What a fitting would take from machines and give to others.
#[must_use]
pub fn moves(plan: &RefitPlan) -> String {
    let mut table = Table::new(&[
        Column::Words("machine"),
        Column::Numbers("running now"),
        Column::Numbers("then"),
        Column::Numbers("strokes now"),
        Column::Numbers("then"),
    ]);
    for change in &plan.changes {
        table.row([
            called(change.machine, change.name.as_deref()),
            words::run_time(change.before.run_time_ms),
            words::run_time(change.after.run_time_ms),
            words::thousands(change.before.strokes),
            words::thousands(change.after.strokes),
        ]);
    }
    let lines = plan.changes.iter().filter(|change| change.is_loss_of_a_machine()).map(|change| {
        format!(
            "{} and {} go from {} to {}.",
            words::run_time(change.lost_run_time_ms()),
            words::count(change.before.strokes.saturating_sub(change.after.strokes), "stroke", "strokes"),
            called(change.machine, change.name.as_deref()),
            plan_target(plan)
        )
    });
    let lines: Vec<String> = lines.collect();
    format!(
        "This moves running that is counted already:\n{}\n{}\nCare, rugs and parts of both machines are counted anew by it.",
        lines.join("\n"),
        table.text()
    )
}

fn called(machine: Option<u32>, name: Option<&str>) -> String {
    match (machine, name) {
        (Some(number), Some(name)) => format!("machine {number}, {name}"),
        (Some(number), None) => format!("machine {number}"),
        (None, _) => "no machine".to_owned(),
    }
}

fn plan_target(plan: &RefitPlan) -> String {
    let number = Some(plan.fitting.machine.0).filter(|number| *number != 0);
    let name = plan.changes.iter().find(|change| change.machine == number);
    called(number, name.and_then(|change| change.name.as_deref()))
}

/// A logger was fitted.
#[must_use]
pub fn fitted(plan: &RefitPlan) -> String {
    let fitting = &plan.fitting;
    let (place, whose) = match fitting.machine.0 {
        0 => ("no machine".to_owned(), "none"),
        machine => (format!("machine {machine}"), "that machine"),
    };
    let since = match fitting.from.0 {
        0 => "from its first record on".to_owned(),
        number => format!("from its record {number} on; what it recorded from there on counts for {whose}"),
    };
    let mut said = format!("Logger {} sits on {place}, {since}.", logger_name(fitting.logger));
    if let Some(conflict) = plan.claimed {
        said.push_str(&format!(
            "\nMachine {} claimed the same records; from now on they are machine {}'s. `needlehours hours` goes on naming both.",
            conflict.dropped.0, conflict.kept.0
        ));
    }
    if plan.takes_hours() {
        said.push_str(
            "\nBoth record books tell of the move. To move it back, name the other machine with the same --from-record.",
        );
    }
    said
}

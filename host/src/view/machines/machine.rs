//! `machine` on screen.

use jiff::tz::TimeZone;

use crate::app::logger::refit::RefitPlan;
use crate::app::machines::machine::{AddedReport, MachineLine, MachineList};
use crate::app::machines::rest::RestReport;
use crate::app::ports::logger_name::logger_name;
use crate::app::typed::counting::how_to_count;
use crate::view::words;
use crate::view::words::table::{Column, Table};
use host_core::entries::{Drive, EdgeRatio, KnobMarks, MachineAdded, Pile};

/// The list of machines.
#[must_use]
pub fn list(list: &MachineList, zone: &TimeZone) -> String {
    if list.machines.is_empty() {
        return "No machine has been entered yet: needlehours machine add \"My machine\"".to_owned();
    }
    let mut text = table(list).text();
    for machine in &list.machines {
        let Some(rest) = &machine.resting else { continue };
        text.push_str(&format!(
            "\n\nOut of use: {} since {}{}. Back into use: needlehours machine rest {} --back",
            machine.name,
            words::clock(rest.since_utc_ms, zone),
            rest.reason.as_deref().map_or_else(String::new, |why| format!(", because: {why}")),
            machine.machine
        ));
    }
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
            "\n\nOn no machine: logger {}. Say where it sits: needlehours machine fit --machine NAME",
            words::all_of(&list.loggers_on_no_machine)
        ));
    }
    text
}

/// The machines as a table.
#[must_use]
pub fn table(list: &MachineList) -> Table {
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
            match (machine.loggers.as_slice(), machine.has_logger) {
                ([], Some(false)) => "no board".to_owned(),
                ([], _) => "none".to_owned(),
                (loggers, _) => loggers.join(", "),
            },
            knob(machine),
            ratio(machine.edges, machine.strokes),
        ]);
    }
    table
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
pub fn added(report: &AddedReport) -> String {
    let added = &report.added;
    let number = added.machine.0;
    let mut text = if added.has_logger == Some(false) {
        format!(
            "Machine {number} is {}, without a logger board. Next: after work, say how long it ran: {}",
            added.name,
            how_to_count(true)
        )
    } else {
        format!(
            "Machine {number} is {}. Next: read its logger with `{}`, and read the knob's two ends with \
             `needlehours machine calibrate --slow ANGLE --fast ANGLE`.",
            added.name,
            how_to_count(false)
        )
    };
    if added.is_second_hand == Some(true) {
        text.push_str("\nThe age of its parts is not known. What to look at first: needlehours due");
    }
    if let Some(before) = report.unnamed {
        text.push_str(&format!(
            "\nMachine {} had entered itself. If it is the same one, name that instead: needlehours machine remove {number}, \
             then needlehours machine change {} --name \"{}\"",
            before.0, before.0, added.name
        ));
    }
    text
}

/// A machine was removed.
#[must_use]
pub fn removed(removed: &MachineAdded) -> String {
    format!(
        "Machine {}, {}, is removed: nothing was noted of it. Its number is given to no other machine.",
        removed.machine.0, removed.name
    )
}

/// A machine was taken out of use, or back.
#[must_use]
pub fn rested(report: &RestReport) -> String {
    let (name, number) = (&report.machine_name, report.machine.0);
    if report.rests {
        let why = report.reason.as_deref().unwrap_or_default();
        format!(
            "{name} is out of use: {why}. Its care is not asked for, and everything noted of it stays. Back into use: \
             needlehours machine rest {number} --back"
        )
    } else {
        format!("{name} is in use again. What came due meanwhile: needlehours due --machine {number}")
    }
}

/// What holds of a machine after it was put right.
#[must_use]
pub fn changed(holds: &MachineAdded, zone: &TimeZone) -> String {
    let before = match holds.before_logger {
        None => "hours before not said".to_owned(),
        Some(run) if run.0 == 0 => "new when it came".to_owned(),
        Some(run) => format!("about {} before, by its owner's estimate", words::run_time(run.0)),
    };
    let moved = match holds.drive {
        Drive::Electric => "moved by a motor",
        Drive::Pneumatic => "moved by compressed air",
    };
    let logger = match holds.has_logger {
        None => "",
        Some(true) => "; with a logger board",
        Some(false) => "; without a logger board",
    };
    let age = if holds.is_second_hand == Some(true) { "; second-hand, its parts of unknown age" } else { "" };
    format!(
        "Machine {} is {}: {} pile, {moved}{logger}; {before}{age}; in the studio since {}. What was said before stays visible in its \
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

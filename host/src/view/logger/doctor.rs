//! What the doctor found, in plain words, with what to try.

use shared_types::log::Fault;

use super::diagnostics;
use crate::app::keeping::backup::BackupSeen;
use crate::app::logger::doctor::{
    DatabaseSeen, DatabaseState, DoctorReport, LogHeld, LoggerAnswer, LoggerSeen,
};
use crate::app::ports::PortSeen;
use crate::view::words;

/// The report as lines for the maker.
#[must_use]
pub fn text(report: &DoctorReport) -> String {
    let mut lines = Vec::new();
    if report.needs_no_logger() {
        lines.push("Logger: none is there, and none is expected: no machine has one.".to_owned());
    } else {
        ports(report, &mut lines);
        logger(report, &mut lines);
    }
    database(&report.database, &mut lines);
    let is_fine = !report.has_logger_trouble() && !report.has_database_trouble();
    lines.push(if is_fine {
        "Nothing is wrong.".to_owned()
    } else {
        "See the lines that begin with Try.".to_owned()
    });
    lines.join("\n")
}

fn ports(report: &DoctorReport, lines: &mut Vec<String>) {
    if let Some(why) = &report.ports_unknown_because {
        lines.push(format!("Ports: the system does not tell ({why})."));
        lines.push(tip("name the port yourself with --port."));
        return;
    }
    if report.ports.is_empty() {
        lines.push("Ports: none.".to_owned());
        return;
    }
    lines.push("Ports:".to_owned());
    lines.extend(report.ports.iter().map(port));
}

/// What the search for a logger has seen.
fn looked_at(ports: &[PortSeen]) -> String {
    match ports.len() {
        0 => "this computer shows no serial port at all".to_owned(),
        1 => "looked at the one port above, and what is on it does not call itself a logger".to_owned(),
        count => format!("looked at the {count} ports above, and none calls itself a logger"),
    }
}

fn port(port: &PortSeen) -> String {
    let device = port.device.as_deref().unwrap_or("says nothing of itself");
    if port.is_logger { format!("  {}: a logger", port.port) } else { format!("  {}: {device}", port.port) }
}

fn tip(what: &str) -> String {
    format!("  Try: {what}")
}

fn logger(report: &DoctorReport, lines: &mut Vec<String>) {
    match &report.logger {
        LoggerSeen::NotFound => {
            lines.push(format!("Logger: none found; {}.", looked_at(&report.ports)));
            lines.push(tip(
                "plug it in with a cable that carries data, not only power, into the computer itself instead of a hub.",
            ));
            lines.push(tip(
                "if it is plugged in, name its port with --port, for example --port /dev/ttyACM0.",
            ));
        }
        LoggerSeen::Several { ports } => {
            lines.push(format!("Logger: {} are connected.", ports.len()));
            lines.push(tip(&format!(
                "name one with --port, for example --port {}.",
                ports.first().map_or("", String::as_str)
            )));
        }
        LoggerSeen::NoRight { port, group } => {
            lines.push(format!("Logger: at {port}, but you may not open this port."));
            lines.push(tip(&no_right(group.as_deref())));
        }
        LoggerSeen::InUse { port, by } => {
            lines.push(format!("Logger: at {port}, not looked at: {by}."));
        }
        LoggerSeen::Failed { port, why } => {
            lines.push(format!("Logger: at {port}, but {why}."));
            lines.push(tip("unplug it and plug it in again; close other programs that may hold the port."));
        }
        LoggerSeen::Answers(answer) => answers(answer, lines),
    }
}

/// The exact words that give the right, for the group that the port belongs to.
fn no_right(group: Option<&str>) -> String {
    let group = group.unwrap_or("dialout");
    format!(
        "run `sudo usermod -a -G {group} $USER` and log in again; or put this line into \
         /etc/udev/rules.d/70-needlehours.rules and plug the logger in again: \
         SUBSYSTEM==\"tty\", ATTRS{{idVendor}}==\"1209\", ATTRS{{idProduct}}==\"0001\", TAG+=\"uaccess\", ENV{{ID_MM_DEVICE_IGNORE}}=\"1\""
    )
}

fn answers(answer: &LoggerAnswer, lines: &mut Vec<String>) {
    lines.push(format!(
        "Logger: {} at {} answers, firmware {}, {} of running in its life.",
        answer.logger,
        answer.port,
        answer.firmware,
        words::run_time(answer.run_time_ms.0)
    ));
    match (&answer.log, answer.making_sectors_left) {
        (None, Some(left)) => {
            lines.push(format!("Its log: is being made; {left} parts of its memory are left to be emptied."));
            lines.push(tip(
                "leave it plugged in and the machine switched off for a few minutes; strokes are counted meanwhile.",
            ));
        }
        (None, None) => {
            lines.push("Its log: it cannot read its own log, and writes nothing over it.".to_owned());
            lines.push(tip("pull what was saved before; a newer firmware may be able to read it."));
        }
        (Some(log), _) => {
            let waiting = log.next.0.saturating_sub(log.acknowledged.0.max(log.oldest.0));
            lines.push(format!(
                "Its log: fine; {} not pulled by anybody yet.",
                words::count(waiting.into(), "record was", "records were")
            ));
        }
    }
    lines.push(match answer.machine {
        Some(machine) => format!("It was told that it sits on machine {}.", machine.0),
        None => "It was not told yet on which machine it sits; the first pull does that.".to_owned(),
    });
    lines.push(match answer.knob_steps {
        Some(steps) => format!("The knob's angle now: {steps} (0 to 4095)."),
        None => "The knob is not read at this moment.".to_owned(),
    });
    if let Some(gain) = answer.knob_gain {
        lines.push(format!(
            "The knob's magnet: gain {gain} of 0 to 128; near 64 it sits well, near an end it is too near or too far."
        ));
    }
    if !answer.faults.contains(&Fault::ClockSilent) && !answer.faults.contains(&Fault::ClockLost) {
        lines.push("Its clock: runs.".to_owned());
    }
    for &fault in &answer.faults {
        let (what, try_this) = fault_words(fault);
        lines.push(format!("Fault: {what}."));
        lines.push(tip(try_this));
    }
    if !answer.unknown_faults.is_empty() {
        lines.push("Fault: one that this program does not know.".to_owned());
        lines.push(tip("install a newer Needlehours."));
    }
    for (what, try_this) in diagnostics::lines(answer.diagnostics.as_ref()) {
        lines.push(what);
        lines.extend(try_this.map(tip));
    }
}

/// What a fault is, and what to try.
#[must_use]
pub const fn fault_words(fault: Fault) -> (&'static str, &'static str) {
    match fault {
        Fault::MagnetMissing => (
            "the knob's sensor sees no magnet",
            "with the machine unplugged, look whether the knob's magnet fell off.",
        ),
        Fault::MagnetTooWeak => (
            "the knob's magnet is too weak or too far away",
            "switch off and unplug (or air and hose off), then bring the sensor nearer to the magnet.",
        ),
        Fault::MagnetTooStrong => (
            "the knob's magnet is too strong or too near",
            "switch off and unplug (or air and hose off), then move the sensor a little away from the magnet.",
        ),
        Fault::KnobSilent => (
            "the knob's sensor does not answer",
            "unplug everything and look at the four wires to the knob's sensor. Strokes are counted all the same.",
        ),
        Fault::ClockSilent => (
            "the clock chip does not answer, or there is none",
            "unplug the machine and the logger, then look at its wires; without a clock hours stay exact, but their days are known less well.",
        ),
        Fault::ClockLost => (
            "the clock stood still; its battery is flat or new",
            "unplug the machine and the logger, then put in a new battery; the next pull sets the clock.",
        ),
        Fault::ImplausibleRate => (
            "more strokes were counted than a hand machine can make",
            "switch off and unplug (or air and hose off), then look at the needle sensor's wires and at how far it stands from its magnet.",
        ),
        Fault::LogOverrun => (
            "the oldest records made room for new ones before they were pulled",
            "pull more often; the lost hours are still in the total.",
        ),
        Fault::DialTooLow => (
            "the dial's voltage is below its travel: a wire to it is off, or touches ground",
            "unplug everything and look at the dial's wires to GP26 and to 3V3. Strokes are counted all the same.",
        ),
        Fault::DialTooHigh => (
            "the dial's voltage is above its travel: its ground wire is off, or a wire touches 3V3",
            "unplug everything and look at the dial's wires to GND and to GP26. Strokes are counted all the same.",
        ),
        Fault::StampsAlone => (
            "pulses of the needle's sensor were seen at one of its two pins only: timed, and not counted",
            "unplug the machine and the logger, then look at the needle sensor's wires: lead them away from the motor, twisted \
             together; on older boards look at the link wire between GP15 and GP14 too. Such pulses make no running.",
        ),
        Fault::CountsAlone => (
            "pulses of the needle's sensor were seen at one of its two pins only: counted, and not timed",
            "unplug the machine and the logger, then look at the link wire between GP15 and GP14 where the board has one, and \
             lead the needle sensor's wires away from the motor, twisted together.",
        ),
        Fault::KnobShakes => (
            "the knob's reading shakes, or its sensor comes and goes",
            "unplug the machine and the logger, then look whether the knob's magnet or the bridge over it is loose, and whether the \
             sensor's plug sits tight. Strokes and hours are counted all the same.",
        ),
        Fault::FlashWrite => (
            "something was not kept as it was written",
            "pull now; if it comes again, the board is worn out.",
        ),
    }
}

fn database(seen: &DatabaseSeen, lines: &mut Vec<String>) {
    match seen {
        DatabaseSeen::Missing { path } => {
            lines
                .push(format!("Database: none yet at {}; the first pull or entry makes it.", path.display()));
        }
        DatabaseSeen::Failed { path, why, remedy } => {
            lines.push(format!("Database: {} cannot be used: {why}.", path.display()));
            lines.push(format!("  Try: {remedy}"));
        }
        DatabaseSeen::Opens(state) => opens(state, lines),
    }
}

fn opens(state: &DatabaseState, lines: &mut Vec<String>) {
    lines.push(format!(
        "Database: {} opens; machines: {}, entries: {}.",
        state.path.display(),
        state.machines,
        state.entries
    ));
    if !state.damage.is_empty() {
        lines.push("Its file is damaged:".to_owned());
        lines.extend(state.damage.iter().map(|line| format!("  {line}")));
        lines.push(tip("enter nothing more; needlehours rescue NEW.db puts everything that is whole into a new database, and leaves this one as it is."));
    }
    for log in &state.logs {
        held(log, lines);
    }
    backup(&state.backup, lines);
}

fn backup(seen: &BackupSeen, lines: &mut Vec<String>) {
    lines.push(match seen.days_ago {
        None => "Backup: none was ever made from here.".to_owned(),
        Some(0) => "Backup: made today.".to_owned(),
        Some(days) if days < 0 => "Backup: its date lies in the future.".to_owned(),
        Some(days) => format!("Backup: made {} ago.", words::count(days.unsigned_abs(), "day", "days")),
    });
    if seen.is_overdue {
        let assumed = if seen.limit_is_assumed { ", our assumption" } else { "" };
        lines.push(tip(&format!(
            "needlehours backup FILE, best onto another disk. One counts as old after {}{assumed}: change that with `needlehours backup --limit-days DAYS`.",
            words::count(u64::from(seen.limit_days), "day", "days")
        )));
    }
}

fn held(log: &LogHeld, lines: &mut Vec<String>) {
    lines.push(format!("Kept of logger {}: {}.", log.logger, words::count(log.records, "record", "records")));
    if log.machine.is_none() {
        lines.push("  It is not known on which machine it sits.".to_owned());
        lines.push(tip("pull with --machine NAME."));
    }
    if log.conflicting > 0 {
        lines.push(format!(
            "  {} came twice with different content; both are kept, the first is used.",
            log.conflicting
        ));
        lines.push(tip("tell the maker of the firmware; no hour is counted twice."));
    }
    if log.unreadable > 0 {
        lines.push(format!("  {} are of a kind that this program does not know.", log.unreadable));
        lines.push(tip("install a newer Needlehours; they are kept."));
    }
    if log.missing > 0 {
        lines.push(format!(
            "  {} are missing; {} of running is known from the totals only.",
            log.missing,
            words::run_time(log.not_recorded_ms.0)
        ));
        lines.push(tip(
            "pull, or read a log saved earlier with --file; what the logger has overwritten is gone.",
        ));
    }
}

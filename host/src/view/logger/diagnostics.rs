//! What a logger had to put up with, in plain words, with what to try. Where all is well, one line.

use crate::app::logger::diagnostics::{LoggerDiagnostics, Restart};
use crate::view::words::{count, thousands};

/// One finding, and what to try where there is something to do.
type Line = (String, Option<&'static str>);

/// What was found. None: the firmware does not tell.
#[must_use]
pub fn lines(told: Option<&LoggerDiagnostics>) -> Vec<Line> {
    let Some(told) = told else {
        let upgrade =
            "Its firmware tells no more of itself; a newer one does (how to upgrade: firmware/WIRING.md).";
        return vec![(upgrade.to_owned(), None)];
    };
    let mut lines = memory(told);
    lines.extend(wires(told));
    lines.extend(program(told));
    if lines.is_empty() {
        lines.push(("Inside: its memory, its wires and its program have had no trouble.".to_owned(), None));
    }
    lines
}

fn memory(told: &LoggerDiagnostics) -> Vec<Line> {
    let mut lines = Vec::new();
    if told.is_memory_worn() {
        lines.push((
            format!(
                "Memory: it takes {} ms to erase a piece; above 400 ms it is wearing out (our start value, from memory).",
                thousands(told.slowest_erase_ms.into())
            ),
            Some("pull now and more often than before, and have another board ready. Nothing is lost by it yet."),
        ));
    }
    if told.failed_writes > 0 {
        lines.push((
            format!(
                "Memory: {} not kept as written, and done again elsewhere.",
                count(told.failed_writes.into(), "write was", "writes were")
            ),
            Some("pull now; if the number grows, the board is worn out."),
        ));
    }
    if told.repaired_bits > 0 {
        lines.push((
            format!(
                "Memory: a flipped bit was put right in {}; no hour is wrong by it.",
                count(told.repaired_bits.into(), "entry", "entries")
            ),
            None,
        ));
    }
    lines
}

fn wires(told: &LoggerDiagnostics) -> Vec<Line> {
    let mut lines = Vec::new();
    let alone = [(told.stamps_alone, "timed and not counted"), (told.counts_alone, "counted and not timed")];
    for (pulses, what) in alone.into_iter().filter(|(pulses, _)| *pulses > 0) {
        lines.push((
            format!(
                "Needle's sensor: {} {what}; too short for strokes, they make no running.",
                count(pulses.into(), "pulse was", "pulses were")
            ),
            None,
        ));
    }
    if told.bus_timeouts > 0 {
        lines.push((
            format!(
                "Knob's sensor or clock: {} in time.",
                count(told.bus_timeouts.into(), "question was not answered", "questions were not answered")
            ),
            Some(
                "unplug the machine and the logger, then look at the plugs and wires SDA and SCL; keep them short and away \
                 from the motor.",
            ),
        ));
    }
    lines
}

fn program(told: &LoggerDiagnostics) -> Vec<Line> {
    let mut lines = Vec::new();
    if told.has_restarted() {
        let why = match told.restart {
            Restart::Hung => "Program: it hung and was started anew",
            Restart::Stopped => "Program: it stopped itself and was started anew",
            Restart::PowerOn | Restart::Requested => "Program: it was started anew",
        };
        let place = told.last_panic.map_or_else(String::new, |place| format!("; the place is {place:08x}"));
        let times = u64::from(told.resets_since_power_on.max(1));
        lines.push((
            format!("{why}, {} since power came on{place}.", count(times, "time", "times")),
            Some(
                "pull, then try another USB cable and supply, away from the motor's lead. If it comes again, install a newer \
                 firmware, or tell its maker the place.",
            ),
        ));
    }
    if told.is_stack_short() {
        let free = told.free_stack_bytes.unwrap_or(0);
        lines.push((
            format!("Program: only {} of its stack were never used.", count(free.into(), "byte", "bytes")),
            Some("install a newer firmware, or tell its maker."),
        ));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn well() -> LoggerDiagnostics {
        LoggerDiagnostics {
            flash_id: None,
            flash_bytes: Some(2_097_152),
            slowest_erase_ms: 45,
            failed_writes: 0,
            repaired_bits: 0,
            stamps_alone: 0,
            counts_alone: 0,
            bus_timeouts: 0,
            restart: Restart::PowerOn,
            resets_since_power_on: 0,
            last_panic: None,
            free_stack_bytes: Some(9_000),
        }
    }

    #[test]
    fn a_logger_that_is_well_takes_one_line_and_one_that_tells_nothing_too() {
        for told in [Some(well()), None] {
            let lines = lines(told.as_ref());
            assert_eq!((lines.len(), lines[0].1), (1, None), "{lines:?}");
        }
    }

    #[test]
    fn whatever_is_trouble_says_what_to_try_and_nothing_else_does() {
        let worn = |ms| LoggerDiagnostics { slowest_erase_ms: ms, ..well() };
        let hung = LoggerDiagnostics { restart: Restart::Hung, resets_since_power_on: 3, ..well() };
        let stopped = LoggerDiagnostics { restart: Restart::Stopped, last_panic: Some(0xABC), ..well() };
        let cases = [
            (worn(400), false, "no trouble"),
            (worn(1_401), true, "takes 1,401 ms to erase a piece"),
            (LoggerDiagnostics { failed_writes: 1, ..well() }, true, "1 write was not kept"),
            (LoggerDiagnostics { repaired_bits: 2, ..well() }, false, "put right in 2 entries"),
            (LoggerDiagnostics { stamps_alone: 1, ..well() }, false, "1 pulse was timed and not counted"),
            (LoggerDiagnostics { counts_alone: 9, ..well() }, false, "9 pulses were counted and not timed"),
            (LoggerDiagnostics { bus_timeouts: 7, ..well() }, true, "7 questions were not answered in time"),
            (hung, true, "hung and was started anew, 3 times since"),
            (
                stopped,
                true,
                "stopped itself and was started anew, 1 time since power came on; the place is 00000abc",
            ),
            (
                LoggerDiagnostics { free_stack_bytes: Some(1_023), ..well() },
                true,
                "only 1,023 bytes of its stack",
            ),
            (LoggerDiagnostics { free_stack_bytes: Some(1_024), ..well() }, false, "no trouble"),
            (LoggerDiagnostics { free_stack_bytes: None, ..well() }, false, "no trouble"),
            (LoggerDiagnostics { restart: Restart::Requested, ..well() }, false, "no trouble"),
        ];
        for (told, is_trouble, words) in cases {
            let lines = lines(Some(&told));
            assert!(lines[0].0.contains(words), "{words}: {lines:?}");
            assert_eq!(lines.iter().any(|(_, tip)| tip.is_some()), is_trouble, "{lines:?}");
            assert_eq!(told.is_trouble(), is_trouble, "{words}");
        }
    }
}

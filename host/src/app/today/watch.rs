//! When a logger is to be read by itself: as soon as it is plugged in, and after ten quiet minutes while it stays plugged.

use std::collections::BTreeMap;

/// From one question to the next how much the logger has counted, in milliseconds; a minute.
pub const ASK_EVERY_MS: u64 = 60_000;
/// So long nothing was counted before it is read again, in milliseconds; ten minutes, as between two sessions.
pub const QUIET_MS: u64 = 600_000;

/// Name of a port.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct PortName(String);

/// Watches all ports at which loggers are.
#[derive(Clone, Debug, Default)]
pub struct Watches {
    ports: BTreeMap<PortName, Watch>,
}

impl Watches {
    /// The ports at which loggers are now; what is to be done at each of them.
    pub fn look(&mut self, now_ms: u64, ports: &[String]) -> Vec<Wanted> {
        self.ports.retain(|known, _| ports.contains(&known.0));
        ports.iter().map(|port| self.at(port).look(now_ms, Some(port))).collect()
    }

    /// The watch over one port.
    pub fn at(&mut self, port: &str) -> &mut Watch {
        self.ports.entry(PortName(port.to_owned())).or_default()
    }
}

/// What is to be done now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// Nothing.
    Nothing,
    /// Ask the logger for its totals.
    Ask,
    /// Read it.
    Read,
}

/// A logger that stays plugged.
#[derive(Clone, Debug)]
struct Plugged {
    port: String,
    /// Edges ever counted, as last told.
    edges: Option<u64>,
    /// Since when that number stands.
    quiet_since_ms: u64,
    /// The number up to which it was read; none where reading has failed so far.
    read_to: Option<u64>,
    asked_at_ms: u64,
}

/// Watches one port. Times are milliseconds of any clock that does not go back.
#[derive(Clone, Debug, Default)]
pub struct Watch {
    plugged: Option<Plugged>,
}

impl Watch {
    /// The port at which a logger is now, if any.
    pub fn look(&mut self, now_ms: u64, port: Option<&str>) -> Wanted {
        let Some(port) = port else {
            self.plugged = None;
            return Wanted::Nothing;
        };
        match &mut self.plugged {
            Some(plugged) if plugged.port == port => {
                if now_ms.saturating_sub(plugged.asked_at_ms) < ASK_EVERY_MS {
                    return Wanted::Nothing;
                }
                plugged.asked_at_ms = now_ms;
                Wanted::Ask
            }
            _ => {
                self.plugged = Some(Plugged {
                    port: port.to_owned(),
                    edges: None,
                    quiet_since_ms: now_ms,
                    read_to: None,
                    asked_at_ms: now_ms,
                });
                Wanted::Read
            }
        }
    }

    /// What the logger told; whether it is to be read.
    pub fn told(&mut self, now_ms: u64, edges: u64) -> Wanted {
        let Some(plugged) = &mut self.plugged else { return Wanted::Nothing };
        if plugged.edges != Some(edges) {
            plugged.edges = Some(edges);
            plugged.quiet_since_ms = now_ms;
        }
        let is_quiet = now_ms.saturating_sub(plugged.quiet_since_ms) >= QUIET_MS;
        let is_failed = plugged.read_to.is_none();
        if (is_quiet || is_failed) && plugged.read_to != Some(edges) { Wanted::Read } else { Wanted::Nothing }
    }

    /// It was read when it had counted so many edges.
    pub fn was_read(&mut self, now_ms: u64, edges: u64) {
        if let Some(plugged) = &mut self.plugged {
            if plugged.edges != Some(edges) {
                plugged.quiet_since_ms = now_ms;
            }
            plugged.edges = Some(edges);
            plugged.read_to = Some(edges);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MINUTE: u64 = 60_000;

    #[test]
    fn it_is_read_when_it_is_plugged_in_and_again_when_it_was_unplugged_meanwhile() {
        let mut watch = Watch::default();
        assert_eq!(watch.look(0, None), Wanted::Nothing);
        assert_eq!(watch.look(1, Some("A")), Wanted::Read);
        watch.was_read(2, 100);
        assert_eq!(watch.look(3, Some("A")), Wanted::Nothing);
        assert_eq!(watch.look(4, Some("B")), Wanted::Read, "another port is another plug");
        assert_eq!(watch.look(5, None), Wanted::Nothing);
        assert_eq!(watch.look(6, Some("B")), Wanted::Read);
    }

    #[test]
    fn while_it_stays_plugged_it_is_read_once_after_ten_quiet_minutes() {
        let mut watch = Watch::default();
        watch.look(0, Some("A"));
        watch.was_read(0, 100);
        let mut read_at = Vec::new();
        // Work from minute 3 to minute 20: the count grows each minute, then stands.
        for minute in 1..60 {
            let now = minute * MINUTE;
            let edges = 100 + minute.clamp(3, 20) - 3;
            if watch.look(now, Some("A")) == Wanted::Ask && watch.told(now, edges) == Wanted::Read {
                read_at.push(minute);
                watch.was_read(now, edges);
            }
        }
        assert_eq!(read_at, [30], "ten minutes after the last stroke, and no second time");
    }

    #[test]
    fn each_of_several_loggers_is_read_and_one_that_was_away_is_read_again() {
        let (one, both) = (["A".to_owned()], ["A".to_owned(), "B".to_owned()]);
        let mut watches = Watches::default();
        assert_eq!(watches.look(0, &one), [Wanted::Read]);
        watches.at("A").was_read(0, 7);
        assert_eq!(watches.look(1, &both), [Wanted::Nothing, Wanted::Read]);
        watches.at("B").was_read(1, 9);
        assert_eq!(watches.look(MINUTE, &both), [Wanted::Ask, Wanted::Nothing], "each has its own minute");
        assert_eq!(watches.at("A").told(MINUTE, 7), Wanted::Nothing);
        assert_eq!(watches.look(MINUTE + 2, &one), [Wanted::Nothing]);
        assert_eq!(watches.look(MINUTE + 3, &both), [Wanted::Nothing, Wanted::Read]);
    }

    #[test]
    fn a_reading_that_failed_is_tried_again_a_minute_later() {
        let mut watch = Watch::default();
        assert_eq!(watch.look(0, Some("A")), Wanted::Read);
        assert_eq!(watch.look(MINUTE - 1, Some("A")), Wanted::Nothing);
        assert_eq!(watch.look(MINUTE, Some("A")), Wanted::Ask);
        assert_eq!(watch.told(MINUTE, 7), Wanted::Read);
        watch.was_read(MINUTE, 7);
        assert_eq!(watch.look(2 * MINUTE, Some("A")), Wanted::Ask);
        assert_eq!(watch.told(2 * MINUTE, 7), Wanted::Nothing);
    }
}

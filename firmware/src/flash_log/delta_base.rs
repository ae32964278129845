//! Prediction of the next record from the previous ones; records are packed as differences from it.

use shared_types::log::{Event, Record};
use shared_types::{BootId, RawAngle, UptimeMillis};

use super::bytes::{unzigzag, zigzag};

/// Averaging window of the stroke rate at one angle. Milliseconds.
const RATE_WINDOW_MS: u32 = 40_000;

/// State of the predictor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct DeltaBase {
    pub(crate) boot: BootId,
    /// The end of the last segment.
    pub(crate) end: UptimeMillis,
    /// The last segment's angle, and the last that any knew.
    pub(super) angle: Option<RawAngle>,
    pub(super) known: RawAngle,
    /// Stroke periods of the last segments at this angle, and the milliseconds they took.
    pub(super) periods: u32,
    pub(super) period_ms: u32,
}

impl DeltaBase {
    /// State at the head of a sector.
    pub(crate) const fn at_head(boot: BootId, uptime: UptimeMillis) -> Self {
        Self { boot, end: uptime, angle: None, known: RawAngle::new(0), periods: 0, period_ms: 0 }
    }

    /// State after `record`.
    pub(crate) fn after(mut self, record: &Record) -> Self {
        self = self.in_boot(record.boot, record.at);
        if let Event::Segment(segment) = &record.event {
            self.end = UptimeMillis(record.at.0.saturating_add(segment.run.0));
            if segment.angle != self.angle {
                self.angle = segment.angle;
                self.known = segment.angle.unwrap_or(self.known);
                self.periods = 0;
                self.period_ms = 0;
            }
            // A run that does not fit 32 bits is seven weeks long; it is written whole and foretells nothing.
            if let Ok(run) = u32::try_from(segment.run.0) {
                self.add_rate(segment.edges.saturating_sub(u32::from(!segment.continues)), run);
            }
        }
        self
    }

    /// State after a record of this boot and time, whatever its event.
    pub(crate) fn in_boot(mut self, boot: BootId, at: UptimeMillis) -> Self {
        if boot != self.boot {
            self.boot = boot;
            self.end = at;
        }
        self
    }

    fn add_rate(&mut self, periods: u32, run_ms: u32) {
        self.periods = self.periods.saturating_add(periods);
        self.period_ms = self.period_ms.saturating_add(run_ms);
        while self.period_ms > RATE_WINDOW_MS {
            self.periods = self.periods.div_ceil(2);
            self.period_ms /= 2;
        }
    }

    /// Predicted edges in `run_ms` of running, to the nearest.
    pub(super) fn edges_in(&self, run_ms: u32) -> u32 {
        let product = u64::from(self.periods) * u64::from(run_ms) + u64::from(self.period_ms) / 2;
        product
            .checked_div(u64::from(self.period_ms))
            .map_or(0, |edges| u32::try_from(edges).unwrap_or(u32::MAX))
    }

    /// The last angle that any segment knew.
    pub(super) const fn angle(&self) -> RawAngle {
        self.known
    }

    pub(super) fn edges_expected(&self, run_ms: u32, continues: bool) -> i64 {
        i64::from(self.edges_in(run_ms)) + i64::from(!continues)
    }
}

/// Zigzag of the shortest signed difference between two angles; `None` for an angle that no sensor gives.
pub(super) fn angle_change(from: RawAngle, to: RawAngle) -> Option<u64> {
    let half = i64::from(RawAngle::STEPS / 2);
    if from.steps() >= RawAngle::STEPS || to.steps() >= RawAngle::STEPS {
        return None;
    }
    let apart = i64::from(to.steps()) - i64::from(from.steps());
    Some(zigzag((apart + half).rem_euclid(2 * half) - half))
}

/// Inverse of [`angle_change`].
pub(super) fn angle_after(from: RawAngle, change: u64) -> Option<RawAngle> {
    let steps = i64::from(from.steps()).checked_add(unzigzag(change))?;
    u16::try_from(steps.rem_euclid(i64::from(RawAngle::STEPS))).ok().map(RawAngle::new)
}

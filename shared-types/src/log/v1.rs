//! Records, version 1: raw values only. Strokes, knob positions and dates are the host's work.

use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::limits::{KNOB_STEP, TRACE_STEPS};
use crate::units::{BootId, MachineTag, RawAngle, RunMillis, Totals, UptimeMillis, UtcMillis};

/// One remembered thing: in which boot, at which uptime, and what.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Record {
    /// The boot during which it happened.
    pub boot: BootId,
    /// Uptime at which it happened; of a segment its start, of everything else the moment itself.
    pub at: UptimeMillis,
    /// What happened.
    pub event: Event,
}

/// What a record tells. New kinds are added at the end only.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Event {
    /// The logger started.
    Started(Started),
    /// The needle ran.
    Segment(Segment),
    /// A button was pressed.
    Press(Press),
    /// A trace taken at a moment drawn beforehand: what running looked like when nothing special happened.
    Control(Trace),
    /// A clock was read or set.
    Anchor(Anchor),
    /// The settings in force from here on.
    Settings(Settings),
    /// A fault appeared or went away.
    Fault(FaultChange),
    /// The host said on which machine the logger sits.
    Fitted(MachineTag),
}

/// A start of the logger.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Started {
    /// Why it started.
    pub reason: StartReason,
    /// The firmware that started.
    pub firmware: FirmwareVersion,
    /// Lifetime totals at that moment: the sum of all segments recorded before.
    pub totals: Totals,
}

/// Why the logger started.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum StartReason {
    /// Power came on, or the board cannot tell.
    PowerOn,
    /// The watchdog found the firmware hanging.
    Watchdog,
    /// The firmware stopped itself; `place` is a number that names the spot in the build.
    Panic {
        /// Names the spot, as a hash of file and line.
        place: u32,
    },
    /// Asked for, for example after an upgrade.
    Requested,
}

/// The version of a firmware, by the rules of semantic versioning.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FirmwareVersion {
    /// Breaking changes.
    pub major: u8,
    /// Additions.
    pub minor: u8,
    /// Corrections.
    pub patch: u8,
}

/// A stretch of running at one knob position, or ten seconds of it at most.
///
/// A burst is a segment that does not continue and all segments after it that do. A continuing segment starts at the
/// last edge of the one before, so that no stroke period is lost or counted twice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Segment {
    /// From its start to its last edge.
    pub run: RunMillis,
    /// Edges in it. The first segment of a burst includes the edge it starts with; a continuing one does not.
    pub edges: u32,
    /// The knob's angle during it; none while the sensor has a fault.
    pub angle: Option<RawAngle>,
    /// Whether the needle was already moving when it started.
    pub continues: bool,
}

/// A press of a button, with what the machine did just before.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Press {
    /// What was pressed.
    pub kind: PressKind,
    /// How long the needle had stood still, in milliseconds; zero while it moves, the largest number when it has
    /// not moved since the start.
    pub still_ms: u32,
    /// The last ten running seconds before the press, however long ago they ran.
    pub trace: Trace,
}

/// The four messages that two buttons can give.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum PressKind {
    /// First button pressed: a pulled thread, a snag, an opened weave.
    NearMiss,
    /// First button held: the cloth tore.
    Tear,
    /// Second button pressed: the machine was cared for; the host asks later with what.
    CareDone,
    /// Second button held: the cloth was tensioned again.
    Retension,
}

/// The last ten running seconds in steps of half a second, oldest first.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Trace {
    /// How much of the newest step had run, 1 to 500 ms; zero for an empty trace.
    pub newest_ms: u16,
    /// At most twenty steps; fewer when the logger has seen less running since its start.
    pub steps: Vec<TraceStep, TRACE_STEPS>,
}

/// Half a second of running.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TraceStep {
    /// Edges in it.
    pub edges: u16,
    /// The knob's angle at its end; none while the sensor has a fault.
    pub angle: Option<RawAngle>,
}

/// Boot and uptime (of the record) paired with a wall clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Anchor {
    /// What the clock said.
    pub utc: UtcMillis,
    /// Which clock.
    pub source: ClockSource,
}

/// Where a wall-clock reading came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ClockSource {
    /// The battery-backed clock chip, which counts whole seconds.
    ClockChip,
    /// The host, during a pull.
    Host,
}

/// What the host may set. Every change is a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Settings {
    /// The machine on which the logger sits.
    pub machine: MachineTag,
    /// The knob counts as moved when its angle differs by more than this, in steps of a 12-bit turn.
    pub knob_step: u16,
    /// When the lamp speaks.
    pub limits: Limits,
}

impl Default for Settings {
    fn default() -> Self {
        Self { machine: MachineTag(0), knob_step: KNOB_STEP, limits: Limits::default() }
    }
}

/// When the lamp speaks: absolute lifetime run times, as the host computed them, and a knob ceiling.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limits {
    /// *Look when you stop* from this lifetime run time on.
    pub look_at: Option<RunMillis>,
    /// *Finish this line, then stop* from this lifetime run time on. The lamp only asks; the logger never stops a machine.
    pub stop_at: Option<RunMillis>,
    /// *Re-tension* from this lifetime run time on.
    pub retension_at: Option<RunMillis>,
    /// Run time from one re-tension press to the next lamp message, until the next pull.
    pub retension_every: Option<RunMillis>,
    /// Knob angles above the maker's own ceiling.
    pub ceiling: Option<Ceiling>,
}

/// An arc of knob angles, in the direction in which the knob speeds the machine up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ceiling {
    /// The first angle that is too fast.
    pub from: RawAngle,
    /// The last angle of the knob's travel; the arc runs upwards from `from`, over the wrap where `to` is smaller.
    pub to: RawAngle,
}

/// A fault of the logger's inputs or store.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Fault {
    /// The knob's sensor sees no magnet.
    MagnetMissing,
    /// The knob's magnet is too weak, or too far away.
    MagnetTooWeak,
    /// The knob's magnet is too strong, or too near.
    MagnetTooStrong,
    /// The knob's sensor does not answer.
    KnobSilent,
    /// The clock chip does not answer.
    ClockSilent,
    /// The clock chip answers, but has stood still: its battery is flat or new.
    ClockLost,
    /// More edges than any hand machine makes strokes.
    ImplausibleRate,
    /// The log has lost its oldest records to new ones before they were acknowledged.
    LogOverrun,
    /// A flash write did not read back as written.
    FlashWrite,
    /// The knob's dial gives a voltage below its travel: a wire to it is off, or touches ground.
    DialTooLow,
    /// The knob's dial gives a voltage above its travel: its ground wire is off, or a wire touches the supply.
    DialTooHigh,
    /// Edges were stamped that the counter did not count: a pulse too short for it, or a broken link between the two.
    StampsAlone,
    /// Edges were counted that nobody stamped: a pulse too short to be stamped, or a broken link between the two.
    CountsAlone,
    /// The knob's angle shakes by more than a knob step, or its sensor comes and goes.
    KnobShakes,
}

impl Fault {
    /// Every fault, in the order of its number.
    pub const ALL: [Self; 14] = [
        Self::MagnetMissing,
        Self::MagnetTooWeak,
        Self::MagnetTooStrong,
        Self::KnobSilent,
        Self::ClockSilent,
        Self::ClockLost,
        Self::ImplausibleRate,
        Self::LogOverrun,
        Self::FlashWrite,
        Self::DialTooLow,
        Self::DialTooHigh,
        Self::StampsAlone,
        Self::CountsAlone,
        Self::KnobShakes,
    ];

    /// Whether it is about the knob's sensor or dial, and means that there is no angle.
    #[must_use]
    pub const fn is_of_the_knob(self) -> bool {
        matches!(
            self,
            Self::MagnetMissing
                | Self::MagnetTooWeak
                | Self::MagnetTooStrong
                | Self::KnobSilent
                | Self::DialTooLow
                | Self::DialTooHigh
        )
    }

    /// Whether it is about the needle's or the knob's sensor.
    #[must_use]
    pub const fn is_input_fault(self) -> bool {
        self.is_of_the_knob()
            || matches!(
                self,
                Self::ImplausibleRate | Self::StampsAlone | Self::CountsAlone | Self::KnobShakes
            )
    }

    /// The one bit that stands for it where faults are told as a set, as in [`crate::link::LoggerStatus::faults`]: bit n for number n.
    #[must_use]
    pub const fn bit(self) -> u16 {
        1 << self as u16
    }

    /// The faults of a set, in the order of their numbers. Bits that stand for no fault known here are passed over.
    pub fn of_bits(bits: u16) -> impl Iterator<Item = Self> {
        Self::ALL.into_iter().filter(move |fault| bits & fault.bit() != 0)
    }
}

/// A fault appeared or went away.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FaultChange {
    /// Which fault.
    pub fault: Fault,
    /// Whether it is there from now on.
    pub present: bool,
}

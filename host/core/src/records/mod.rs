//! Records of the loggers: dates, bursts, knob places, and which logger sat on which machine.

pub mod bands;
pub mod bursts;
pub mod clock_marks;
mod clock_votes;
pub mod fittings;
pub mod index;
pub mod knob;
pub mod log_records;
pub mod not_recorded;
pub mod timeline;
pub mod when;

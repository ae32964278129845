//! A simulated machine with the real firmware on it, for tests and for the host's demo. Needs std.
//!
//! [`rig::Rig`] is the way in; a maker at work is a program that calls it:
//!
//! ```
//! use firmware::sim::rig::{Rig, RigSetup};
//! use shared_types::UtcMillis;
//! use shared_types::log::PressKind;
//!
//! let mut rig = Rig::new(RigSetup::default());
//! rig.power_on(UtcMillis(1_772_438_400_000));
//! let knob = rig.knob_at(600);
//! rig.set_tag(1);
//! rig.run_trigger(8_000, |_| knob);
//! rig.idle(4_000);
//! rig.press(PressKind::NearMiss);
//! rig.power_cut();
//! rig.power_on(UtcMillis(1_772_442_000_000));
//! // Nothing was running at the cut, so what the logger has kept is the truth.
//! assert_eq!(rig.logger().map(|logger| logger.totals()), Some(rig.truth().powered));
//! ```

pub mod clock_sim;
mod distributions;
pub mod needle_sim;
pub mod nor;
pub mod rig;
mod wires;

//! Commands of the logger.

mod calibrate;
mod confirm;
mod confirm_care;
mod doctor;
mod live;
mod pull;

pub use calibrate::guided;
pub use doctor::Doctor;
pub use live::Live;
pub use pull::{Pull, plugged_in, read_quietly};

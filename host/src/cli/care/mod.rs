//! Commands of care.

mod calendar;
mod done;
mod due;
mod new_part;
mod notice;
mod plan;
mod stock;
mod walk;

pub use calendar::Calendar;
pub use done::Done;
pub use due::Due;
pub use new_part::{asked, note};
pub use plan::Care;
pub use stock::Stock;
pub use walk::{ask_finding, walked};

use host_core::care::DueReport;

/// Shows on the desktop what is due.
pub fn tell_desktop(report: &DueReport) {
    notice::send(report, &notice::Desktop);
}

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

pub use notice::Desktop;

use crate::app::care::notify::Notifier;
use host_core::care::DueReport;

/// Shows what is due, on the desktop or wherever notifications go.
pub fn tell(report: &DueReport, notifier: &dyn Notifier) {
    notice::send(report, notifier);
}

//! What follows from the records and the maker's entries. No input, no output, no clock: "now" is an argument.
#![warn(missing_docs)]

pub mod attribution;
pub mod bands;
pub mod bursts;
pub mod care;
pub mod commission;
pub mod costing;
pub mod density;
pub mod entries;
pub mod facts;
pub mod fittings;
pub mod forecast;
pub mod hands;
pub mod harm_answers;
pub mod heavy_use;
pub mod hours;
pub mod hours_course;
pub mod job_sheet;
pub mod job_time;
pub mod knob;
pub mod ledger;
pub mod lending;
pub mod not_recorded;
pub mod own_rugs;
pub mod progress;
pub mod quote;
pub mod record_book;
pub mod rug_work;
pub mod session_list;
pub mod sessions;
pub mod slowing;
pub mod spread;
pub mod stages;
pub mod stats;
pub mod stock;
pub mod studio;
pub mod tears;
#[cfg(test)]
mod test_facts;
pub mod timeline;
pub mod usage;
pub mod vibration;
pub mod wear;
pub mod when;
pub mod work_order;
pub mod yarn;
pub mod year_days;

//! Commands of sessions that are typed in.

mod worked;

pub use worked::Worked;

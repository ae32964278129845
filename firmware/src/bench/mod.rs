//! Stand-ins for hardware, for tests and for the host's demo. Needs std.

pub mod nor;

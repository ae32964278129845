//! The database under a bad disk: the real program, killed, refused and lied to, and its answers on damaged files.

pub mod bytes;
pub mod disk;
pub mod program;
pub mod races;

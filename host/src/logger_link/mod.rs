//! How the program reaches a logger: over a serial port, in a saved file, or simulated. All of them speak frames.

pub mod discovery;
pub mod port_lock;
pub mod recorder;
pub mod saved;
pub mod serial;
pub mod simulated;
pub mod wire;

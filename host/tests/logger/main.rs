//! Reading loggers: over the cable, from a saved file, and from those that lie.

#[path = "../scripted/mod.rs"]
mod scripted;

mod doctor;
mod liars;
mod live;
mod port_lock;
mod pull;
mod pull_break;
mod pull_command;
mod pull_saved;

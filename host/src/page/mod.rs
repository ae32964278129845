//! The page beside the frame: a local server of pages that answer in one glance and take one tap.
//!
//! It listens on this computer alone unless a phone is let in. Nothing is written by reading a page; what is tapped is written
//! by one thread, which holds the database open.

mod answers;
mod assets;
mod care;
mod cloth;
mod day;
mod desk;
mod error;
mod forms;
mod frame;
mod guard;
mod heavy;
mod held;
mod live;
mod lock;
mod machine;
mod now;
mod pairing;
mod papers;
mod phones;
mod rugs;
mod sentences;
mod server;
mod settings;
mod shared;
mod steps;
mod stream;
mod taps;
mod way_in;
mod who;

pub use desk::PageClock;
pub use error::{Refused, ServeError};
pub use live::{Board, NoBoard};
pub use server::{Listening, World, serve};

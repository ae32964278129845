//! Use cases, and the ports through which they reach the logger, the store and the clock.

pub mod book;
pub mod care;
pub mod cloth;
pub mod hand;
pub mod heavy;
pub mod hours;
pub mod keeping;
pub mod logger;
pub mod machines;
pub mod money;
pub mod parts;
pub mod ports;
pub mod rugs;
pub mod sessions;
pub mod slowing;
pub mod today;
pub mod typed;
pub mod whole_book;

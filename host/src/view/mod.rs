//! How report structs are shown. No number is computed here.

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
pub mod plot;
pub mod rugs;
pub mod sessions;
pub mod slowing;
pub mod today;
pub mod words;

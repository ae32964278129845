//! How report structs are shown. No number is computed here.

pub mod due;
pub mod json;
pub mod tears;
pub mod words;

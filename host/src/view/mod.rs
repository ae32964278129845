//! How report structs are shown. No number is computed here.

pub mod json;

//! How report structs are shown. No number is computed here.

pub mod doctor;
pub mod json;
pub mod pull;

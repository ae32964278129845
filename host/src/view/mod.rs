//! How report structs are shown. No number is computed here.

pub mod doctor;
pub mod hours;
pub mod json;
pub mod machine;
pub mod plot;
pub mod pull;
pub mod rug;
pub mod table;
pub mod words;

//! How report structs are shown. No number is computed here.

pub mod demo;
pub mod doctor;
pub mod due;
pub mod hours;
pub mod json;
pub mod live;
pub mod machine;
pub mod plot;
pub mod pull;
pub mod rug;
pub mod table;
pub mod tears;
pub mod words;

//! How report structs are shown. No number is computed here.

pub mod demo;
pub mod doctor;
pub mod due;
pub mod exposure;
pub mod fault_trend;
pub mod heavy;
pub mod hours;
pub mod interval;
pub mod json;
pub mod lend;
pub mod live;
pub mod machine;
pub mod people;
pub mod plot;
pub mod pull;
pub mod quote;
pub mod rate;
pub mod record_book;
pub mod rug;
pub mod speed;
pub mod table;
pub mod tears;
pub mod verify;
pub mod wear;
pub mod words;

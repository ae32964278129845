//! How report structs are shown. No number is computed here.

pub mod demo;
pub mod doctor;
pub mod due;
pub mod exposure;
pub mod fault_trend;
pub mod heavy;
pub mod hours;
pub mod interval;
pub mod job;
pub mod job_sheet;
pub mod json;
pub mod live;
pub mod machine;
pub mod plot;
pub mod progress;
pub mod pull;
pub mod quote;
pub mod rate;
pub mod rug;
pub mod rug_book;
pub mod speed;
pub mod table;
pub mod tears;
pub mod wear;
pub mod words;

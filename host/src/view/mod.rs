//! How report structs are shown. No number is computed here.

pub mod care;
pub mod demo;
pub mod doctor;
pub mod due;
pub mod exposure;
pub mod fault_trend;
pub mod heavy;
pub mod hours;
pub mod interval;
pub mod json;
pub mod live;
pub mod machine;
pub mod part;
pub mod plot;
pub mod pull;
pub mod quote;
pub mod rate;
pub mod rug;
pub mod speed;
pub mod stock;
pub mod table;
pub mod tears;
pub mod wear;
pub mod words;

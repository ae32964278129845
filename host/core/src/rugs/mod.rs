//! Commissions: what was ordered, its work, yarn, stages and progress, its sheet, and what the next one is quoted from.

pub mod commission;
pub mod density;
pub mod job_time;
pub mod own_bench;
pub mod own_rugs;
pub mod price;
pub mod progress;
pub mod quiet;
pub mod quote;
pub mod quoted;
pub mod rug_work;
pub mod sheet;
pub mod stages;
pub mod work_order;
pub mod yarn;

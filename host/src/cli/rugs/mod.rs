//! Commands of commissions.

mod job;
mod quote;
mod rug;
mod rug_book;
mod rug_sheet;

pub use job::Job;
pub use quote::Quote;
pub use rug::Rug;

//! Commissions in words, their sheets and quotes.

pub mod job;
pub mod offer;
pub mod price;
pub mod progress;
pub mod quiet;
pub mod quote;
pub mod quote_sheet;
pub mod rug;
pub mod rug_book;
pub mod sheet;

pub use progress::in_short;
pub use rug::session_table;
pub use rug_book::stage_name;

//! The record book: one document per machine, and the chain that shows when something in it was changed afterwards.
//!
//! Every row that the program keeps for ever gets a link: a SHA-256 over the link before it and the row's own bytes
//! (`host/RECORD_BOOK.md` says exactly which). A row changed later no longer fits its link. Whoever changes a row and makes
//! all later links anew can only be caught with a head that was printed before; so the head stands in every printed book.

pub mod canonical;
pub mod chain;
pub mod check;
pub mod head;
pub mod hours;
pub mod lines;

pub use chain::Link;
pub use check::{Against, Break, ChainReport, Checker, Covers, Step, Why};
pub use head::{Head, NotAHead};

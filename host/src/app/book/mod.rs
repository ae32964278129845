//! The record book: reading it, and verifying what is kept.

pub mod record_book;
pub mod take_back;
pub mod verify;

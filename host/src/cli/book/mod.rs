//! Commands of the record book.

mod record_book;
mod verify;

pub use record_book::Book;
pub use verify::Verify;

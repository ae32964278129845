//! Commands of the record book.

mod record_book;
mod take_back;
mod verify;

pub use record_book::Book;
pub use take_back::TakeBack;
pub use verify::Verify;

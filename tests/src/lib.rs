//! What the cross-crate tests share.

pub mod arguments;
pub mod board_image;
pub mod board_torture;
pub mod cable;
pub mod coverage;
pub mod due_dates;
pub mod due_habits;
pub mod due_judges;
pub mod due_promise;
pub mod emulator;
pub mod fair;
pub mod flash_picture;
pub mod mutants;
pub mod power_cut;
pub mod slowing;
pub mod store_torture;
pub mod two_threads;
pub mod uf2;

//! What the cross-crate tests share.

pub mod board_image;
pub mod emulator;
pub mod uf2;
pub mod power_cut;

//! The manual for makers: what its pages show is what the program does.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

#[path = "../scripted/mod.rs"]
mod scripted;

mod commands;
mod error_codes;
mod links;
mod page;

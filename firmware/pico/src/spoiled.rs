//! The board's image with a precaution left out, so that its torture can show that it would notice. Never for a board.
//!
//! The same program under another name and in a file of its own: a spoiled image never stands where the real one is expected.
#![no_std]
#![no_main]

#[expect(unused_attributes, reason = "what a program says of itself is said above")]
#[path = "main.rs"]
mod board;

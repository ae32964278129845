#![no_std]
//! The logger without a chip.

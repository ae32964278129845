//! The computer side of Needlehours: reads the logger's records and answers from what the machine really did.
//!
//! `core` is pure and knows neither files nor clocks; `app` holds the use cases and the ports they need; the folders
//! beside them stand around `app` and may use it, never each other's insides.

pub mod app;
pub mod cli;
pub mod demo;
pub mod export_folder;
pub mod logger_link;
pub mod page;
pub mod store;
pub mod view;

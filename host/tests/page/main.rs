//! The page beside the frame, asked over plain HTTP.

#[path = "../bench_studio/mod.rs"]
mod bench_studio;

mod gates;
mod live;
mod numbers;
mod phones;
mod site;
mod taps;

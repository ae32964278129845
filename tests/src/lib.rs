//! What the cross-crate tests share.

pub mod power_cut;

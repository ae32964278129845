//! What the cross-crate tests share.

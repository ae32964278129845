//! Vibration at the hand.

pub mod vibration;

//! Our numbers against published ones.

mod published;
mod published_wear;
mod wear_simulated;

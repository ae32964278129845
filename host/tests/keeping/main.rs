//! Keeping what was entered: the database, its chain, backups, and what damages them.

#[path = "../bench_studio/mod.rs"]
mod bench_studio;

mod backups;
mod damage;
mod disks;
mod hand_on;
mod hand_on_refused;
mod races;
mod record_book;
mod record_chain;
mod record_tampering;
mod store;

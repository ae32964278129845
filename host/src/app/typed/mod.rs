//! What the maker typed, read: dates, measures, tables, names, and the numbers of machines and entries.

pub mod choose_machine;
pub mod column_table;
pub mod counting;
pub mod dates;
pub mod decimals;
pub mod error;
pub mod lasting;
pub mod lists;
pub mod measures;
pub mod names;
pub mod table_cell;
pub mod take_back;
pub mod withdrawn;
pub mod words;

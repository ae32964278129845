//! What the maker typed, read: dates, measures, tables, names, and the numbers of machines and entries.

pub mod column_table;
pub mod dates;
pub mod measures;
pub mod names;
pub mod request;
pub mod rug_problems;
pub mod table_cell;
pub mod take_back;
pub mod withdrawn;
pub mod words;

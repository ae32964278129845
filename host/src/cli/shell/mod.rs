//! What every command needs: exit codes, failures, values, files, the terminal.

pub mod ask;
pub mod command_env;
pub mod exit;
pub mod failure;
pub mod help;
pub mod keys;
pub mod manual;
pub mod numbers;
pub mod out_file;
pub mod quiet_days;
pub mod show;
pub mod table_file;
pub mod values;

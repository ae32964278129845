//! The folder of an export: tables as CSV, JSON lines and Parquet, and beside them what gives the database back, with sums over each
//! file. `host/EXPORT.md` is normative for all of it.

mod contents;
mod csv_table;
mod json_lines;
mod parquet_parts;
mod staging;
mod tables;
mod whole;

pub use contents::{Export, write_contents};
pub use staging::Staged;
pub use tables::TableFiles;
pub use whole::write_whole;

use std::path::{Path, PathBuf};

use crate::app::keeping::ExportError;

/// The folder of what gives the database back.
const WHOLE: &str = "whole";
/// The list of the export's files.
const CONTENTS: &str = "whole/contents.json";
/// The sum over that list, as `sha256sum -c` reads it.
const CONTENTS_SUM: &str = "whole/contents.json.sha256";
/// The page that documents the export.
const SCHEMA: &str = "SCHEMA.md";
/// Everything that an export has at its top.
const TOP: [&str; 4] = [SCHEMA, "parquet", "tables", WHOLE];

/// The documentation of the export, as it lies in every export.
pub const SCHEMA_TEXT: &str = include_str!("../../EXPORT.md");

fn unwritten<E: Into<Box<dyn std::error::Error + Send + Sync>>>(
    path: &Path,
) -> impl FnOnce(E) -> ExportError {
    let path: PathBuf = path.to_owned();
    move |source| ExportError::Write { path, source: source.into() }
}

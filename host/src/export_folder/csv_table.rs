//! A table as comma-separated values: a line of names, then a line a row; null is an empty cell.

use std::fs::File;
use std::path::{Path, PathBuf};

use super::unwritten;
use crate::app::keeping::ExportError;
use crate::app::keeping::export::{Cell, Shape};
use crate::view::words::values::safe;

/// A table being written.
#[derive(Debug)]
pub struct CsvTable {
    out: csv::Writer<File>,
    path: PathBuf,
}

impl CsvTable {
    /// Makes the file with its line of names.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn begin(path: &Path, shape: &Shape) -> Result<Self, ExportError> {
        let file = File::create_new(path).map_err(unwritten(path))?;
        let mut table = Self { out: csv::Writer::from_writer(file), path: path.to_owned() };
        let names = ["studio"].into_iter().chain(shape.columns.iter().map(|column| column.name));
        table.out.write_record(names).map_err(unwritten(path))?;
        Ok(table)
    }

    /// Adds a row.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn row(&mut self, studio: &str, cells: &[Cell<'_>]) -> Result<(), ExportError> {
        let told = |cell: &Cell<'_>| match cell {
            Cell::Null => String::new(),
            Cell::Integer(number) => number.to_string(),
            Cell::Number(number) => number.to_string(),
            Cell::Boolean(claim) => claim.to_string(),
            Cell::Text(text) => safe(text),
        };
        let row = [studio.to_owned()].into_iter().chain(cells.iter().map(told));
        self.out.write_record(row).map_err(unwritten(&self.path))
    }

    /// Writes what is left.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn end(mut self) -> Result<(), ExportError> {
        self.out.flush().map_err(unwritten(&self.path))
    }
}

//! A table as lines of JSON: an object a row, its keys in the order of the columns.

use std::fs::File;
use std::io::{BufWriter, Write as _};
use std::path::{Path, PathBuf};

use serde_json::Value;

use super::unwritten;
use crate::app::keeping::ExportError;
use crate::app::keeping::export::{Cell, Shape};

/// A table being written.
#[derive(Debug)]
pub struct JsonTable {
    out: BufWriter<File>,
    path: PathBuf,
}

impl JsonTable {
    /// Makes the file.
    ///
    /// # Errors
    /// When it cannot be made.
    pub fn begin(path: &Path) -> Result<Self, ExportError> {
        let file = File::create_new(path).map_err(unwritten(path))?;
        Ok(Self { out: BufWriter::new(file), path: path.to_owned() })
    }

    /// Adds a row.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn row(&mut self, studio: &str, shape: &Shape, cells: &[Cell<'_>]) -> Result<(), ExportError> {
        let mut line = format!("{{\"studio\":{}", Value::from(studio));
        for (column, cell) in shape.columns.iter().zip(cells) {
            let value = match cell {
                Cell::Null => Value::Null,
                Cell::Integer(number) => (*number).into(),
                Cell::Number(number) => (*number).into(),
                Cell::Boolean(claim) => (*claim).into(),
                Cell::Text(text) => text.as_ref().into(),
            };
            line.push_str(&format!(",\"{}\":{value}", column.name));
        }
        line.push_str("}\n");
        self.out.write_all(line.as_bytes()).map_err(unwritten(&self.path))
    }

    /// Writes what is left.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn end(mut self) -> Result<(), ExportError> {
        self.out.flush().map_err(unwritten(&self.path))
    }
}

//! Tables in all three formats at once.

use std::fs;
use std::path::{Path, PathBuf};

use super::csv_table::CsvTable;
use super::json_lines::JsonTable;
use super::parquet_parts::ParquetTable;
use super::unwritten;
use crate::app::keeping::ExportError;
use crate::app::keeping::export::{Cell, Shape, TableSink};
use crate::app::keeping::whole::StudioId;

/// The files of all tables of an export.
#[derive(Debug)]
pub struct TableFiles {
    root: PathBuf,
    studio: StudioId,
    open: Option<Open>,
    written: Vec<(&'static str, u64)>,
}

#[derive(Debug)]
struct Open {
    shape: &'static Shape,
    rows: u64,
    csv: CsvTable,
    json: JsonTable,
    parquet: ParquetTable,
}

impl TableFiles {
    /// Prepares the folders below an export's own.
    ///
    /// # Errors
    /// When they cannot be made.
    pub fn below(root: &Path, studio: &StudioId) -> Result<Self, ExportError> {
        let tables = root.join("tables");
        fs::create_dir(&tables).map_err(unwritten(&tables))?;
        Ok(Self { root: root.to_owned(), studio: studio.clone(), open: None, written: Vec::new() })
    }

    /// The tables that were written, each with its rows.
    #[must_use]
    pub fn written(&self) -> &[(&'static str, u64)] {
        &self.written
    }
}

impl TableSink for TableFiles {
    fn begin(&mut self, shape: &'static Shape) -> Result<(), ExportError> {
        let file = |ending: &str| self.root.join("tables").join(format!("{}.{ending}", shape.name));
        self.open = Some(Open {
            shape,
            rows: 0,
            csv: CsvTable::begin(&file("csv"), shape)?,
            json: JsonTable::begin(&file("jsonl"))?,
            parquet: ParquetTable::begin(&self.root.join("parquet"), &self.studio.0, shape)?,
        });
        Ok(())
    }

    fn row(&mut self, cells: &[Cell<'_>]) -> Result<(), ExportError> {
        let Some(open) = &mut self.open else { return Ok(()) };
        debug_assert_eq!(cells.len(), open.shape.columns.len(), "{}", open.shape.name);
        open.rows += 1;
        open.csv.row(&self.studio.0, cells)?;
        open.json.row(&self.studio.0, open.shape, cells)?;
        open.parquet.row(cells)
    }

    fn end(&mut self) -> Result<(), ExportError> {
        let Some(open) = self.open.take() else { return Ok(()) };
        self.written.push((open.shape.name, open.rows));
        open.csv.end()?;
        open.json.end()?;
        open.parquet.end()
    }
}

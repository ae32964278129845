//! A table as Parquet files, laid out by studio, machine and year as engines expect it of partitioned tables: what stands in a
//! folder's name stands in no file.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::mem;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::parser::parse_message_type;
use parquet::schema::types::Type;

use super::unwritten;
use crate::app::keeping::ExportError;
use crate::app::keeping::export::{Cell, Column, Kind, Shape};

/// At most so many rows of a table wait in memory; then those of the fullest part are written.
const MOST_WAITING: usize = 131_072;

/// A machine and a year; 0 and none where there is none.
type PartName = (i64, Option<u16>);

/// A table being written.
#[derive(Debug)]
pub struct ParquetTable {
    folder: PathBuf,
    shape: &'static Shape,
    schema: Arc<Type>,
    parts: BTreeMap<PartName, Part>,
    waiting: usize,
}

#[derive(Debug, Default)]
struct Part {
    writer: Option<(SerializedFileWriter<File>, PathBuf)>,
    rows: usize,
    columns: Vec<Waiting>,
}

/// Cells of one column that wait to be written: those that are there, and for each row whether it is (1) or not (0).
#[derive(Debug, Default)]
struct Waiting {
    integers: Vec<i64>,
    numbers: Vec<f64>,
    booleans: Vec<bool>,
    texts: Vec<ByteArray>,
    levels: Vec<i16>,
}

impl ParquetTable {
    /// Begins a table below a folder, in which its own is made.
    ///
    /// # Errors
    /// When the shape is none of Parquet's, which is a mistake of the programmer.
    pub fn begin(folder: &Path, studio: &str, shape: &'static Shape) -> Result<Self, ExportError> {
        let folder = folder.join(shape.name).join(format!("studio={studio}"));
        let schema = parse_message_type(&message(shape)).map_err(unwritten(&folder))?;
        Ok(Self { folder, shape, schema: Arc::new(schema), parts: BTreeMap::new(), waiting: 0 })
    }

    /// Adds a row.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn row(&mut self, cells: &[Cell<'_>]) -> Result<(), ExportError> {
        let name = (self.shape.machine(cells), self.shape.year(cells));
        let part = self.parts.entry(name).or_default();
        part.columns.resize_with(self.shape.columns.len(), Waiting::default);
        for (waiting, cell) in part.columns.iter_mut().zip(cells) {
            waiting.add(cell);
        }
        part.rows += 1;
        self.waiting += 1;
        if self.waiting < MOST_WAITING {
            return Ok(());
        }
        let fullest = self.parts.iter_mut().max_by_key(|(_, part)| part.rows);
        if let Some((name, part)) = fullest {
            self.waiting -= part.rows;
            write(part, &self.folder, *name, self.shape, &self.schema)?;
        }
        Ok(())
    }

    /// Writes what is left. A table without rows leaves one file that says its columns.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn end(mut self) -> Result<(), ExportError> {
        if self.parts.is_empty() {
            self.parts.insert((0, None), Part::default());
        }
        for (name, mut part) in self.parts {
            write(&mut part, &self.folder, name, self.shape, &self.schema)?;
            if let Some((writer, path)) = part.writer {
                writer.close().map_err(unwritten(&path))?;
            }
        }
        Ok(())
    }
}

/// The columns that stand in a table's files, with their places.
fn own_columns(shape: &'static Shape) -> impl Iterator<Item = (usize, &'static Column)> {
    shape.columns.iter().enumerate().filter(|(_, column)| column.name != "machine")
}

fn message(shape: &'static Shape) -> String {
    let column = |(_, column): (usize, &Column)| {
        let repetition = if column.may_be_null { "OPTIONAL" } else { "REQUIRED" };
        let (kind, note) = match column.kind {
            Kind::Integer => ("INT64", ""),
            Kind::Number => ("DOUBLE", ""),
            Kind::Boolean => ("BOOLEAN", ""),
            Kind::Text => ("BYTE_ARRAY", " (UTF8)"),
        };
        format!("  {repetition} {kind} {}{note};\n", column.name)
    };
    format!("message {} {{\n{}}}", shape.name, own_columns(shape).map(column).collect::<String>())
}

impl Waiting {
    fn add(&mut self, cell: &Cell<'_>) {
        match cell {
            Cell::Null => {}
            Cell::Integer(number) => self.integers.push(*number),
            Cell::Number(number) => self.numbers.push(*number),
            Cell::Boolean(claim) => self.booleans.push(*claim),
            Cell::Text(text) => {
                // Most texts are those of the row before, and share its bytes.
                let before = self.texts.last().filter(|before| before.data() == text.as_bytes()).cloned();
                self.texts.push(before.unwrap_or_else(|| ByteArray::from(text.as_ref())));
            }
        }
        self.levels.push(i16::from(*cell != Cell::Null));
    }
}

/// Writes the rows that wait, into the part's own file.
fn write(
    part: &mut Part,
    folder: &Path,
    (machine, year): PartName,
    shape: &'static Shape,
    schema: &Arc<Type>,
) -> Result<(), ExportError> {
    let (writer, path) = match &mut part.writer {
        Some(open) => open,
        closed @ None => {
            let year = year.map_or_else(|| "unknown".to_owned(), |year| format!("{year:04}"));
            let folder = folder.join(format!("machine={machine}")).join(format!("year={year}"));
            fs::create_dir_all(&folder).map_err(unwritten(&folder))?;
            let path = folder.join("part-0.parquet");
            let file = File::create_new(&path).map_err(unwritten(&path))?;
            let by = format!("needlehours {}", env!("CARGO_PKG_VERSION"));
            let properties = Arc::new(WriterProperties::builder().set_created_by(by).build());
            let writer = SerializedFileWriter::new(file, Arc::clone(schema), properties);
            closed.insert((writer.map_err(unwritten(&path))?, path))
        }
    };
    if part.rows > 0 {
        let columns = mem::take(&mut part.columns);
        part.rows = 0;
        let group = writer.next_row_group().map_err(unwritten(path))?;
        row_group(group, shape, &columns).map_err(unwritten(path))?;
    }
    Ok(())
}

fn row_group(
    mut group: SerializedRowGroupWriter<'_, File>,
    shape: &'static Shape,
    columns: &[Waiting],
) -> Result<(), ParquetError> {
    for (place, column) in own_columns(shape) {
        let (Some(waiting), Some(mut writer)) = (columns.get(place), group.next_column()?) else { continue };
        cells(&mut writer, column, waiting)?;
        writer.close()?;
    }
    group.close().map(drop)
}

fn cells(
    writer: &mut SerializedColumnWriter<'_>,
    column: &Column,
    waiting: &Waiting,
) -> Result<(), ParquetError> {
    let levels = column.may_be_null.then_some(waiting.levels.as_slice());
    let written = match column.kind {
        Kind::Integer => writer.typed::<Int64Type>().write_batch(&waiting.integers, levels, None),
        Kind::Number => writer.typed::<DoubleType>().write_batch(&waiting.numbers, levels, None),
        Kind::Boolean => writer.typed::<BoolType>().write_batch(&waiting.booleans, levels, None),
        Kind::Text => writer.typed::<ByteArrayType>().write_batch(&waiting.texts, levels, None),
    };
    written.map(drop)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::keeping::export::TABLES;

    #[test]
    fn every_table_has_a_schema_that_parquet_reads() {
        for shape in TABLES {
            let schema = parse_message_type(&message(shape)).unwrap();
            assert_eq!(schema.get_fields().len(), own_columns(shape).count(), "{}", shape.name);
        }
    }
}

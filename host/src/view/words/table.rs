//! The one table style: a line under the heads, no boxes, numbers to the right, the same width everywhere.

use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, Table as Grid, TableStyle, presets};

/// Widest table in characters; explicit, so that the same report looks the same on every terminal and in a file.
pub const WIDTH: u16 = 80;

/// One column.
#[derive(Clone, Copy, Debug)]
pub enum Column {
    /// Words, to the left.
    Words(&'static str),
    /// Numbers, to the right.
    Numbers(&'static str),
    /// Dates, to the left and never broken over two lines.
    Dates(&'static str),
}

impl Column {
    /// What stands over it.
    #[must_use]
    pub const fn head(self) -> &'static str {
        match self {
            Self::Words(head) | Self::Numbers(head) | Self::Dates(head) => head,
        }
    }
}

/// What a row is.
#[derive(Debug, PartialEq, Eq)]
pub enum RowKind {
    /// One of many.
    Plain,
    /// It sums up the rows before it.
    Total,
    /// It counts no more, and why: a page strikes it through and says so.
    Struck(String),
}

/// One row.
#[derive(Debug)]
pub struct Row {
    /// Its cells.
    pub cells: Vec<String>,
    /// What it is.
    pub kind: RowKind,
}

/// A table that is being filled.
#[derive(Debug)]
pub struct Table {
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows.
    pub rows: Vec<Row>,
    /// What the style of a page calls it, where it has widths of its own.
    pub class: &'static str,
}

impl Table {
    /// A table with these columns.
    #[must_use]
    pub fn new(columns: &[Column]) -> Self {
        Self { columns: columns.to_vec(), rows: Vec::new(), class: "" }
    }

    /// Adds a row; missing cells at its end stay empty.
    pub fn row<C: Into<String>>(&mut self, cells: impl IntoIterator<Item = C>) {
        self.row_of(RowKind::Plain, cells);
    }

    /// Adds a row of a kind.
    pub fn row_of<C: Into<String>>(&mut self, kind: RowKind, cells: impl IntoIterator<Item = C>) {
        self.rows.push(Row { cells: cells.into_iter().map(Into::into).collect(), kind });
    }

    /// Whether there is a row.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The table as text, without a line break at its end and without blanks at the ends of its lines.
    #[must_use]
    pub fn text(&self) -> String {
        let mut grid = Grid::new();
        grid.load_style(STYLE).set_width(WIDTH).set_content_arrangement(ContentArrangement::Dynamic);
        grid.set_header(self.columns.iter().map(|column| column.head()));
        for row in &self.rows {
            grid.add_row(&row.cells);
        }
        for (index, column) in self.columns.iter().enumerate() {
            let Some(shown) = grid.column_mut(index) else { continue };
            shown.set_padding((0, 1));
            match column {
                Column::Words(_) => {}
                Column::Numbers(_) => {
                    shown.set_cell_alignment(CellAlignment::Right);
                }
                Column::Dates(_) => {
                    shown.set_constraint(ColumnConstraint::ContentWidth);
                }
            }
        }
        grid.trim_fmt()
    }
}

const STYLE: TableStyle =
    presets::NOTHING.header_separator(comfy_table::LineStyle::none().fill('-').junction('-'));

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stand_to_the_right_and_lines_end_without_blanks() {
        let mut table =
            Table::new(&[Column::Words("rug"), Column::Numbers("strokes"), Column::Words("state")]);
        table.row(["Fox", "1,200", "resting"]);
        table.row(["Harbour", "7"]);
        let text = table.text();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), 4);
        assert_eq!(lines.first().map(|line| line.trim()), Some("rug      strokes  state"));
        assert!(lines.iter().all(|line| line.trim_end() == *line), "{text}");
        let column_end = |line: &str, word: &str| line.find(word).map(|start| start + word.len());
        assert_eq!(
            column_end(lines.get(2).unwrap_or(&""), "1,200"),
            column_end(lines.get(3).unwrap_or(&""), "7")
        );
    }
}

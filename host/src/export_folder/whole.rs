//! What gives the database back, as files of JSON lines.

use std::fs::{self, File};
use std::io::{BufWriter, Write as _};
use std::path::Path;

use super::{SCHEMA, SCHEMA_TEXT, WHOLE, unwritten};
use crate::app::keeping::ExportError;
use crate::app::keeping::whole::WholePart;

/// Writes the parts below an export's folder, and the page that documents it. `lines` hands over the lines of a part.
///
/// # Errors
/// As `lines`, or when a file cannot be written.
pub fn write_whole(
    root: &Path,
    with_names: bool,
    lines: impl Fn(WholePart, &mut dyn FnMut(&str) -> Result<(), ExportError>) -> Result<(), ExportError>,
) -> Result<(), ExportError> {
    let folder = root.join(WHOLE);
    fs::create_dir(&folder).map_err(unwritten(&folder))?;
    for part in WholePart::ALL.into_iter().filter(|part| with_names || *part != WholePart::Names) {
        let path = root.join(part.file());
        let mut out = BufWriter::new(File::create_new(&path).map_err(unwritten(&path))?);
        lines(part, &mut |line| writeln!(out, "{line}").map_err(unwritten(&path)))?;
        out.flush().map_err(unwritten(&path))?;
    }
    let page = root.join(SCHEMA);
    fs::write(&page, SCHEMA_TEXT).map_err(unwritten(&page))
}

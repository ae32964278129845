//! A logger on a USB serial port.
//!
//! Data terminal ready is raised on opening, because some systems do not do it by themselves and the logger waits for
//! it. The port is opened for one program at a time: a second pull gets an error instead of half the answers.

use std::time::Duration;

use serialport::SerialPort;

use crate::app::ports::LoggerError;

/// USB ignores it; a serial adapter in between does not.
const BAUD: u32 = 115_200;
/// How long one read waits before it says that nothing came.
const QUIET: Duration = Duration::from_millis(150);

/// Opens a port by its name.
///
/// # Errors
/// `Open` when there is no such port, no right to it, or another program holds it.
pub fn open(port: &str) -> Result<Box<dyn SerialPort>, LoggerError> {
    serialport::new(port, BAUD)
        .timeout(QUIET)
        .dtr_on_open(true)
        .open()
        .map_err(|error| LoggerError::Open { place: port.to_owned(), source: error.into() })
}

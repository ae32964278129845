//! What an image has left in a flash chip, kept so that every later image can be started on it.
//!
//! Once for each released image, the image itself is kept too (`NAME.bin`: flash from its start), so that it can go on with what a later
//! one has left.
//!
//! Two text files for each picture. `NAME.flash` holds the chip's settings and log, blank bytes left out: an address in hexadecimal
//! digits and the bytes that stand there, one run to a line. `NAME.told` holds what that image said of them itself: its greeting, then
//! each record's number and body. Once kept, a picture never changes.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "a test may stop at the first surprise"
)]

use std::fmt::Write;
use std::path::{Path, PathBuf};

use serde_json::json;
use shared_types::RecordSeq;
use shared_types::limits::MAX_MESSAGE;
use shared_types::link::{LoggerStatus, Reply, decode_message, encode_message};

use crate::board_image::{Contents, FlashPiece, board_image, source_tree};
use crate::emulator::{Emulator, from_hex, to_hex};

/// Settings and log, in bytes from the start of flash: where every logger in use has them.
const STORE: std::ops::Range<usize> = 0x2_8000..0x20_0000;
/// Bytes on one line at most.
const LINE: usize = 64;

/// A chip's settings and log, and what the image that wrote them said of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FlashPicture {
    /// Runs of bytes that are not blank, in ascending order.
    pub pieces: Vec<FlashPiece>,
    /// The last greeting.
    pub status: LoggerStatus,
    /// Every record: its number and its body as it came over the link.
    pub records: Vec<(RecordSeq, Vec<u8>)>,
}

impl FlashPicture {
    /// Takes a picture of a board, and its power away.
    ///
    /// # Panics
    /// When there is no log.
    #[must_use]
    pub fn take(mut board: Emulator) -> Self {
        let records = board.raw_records();
        let status = board.status();
        board.perform(&json!({ "op": "power_off" }));
        let folder = tempfile_name();
        board.perform(&json!({ "op": "save_flash", "path": folder }));
        let chip = std::fs::read(&folder).expect("the emulator has saved the chip");
        drop(std::fs::remove_file(&folder));
        Self { pieces: pieces_of(&chip), status, records }
    }

    /// Writes both files of a picture that is not there yet.
    ///
    /// # Errors
    /// When it is there: a picture never changes. Otherwise as the system.
    pub fn keep(&self, name: &str) -> std::io::Result<()> {
        let mut flash = String::new();
        for FlashPiece { offset, bytes } in &self.pieces {
            writeln!(flash, "{offset:06x} {}", to_hex(bytes)).expect("a string takes text");
        }
        let mut message = [0; MAX_MESSAGE];
        let status =
            encode_message(&Reply::LoggerStatus(self.status.clone()), &mut message).expect("a greeting fits");
        let mut told = format!("hello {}\n", to_hex(status));
        for (seq, body) in &self.records {
            writeln!(told, "{} {}", seq.0, to_hex(body)).expect("a string takes text");
        }
        for (ending, text) in [("flash", flash), ("told", told)] {
            use std::io::Write as _;
            std::fs::File::create_new(file(name, ending))?.write_all(text.as_bytes())?;
        }
        Ok(())
    }

    /// Reads a picture.
    ///
    /// # Panics
    /// When it is not there or is none.
    #[must_use]
    pub fn read(name: &str) -> Self {
        let text = |ending| std::fs::read_to_string(file(name, ending)).expect("a picture that was kept");
        let split = |line: &str| -> (String, Vec<u8>) {
            let (front, hex) = line.split_once(' ').expect("two words in a line");
            (front.to_owned(), from_hex(hex))
        };
        let (flash, told) = (text("flash"), text("told"));
        let pieces = flash.lines().map(split).map(|(offset, bytes)| FlashPiece {
            offset: u32::from_str_radix(&offset, 16).expect("an address"),
            bytes,
        });
        let told: Vec<_> = told.lines().map(split).collect();
        let status = match decode_message(&told[0].1) {
            Ok(Reply::LoggerStatus(status)) => status,
            other => panic!("not a greeting: {other:?}"),
        };
        let records =
            told[1..].iter().map(|(seq, body)| (RecordSeq(seq.parse().expect("a number")), body.clone()));
        Self { pieces: pieces.collect(), status, records: records.collect() }
    }

    /// A board with today's image on a chip with this picture, started, its port open.
    ///
    /// # Panics
    /// When it does not start.
    #[must_use]
    pub fn start_todays_image(&self) -> Emulator {
        self.start_image(&todays_image())
    }

    /// As [`Self::start_todays_image`], with another image.
    ///
    /// # Panics
    /// When it does not start.
    #[must_use]
    pub fn start_image(&self, image: &[u8]) -> Emulator {
        let mut board = Emulator::start();
        board.perform(&json!({ "op": "power_off" }));
        put_image(&mut board, image);
        for FlashPiece { offset, bytes } in &self.pieces {
            board.perform(&json!({ "op": "write_flash", "at": offset, "hex": to_hex(bytes) }));
        }
        board.power_cycle();
        board
    }
}

/// What stands in flash in front of the settings, with the image of today's sources.
#[must_use]
pub fn todays_image() -> Vec<u8> {
    let mut image = Vec::new();
    for FlashPiece { offset, bytes } in Contents::read(board_image()).pieces {
        image.resize(offset as usize, 0xFF);
        image.extend(bytes);
    }
    image
}

/// The same with a released image, built by `cargo build --release` from the sources of that version.
///
/// # Panics
/// When it was not kept.
#[must_use]
pub fn released_image(name: &str) -> Vec<u8> {
    std::fs::read(file(name, "bin")).expect("an image that was kept")
}

/// Writes an image under a board's settings and log, as a maker does who drags a file onto it. Its power goes, and stays away.
pub fn put_image(board: &mut Emulator, image: &[u8]) {
    board.perform(&json!({ "op": "power_off" }));
    let mut region = image.to_vec();
    region.resize(STORE.start, 0xFF);
    for (place, bytes) in region.chunks(4_096).enumerate() {
        board.perform(&json!({ "op": "write_flash", "at": place * 4_096, "hex": to_hex(bytes) }));
    }
}

/// Where a picture's files lie.
#[must_use]
pub fn file(name: &str, ending: &str) -> PathBuf {
    source_tree().join("tests/golden").join(format!("{name}.{ending}"))
}

fn tempfile_name() -> PathBuf {
    source_tree().join(Path::new(&format!("target/flash-picture-{}.bin", std::process::id())))
}

fn pieces_of(chip: &[u8]) -> Vec<FlashPiece> {
    STORE
        .step_by(LINE)
        .filter_map(|at| {
            let line = &chip[at..at + LINE];
            let last = line.iter().rposition(|byte| *byte != 0xFF)?;
            let first = line.iter().position(|byte| *byte != 0xFF)?;
            Some(FlashPiece { offset: (at + first) as u32, bytes: line[first..=last].to_vec() })
        })
        .collect()
}

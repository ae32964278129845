//! The folder of the demo. A folder that the demo did not make keeps what is in it.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use miette::Diagnostic;
use thiserror::Error;

/// Says whose the folder is.
const NOTE: &str = "made-up-studio.txt";
const NOTE_TEXT: &str =
    "Everything in this folder is made up by `needlehours demo`, which replaces it when it runs again.\n";

/// The files of one demo.
#[derive(Clone, Debug)]
pub struct DemoFolder {
    /// The database of the studio with the clock chip.
    pub database: PathBuf,
    /// The database of the studio without.
    pub without_clock: PathBuf,
    /// The database of the maker without a board.
    pub without_board: PathBuf,
    /// Where the papers lie.
    folder: PathBuf,
}

/// A picture or page of the demo.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// Times and tears of each rug.
    Usage,
    /// Where the knob stood, rug by rug.
    Knob,
    /// Running hours as they grew.
    Hours,
    /// The year by day.
    Year,
    /// Strokes per square metre.
    Density,
    /// Tears by knob.
    Tears,
    /// Cost by speed.
    Cost,
    /// The seconds before tears.
    Traces,
    /// Stroke rates over time.
    Slowing,
    /// A rug's sheet for the maker.
    JobSheet,
    /// The same rug's card for the client.
    ClientCard,
    /// Due dates.
    Calendar,
    /// The machine's record book.
    RecordBook,
    /// Of the maker without a board: hours per rug, by knob.
    WithoutBoardUsage,
    /// Of her: a rug's sheet.
    WithoutBoardSheet,
    /// Of her: what the next rug will take.
    WithoutBoardQuote,
    /// Of her: the card that she fills in by hand.
    WithoutBoardWeekCard,
}

impl Paper {
    /// All of them, in the order in which they are told.
    pub const ALL: [Self; 17] = [
        Self::Usage,
        Self::Knob,
        Self::Hours,
        Self::Year,
        Self::Density,
        Self::Tears,
        Self::Cost,
        Self::Traces,
        Self::Slowing,
        Self::JobSheet,
        Self::ClientCard,
        Self::Calendar,
        Self::RecordBook,
        Self::WithoutBoardUsage,
        Self::WithoutBoardSheet,
        Self::WithoutBoardQuote,
        Self::WithoutBoardWeekCard,
    ];

    /// Its file's name.
    #[must_use]
    pub const fn file(self) -> &'static str {
        match self {
            Self::Usage => "usage.svg",
            Self::Knob => "knob.svg",
            Self::Hours => "hours.svg",
            Self::Year => "year.svg",
            Self::Density => "density.svg",
            Self::Tears => "tears.svg",
            Self::Cost => "cost.svg",
            Self::Traces => "traces.svg",
            Self::Slowing => "slowing.svg",
            Self::JobSheet => "job-sheet.html",
            Self::ClientCard => "client-card.html",
            Self::Calendar => "care.ics",
            Self::RecordBook => "record-book.html",
            Self::WithoutBoardUsage => "without-board-usage.svg",
            Self::WithoutBoardSheet => "without-board-job-sheet.html",
            Self::WithoutBoardQuote => "without-board-quote.html",
            Self::WithoutBoardWeekCard => "without-board-week-card.html",
        }
    }

    /// What it shows, in words.
    #[must_use]
    pub const fn shows(self) -> &'static str {
        match self {
            Self::Usage => "each rug's time at the frame, how long of it the motor ran, and its tears",
            Self::Knob => "where the knob stood while the motor ran, rug by rug",
            Self::Hours => "running hours as they grew, with the care given",
            Self::Year => "the year, a line a month",
            Self::Density => "strokes per square metre, rug by rug",
            Self::Tears => "tears and near-misses among the strokes, from slow to fast",
            Self::Cost => "what a rug costs at each speed",
            Self::Traces => "the knob in the seconds before tears",
            Self::Slowing => "whether the machine is slowing down",
            Self::JobSheet => "the first rug's sheet, for the maker",
            Self::ClientCard => "the same rug's card, for whoever ordered it",
            Self::Calendar => "due dates, for a calendar",
            Self::RecordBook => "the machine's record book, to print",
            Self::WithoutBoardUsage => "without a board: hours per rug, as typed in",
            Self::WithoutBoardSheet => "without a board: her first rug's sheet",
            Self::WithoutBoardQuote => "without a board: what her next rug will take",
            Self::WithoutBoardWeekCard => "without a board: the card that she fills in at the frame",
        }
    }
}

impl DemoFolder {
    /// Where a paper lies.
    #[must_use]
    pub fn paper(&self, paper: Paper) -> PathBuf {
        self.folder.join(paper.file())
    }

    /// The papers that were written.
    pub fn papers(&self) -> impl Iterator<Item = Paper> + '_ {
        Paper::ALL.into_iter().filter(|paper| self.paper(*paper).exists())
    }
}

/// Why the folder cannot be used.
#[derive(Debug, Error, Diagnostic)]
pub enum FolderError {
    /// There are files of the demo's names that it did not make.
    #[error("{} holds files that the demo did not make", path.display())]
    #[diagnostic(code(demo::folder), help("Name another folder with --dir. Nothing was changed."))]
    NotOurs {
        /// The folder.
        path: PathBuf,
    },
    /// The folder cannot be made or written to.
    #[error("cannot write to {}", path.display())]
    #[diagnostic(
        code(demo::folder),
        help("Check that you may write there, or name another folder with --dir.")
    )]
    Unwritable {
        /// The folder or file.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: io::Error,
    },
}

/// Makes the folder ready: makes it, and takes away what an earlier demo left.
///
/// # Errors
/// When it holds files of somebody else's under the demo's names, or cannot be written to; nothing was taken away then.
pub fn prepare(path: &Path) -> Result<DemoFolder, FolderError> {
    let folder = DemoFolder {
        database: path.join("demo.db"),
        without_clock: path.join("demo-without-clock.db"),
        without_board: path.join("demo-without-board.db"),
        folder: path.to_owned(),
    };
    let note = path.join(NOTE);
    let is_ours = fs::read_to_string(&note).is_ok_and(|text| text == NOTE_TEXT);
    let databases = [&folder.database, &folder.without_clock, &folder.without_board];
    let papers = Paper::ALL.map(|paper| folder.paper(paper));
    if !is_ours && databases.into_iter().chain(&papers).any(|file| file.exists()) {
        return Err(FolderError::NotOurs { path: path.to_owned() });
    }
    let unwritable = |path: &Path| {
        let path = path.to_owned();
        move |source| FolderError::Unwritable { path, source }
    };
    fs::create_dir_all(path).map_err(unwritable(path))?;
    fs::write(&note, NOTE_TEXT).map_err(unwritable(&note))?;
    let beside = |file: &PathBuf, ending: &str| {
        let mut name = file.as_os_str().to_owned();
        name.push(ending);
        PathBuf::from(name)
    };
    let of_databases =
        databases.iter().flat_map(|file| ["", "-wal", "-shm"].map(|ending| beside(file, ending)));
    for file in of_databases.chain(papers) {
        match fs::remove_file(&file) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(unwritable(&file)(error)),
            _ => {}
        }
    }
    Ok(folder)
}

//! Tells a journal that was damaged from one that a power cut left unfinished.
//!
//! SQLite reads a write-ahead log up to the first frame that does not fit and takes the rest for unfinished, so one changed
//! byte in it would silently take back everything that was kept since the file was last brought up to date. But an act is on
//! the disk before the next one is written (`synchronous = FULL`): where frames of a later act stand behind a frame that does
//! not fit, that frame was once whole. The last act alone cannot be judged so. The layout is that of SQLite's "WAL-Mode File
//! Format", sections 1 and 2.

use std::fs;
use std::path::Path;

const HEAD: usize = 32;
const FRAME_HEAD: usize = 24;

/// Whether the journal beside a database has lost something that was kept. A journal that cannot be read is SQLite's matter.
pub fn is_damaged(database: &Path) -> bool {
    let mut name = database.as_os_str().to_owned();
    name.push("-wal");
    let look = || fs::read(Path::new(&name)).ok().filter(|journal| has_lost(journal));
    // Somebody may be writing it anew right now; damage stays as it is.
    look().is_some_and(|first| look().is_some_and(|second| first == second))
}

fn has_lost(journal: &[u8]) -> bool {
    let word = |bytes: &[u8], at: usize| number(bytes, at, u32::from_be_bytes);
    let (Some(magic), Some(page)) =
        (word(journal, 0), word(journal, 8).and_then(|size| usize::try_from(size).ok()))
    else {
        return false;
    };
    let frames: Vec<&[u8]> = journal
        .get(HEAD..)
        .unwrap_or_default()
        .chunks_exact(FRAME_HEAD.saturating_add(page.max(512)))
        .collect();
    let read = if magic & 1 == 1 { u32::from_be_bytes } else { u32::from_le_bytes };
    let head = journal.get(..HEAD).unwrap_or_default();
    let mut sum = add((0, 0), head.get(..24).unwrap_or_default(), read);
    // The head is on the disk before the first frame is written.
    let is_whole = matches!(magic, 0x377F_0682 | 0x377F_0683) && stored(head) == Some(sum);
    if !is_whole {
        return journal.len() > HEAD + FRAME_HEAD;
    }
    let is_of_now = |frame: &&[u8]| frame.get(8..16) == head.get(16..24);
    let first_bad = frames.iter().position(|frame| {
        let body = add(
            add(sum, frame.get(..8).unwrap_or_default(), read),
            frame.get(FRAME_HEAD..).unwrap_or_default(),
            read,
        );
        sum = body;
        !is_of_now(frame) || stored(frame) != Some(body)
    });
    let behind = frames.get(first_bad.unwrap_or(frames.len())..).unwrap_or_default();
    let ends_an_act = |frame: &&[u8]| is_of_now(frame) && word(frame, 4).is_some_and(|pages| pages > 0);
    behind.iter().position(ends_an_act).is_some_and(|end| {
        behind.get(end.saturating_add(1)..).unwrap_or_default().iter().any(|frame| is_of_now(frame))
    })
}

/// The checksum at the end of a head.
fn stored(head: &[u8]) -> Option<(u32, u32)> {
    let at = if head.len() == HEAD { 24 } else { 16 };
    Some((number(head, at, u32::from_be_bytes)?, number(head, at + 4, u32::from_be_bytes)?))
}

fn number(bytes: &[u8], at: usize, read: fn([u8; 4]) -> u32) -> Option<u32> {
    bytes.get(at..at.checked_add(4)?)?.try_into().ok().map(read)
}

fn add((mut one, mut two): (u32, u32), bytes: &[u8], read: fn([u8; 4]) -> u32) -> (u32, u32) {
    for pair in bytes.chunks_exact(8) {
        if let (Some(first), Some(second)) = (number(pair, 0, read), number(pair, 4, read)) {
            one = one.wrapping_add(first).wrapping_add(two);
            two = two.wrapping_add(second).wrapping_add(one);
        }
    }
    (one, two)
}

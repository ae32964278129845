//! The precautions, and the edits that leave them out.

/// One replacement in the text of a file.
#[derive(Clone, Copy, Debug)]
pub struct Edit {
    /// The file, in the folder of the crate.
    pub file: &'static str,
    /// What stands there exactly once.
    pub from: &'static str,
    /// What stands there instead.
    pub to: &'static str,
}

/// A copy of the firmware without one precaution.
#[derive(Clone, Copy, Debug)]
pub struct Mutant {
    /// Its name, as the names of crates are written.
    pub name: &'static str,
    /// What leaves the precaution out.
    pub edits: &'static [Edit],
}

/// All precautions are taken: shows that the copying spoils nothing.
pub const UNPATCHED: Mutant = Mutant { name: "unpatched", edits: &[] };

/// A sector is used only when a finished erase left its mark, however blank it looks.
pub const CLEAN_MARK: Mutant = Mutant {
    name: "without-clean-mark",
    edits: &[Edit {
        file: "src/flash_log/ring.rs",
        from: "if decode_mark(&mark) != Some(number) {",
        to: "if false && decode_mark(&mark) != Some(number) {",
    }],
};

/// The bit that makes an entry count is programmed last, on its own.
pub const FINISH_LAST: Mutant = Mutant {
    name: "without-finish-last",
    edits: &[Edit {
        file: "src/flash_log/ring.rs",
        from: "        if let Some(first) = bytes.first_mut() {
            *first |= UNFINISHED;
        }
        if !self.put(flash, at, bytes)? {
            return Ok(false);
        }
        self.put(flash, at, &[head])
",
        to: "        self.put(flash, at, bytes)
",
    }],
};

/// What was written is read back and compared.
pub const READ_BACK: Mutant = Mutant {
    name: "without-read-back",
    edits: &[Edit {
        file: "src/flash_log/ring.rs",
        from: "if found != wanted {",
        to: "if false && found != wanted {",
    }],
};

/// Numbers that a torn record may have had are never given out again.
pub const SEQUENCE_SKIP: Mutant = Mutant {
    name: "without-sequence-skip",
    edits: &[
        Edit {
            file: "src/flash_log/mount.rs",
            from: "next_seq: walk.seq.saturating_add(torn),",
            to: "next_seq: walk.seq,",
        },
        Edit {
            file: "src/flash_log/mod.rs",
            from: "self.next_seq = self.next_seq.saturating_add(records);",
            to: "",
        },
    ],
};

/// A single flipped bit is put right where the check and the records behind it agree on it.
pub const BIT_REPAIR: Mutant = Mutant {
    name: "without-bit-repair",
    edits: &[Edit {
        file: "src/flash_log/walk.rs",
        from: "let Some((_, bit, candidate)) = best else {",
        to: "let Some((_, bit, candidate)) = best.filter(|_| false) else {",
    }],
};

/// After a start, what the last boot wrote last is programmed once more, because a cut may have left it half programmed.
pub const REFRESH: Mutant = Mutant {
    name: "without-refresh",
    edits: &[Edit {
        file: "src/flash_log/mount.rs",
        from: "pending_refresh: Some(PendingRefresh { last: walk.last }),",
        to: "pending_refresh: None,",
    }],
};

/// The copies of the library, each built with the torture of the simulated chip.
pub const ALL: [Mutant; 7] =
    [UNPATCHED, CLEAN_MARK, FINISH_LAST, READ_BACK, SEQUENCE_SKIP, BIT_REPAIR, REFRESH];

/// Of the board's binary: the second settings slot is the first, so that old settings go before new ones stand.
pub const SECOND_SLOT: Mutant = Mutant {
    name: "board-without-second-slot",
    edits: &[
        Edit {
            file: "src/flash.rs",
            from: "use super::layout::FLASH_BYTES;",
            to: "use super::layout::{FLASH_BYTES, SETTINGS};",
        },
        Edit {
            file: "src/flash.rs",
            from: "impl ErrorType for Chip {",
            to: "const fn place_of(offset: u32) -> u32 {
    if SETTINGS.start + SECTOR_BYTES <= offset && offset < SETTINGS.end { offset - SECTOR_BYTES } else { offset }
}

impl ErrorType for Chip {",
        },
        Edit {
            file: "src/flash.rs",
            from: "blocking_read(offset, bytes)",
            to: "blocking_read(place_of(offset), bytes)",
        },
        Edit {
            file: "src/flash.rs",
            from: "blocking_write(offset, bytes)",
            to: "blocking_write(place_of(offset), bytes)",
        },
        Edit {
            file: "src/flash.rs",
            from: "blocking_erase(at, at + SECTOR_BYTES)",
            to: "blocking_erase(place_of(at), place_of(at) + SECTOR_BYTES)",
        },
    ],
};

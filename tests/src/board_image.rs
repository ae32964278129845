//! The board image: built for the board's processor by the very command that a maker uses, then read as an ELF file.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "a test may stop at the first surprise"
)]

use std::collections::BTreeMap;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use crate::mutants::{Edit, SECOND_SLOT, Sources, mutants_folder};
use object::{Object, ObjectSection, ObjectSymbol, SectionFlags, SymbolKind, elf};

/// What the board's processor runs.
pub const TARGET: &str = "thumbv6m-none-eabi";
/// Where flash and memory begin on the board's processor (RP2040 datasheet 2.2).
pub const FLASH_START: u64 = 0x1000_0000;
const MEMORY_START: u64 = 0x2000_0000;

/// The top of the source tree.
#[must_use]
pub fn source_tree() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the tests stand inside the tree").to_path_buf()
}

/// The board image that was built from the sources as they are now. Builds it once; several test programs may ask at once.
///
/// # Panics
/// When it cannot be built; the message says what to install where a tool is missing.
#[must_use]
pub fn board_image() -> &'static Path {
    static IMAGE: OnceLock<PathBuf> = OnceLock::new();
    IMAGE.get_or_init(|| {
        let tree = source_tree();
        let _guard = Lock::take(&tree, "board-image.lock");
        build(&tree, &tree.join("firmware/pico"), "needlehours-pico")
    })
}

/// An image that keeps its settings in one slot instead of two, so that a power cut can take them: for the test of the tests.
///
/// # Panics
/// As [`board_image`].
#[must_use]
pub fn image_without_second_slot() -> PathBuf {
    let tree = source_tree();
    let _guard = Lock::take(&tree, "board-image.lock");
    let pico = tree.join("firmware/pico");
    let mut sources = Sources::read(
        &pico,
        &["src", ".cargo", "Cargo.toml", "Cargo.lock", "build.rs", "memory-rp2040.x", "memory-rp2350.x"],
    );
    for edit in SECOND_SLOT.edits {
        sources.edit(edit);
    }
    // A binary of another name: it never stands where the real one is expected.
    sources.edit(&Edit {
        file: "Cargo.toml",
        from: "[[bin]]\nname = \"needlehours-pico\"",
        to: "[[bin]]\nname = \"spoiled-pico\"",
    });
    sources.put(
        "Cargo.toml",
        sources.text("Cargo.toml").replace("path = \"..", &format!("path = \"{}/..", pico.display())),
    );
    let copy = mutants_folder(&tree).join(SECOND_SLOT.name);
    sources.write(&copy);
    build(&tree, &copy, "spoiled-pico")
}

/// Builds the binary of the crate in `folder`.
fn build(tree: &Path, folder: &Path, binary: &str) -> PathBuf {
    require_target();
    let target_dir = tree.join("target/board");
    let status = clean_cargo()
        .args(["build", "--release", "--locked", "--quiet", "--bin", binary, "--target", TARGET])
        .arg("--target-dir")
        .arg(&target_dir)
        .current_dir(folder)
        .status()
        .unwrap_or_else(|error| panic!("cannot run cargo: {error}; install Rust with rustup"));
    assert!(
        status.success(),
        "the board image does not build: run `cargo build --release` in {}",
        folder.display()
    );
    target_dir.join(TARGET).join("release").join(binary)
}

/// Cargo without what a surrounding `cargo test` has set for another target.
pub(crate) fn clean_cargo() -> Command {
    let mut cargo = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    for name in ["CARGO_TARGET_DIR", "CARGO_BUILD_TARGET", "RUSTFLAGS", "CARGO_ENCODED_RUSTFLAGS"] {
        cargo.env_remove(name);
    }
    cargo
}

fn require_target() {
    let output = Command::new("rustc").args(["--print", "sysroot"]).current_dir(source_tree()).output();
    let output = output.unwrap_or_else(|error| panic!("cannot run rustc: {error}; install Rust with rustup"));
    let sysroot = PathBuf::from(String::from_utf8_lossy(&output.stdout).trim());
    assert!(
        sysroot.join("lib/rustlib").join(TARGET).exists(),
        "Rust cannot build for the board's processor yet: run `rustup target add {TARGET}`"
    );
}

/// Held while one process builds or installs something that others wait for.
pub struct Lock(#[expect(dead_code, reason = "the lock lasts as long as the file is open")] File);

impl Lock {
    /// Waits until nobody else holds the lock of this name.
    ///
    /// # Panics
    /// When the file cannot be made.
    #[must_use]
    pub fn take(tree: &Path, name: &str) -> Self {
        let folder = tree.join("target");
        std::fs::create_dir_all(&folder).expect("the target folder can be made");
        let file = File::create(folder.join(name)).expect("the lock file can be made");
        file.lock().expect("the lock file can be locked");
        Self(file)
    }
}

impl std::fmt::Debug for Lock {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Lock")
    }
}

/// Bytes at a place in flash, counted from its start.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FlashPiece {
    /// Where they go.
    pub offset: u32,
    /// What goes there.
    pub bytes: Vec<u8>,
}

/// A piece of code with a name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Function {
    /// Its name, demangled, without the compiler's hash.
    pub name: String,
    /// Where it runs.
    pub address: u64,
    /// Its bytes.
    pub size: u64,
}

/// What a board image is made of.
#[derive(Debug)]
pub struct Contents {
    /// Bytes of each section that takes room on the board, by name.
    pub sections: BTreeMap<String, u64>,
    /// Bytes of flash: code, constants, and the start values of memory.
    pub flash_bytes: u64,
    /// Bytes of memory that are spoken for; the stack takes what is left.
    pub memory_bytes: u64,
    /// Every named symbol and its address.
    pub symbols: BTreeMap<String, u64>,
    /// Every function, without the bit that says that it is Thumb code.
    pub functions: Vec<Function>,
    /// What is written into flash, in ascending order.
    pub pieces: Vec<FlashPiece>,
}

impl Contents {
    /// Reads a board image.
    ///
    /// # Panics
    /// When it is not an ELF file that can be read.
    #[must_use]
    pub fn read(path: &Path) -> Self {
        let bytes =
            std::fs::read(path).unwrap_or_else(|error| panic!("cannot read {}: {error}", path.display()));
        let file = object::File::parse(&*bytes).expect("the board image is an ELF file");
        let is_loaded = |flags: SectionFlags| matches!(flags, SectionFlags::Elf { sh_flags } if sh_flags & u64::from(elf::SHF_ALLOC) != 0);
        let sections: BTreeMap<String, u64> = file
            .sections()
            .filter(|section| is_loaded(section.flags()) && section.size() > 0)
            .map(|section| (section.name().unwrap_or("?").to_owned(), section.size()))
            .collect();
        let memory_bytes = file
            .sections()
            .filter(|section| is_loaded(section.flags()) && section.address() >= MEMORY_START)
            .map(|section| section.size())
            .sum();
        let symbols = file
            .symbols()
            .filter_map(|symbol| Some((symbol.name().ok()?.to_owned(), symbol.address())))
            .collect();
        let functions = file
            .symbols()
            .filter(|symbol| symbol.kind() == SymbolKind::Text && symbol.size() > 0)
            .filter_map(|symbol| {
                let name = format!("{:#}", rustc_demangle::demangle(symbol.name().ok()?));
                Some(Function { name, address: symbol.address() & !1, size: symbol.size() })
            })
            .collect();
        let pieces = flash_pieces(&bytes);
        let flash_bytes = pieces.iter().map(|piece| piece.bytes.len() as u64).sum();
        Self { sections, flash_bytes, memory_bytes, symbols, functions, pieces }
    }

    /// Which functions call a panic, both demangled: every Thumb `bl` in a function that goes to a function whose name has to do
    /// with panicking. What the optimiser has put into a caller counts as the caller's.
    #[must_use]
    pub fn panic_calls(&self) -> Vec<(String, String)> {
        let names: BTreeMap<u64, String> =
            self.functions.iter().map(|function| (function.address, function.name.clone())).collect();
        let mut calls = Vec::new();
        for function in &self.functions {
            let code = self.flash_at(function.address, function.size);
            for (at, pair) in (function.address..).step_by(2).zip(code.windows(4).step_by(2)) {
                let callee = thumb_call(at, pair).and_then(|target| names.get(&target));
                if let Some(callee) = callee.filter(|name| name.contains("panic")) {
                    calls.push((function.name.clone(), callee.clone()));
                }
            }
        }
        calls
    }

    fn flash_at(&self, address: u64, size: u64) -> &[u8] {
        let inside = |piece: &&FlashPiece| {
            let start = FLASH_START + u64::from(piece.offset);
            (start..start + piece.bytes.len() as u64).contains(&address)
        };
        self.pieces.iter().find(inside).map_or(&[], |piece| {
            let from = (address - FLASH_START) as usize - piece.offset as usize;
            piece.bytes.get(from..from + size as usize).unwrap_or_default()
        })
    }

    /// Demangled names of the symbols that have to do with panicking.
    #[must_use]
    pub fn panic_symbols(&self) -> Vec<String> {
        let names = self.symbols.keys().map(|name| format!("{:#}", rustc_demangle::demangle(name)));
        names.filter(|name| name.contains("panic") && !name.starts_with('$')).collect()
    }
}

impl std::fmt::Display for Contents {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (name, bytes) in &self.sections {
            writeln!(f, "{name:<16} {bytes:>8} bytes")?;
        }
        writeln!(f, "{:<16} {:>8} bytes", "flash in all", self.flash_bytes)?;
        writeln!(f, "{:<16} {:>8} bytes, the stack aside", "memory in all", self.memory_bytes)
    }
}

/// Where a `bl` at `at` goes, if these four bytes are one (ARMv6-M Architecture Reference Manual, A6.7.13, encoding T1).
fn thumb_call(at: u64, bytes: &[u8]) -> Option<u64> {
    let [a, b, c, d] = *bytes else { return None };
    let (first, second) = (u32::from(u16::from_le_bytes([a, b])), u32::from(u16::from_le_bytes([c, d])));
    if first >> 11 != 0b11110 || second & 0xD000 != 0xD000 {
        return None;
    }
    let sign = first >> 10 & 1;
    let i1 = !(second >> 13 ^ sign) & 1;
    let i2 = !(second >> 11 ^ sign) & 1;
    let offset = sign << 24 | i1 << 23 | i2 << 22 | (first & 0x3FF) << 12 | (second & 0x7FF) << 1;
    // 25 bits with a sign.
    let offset = i64::from((offset << 7).cast_signed() >> 7);
    (at + 4).checked_add_signed(offset)
}

/// The loadable segments by the addresses at which they lie in flash, not at which they run.
fn flash_pieces(bytes: &[u8]) -> Vec<FlashPiece> {
    use object::read::elf::{FileHeader, ProgramHeader};
    let header = elf::FileHeader32::<object::LittleEndian>::parse(bytes).expect("a 32-bit ELF file");
    let endian = header.endian().expect("its byte order");
    let mut pieces: Vec<FlashPiece> = header
        .program_headers(endian, bytes)
        .expect("its segments")
        .iter()
        .filter(|segment| segment.p_type(endian) == elf::PT_LOAD && segment.p_filesz(endian) > 0)
        .map(|segment| FlashPiece {
            offset: segment.p_paddr(endian).checked_sub(FLASH_START as u32).expect("a place in flash"),
            bytes: segment.data(endian, bytes).expect("its bytes").to_vec(),
        })
        .collect();
    pieces.sort_by_key(|piece| piece.offset);
    pieces
}

#[cfg(test)]
mod tests {
    use super::thumb_call;

    #[test]
    fn a_call_is_followed_forwards_and_backwards() {
        // Assembled by hand from the encoding: at 0x1000B664, `bl 0x1000B2AE` is F7FF FE23.
        assert_eq!(thumb_call(0x1000_B664, &[0xFF, 0xF7, 0x23, 0xFE]), Some(0x1000_B2AE));
        // `bl` over nothing: to the instruction after it.
        assert_eq!(thumb_call(0x1000_0000, &[0x00, 0xF0, 0x00, 0xF8]), Some(0x1000_0004));
        assert_eq!(thumb_call(0x1000_0000, &[0x70, 0x47, 0x00, 0xF8]), None, "bx lr is no call");
    }
}

//! What the image is made of, before it runs.

use tests::board_image::{Contents, FLASH_START, board_image};
use tests::uf2::{BLOCK_BYTES, to_uf2};

/// Where settings and log begin and end, counted from the start of flash: published in `memory-rp2040.x`, never to be moved.
const SETTINGS: (u64, u64) = (0x2_8000, 0x2_A000);
const LOG: (u64, u64) = (0x2_A000, 0x20_0000);
/// ResamplingParams of the RP2040 in its four striped banks (datasheet 2.6.2).
const MEMORY_BYTES: u64 = 256 * 1024;
/// Room for the stack that is asked for at least; the deepest call has not been measured.
const STACK_BYTES: u64 = 64 * 1024;

#[test]
fn the_image_keeps_out_of_settings_and_log_and_leaves_room_for_the_stack() {
    let contents = Contents::read(board_image());
    println!("{contents}");
    let last = contents.pieces.last().unwrap();
    let end = u64::from(last.offset) + last.bytes.len() as u64;
    assert!(end <= SETTINGS.0, "the image ends at {end:#x}");
    assert!(contents.memory_bytes + STACK_BYTES <= MEMORY_BYTES, "{} bytes of memory", contents.memory_bytes);
}

#[test]
fn the_log_region_lies_where_every_logger_in_use_has_it() {
    let contents = Contents::read(board_image());
    let place = |name: &str| contents.symbols[name] - FLASH_START;
    assert_eq!((place("_settings_start"), place("_settings_end")), SETTINGS);
    assert_eq!((place("_log_start"), place("_log_end")), LOG);
}

#[test]
fn the_drag_and_drop_file_holds_the_image_and_nothing_of_settings_or_log() {
    let contents = Contents::read(board_image());
    let file = to_uf2(&contents.pieces, u32::try_from(FLASH_START).unwrap());
    let word = |block: &[u8], at: usize| u32::from_le_bytes(block[at..at + 4].try_into().unwrap());
    for block in file.chunks(BLOCK_BYTES) {
        let offset = word(block, 12) - 0x1000_0000;
        assert!(u64::from(offset) + 256 <= SETTINGS.0, "a block for {offset:#x}");
    }
    assert_eq!(
        &file[32..32 + 256],
        &contents.pieces[0].bytes[..256],
        "the first block is the second boot stage"
    );
}

#[test]
fn code_that_can_panic_is_listed() {
    let contents = Contents::read(board_image());
    let symbols = contents.panic_symbols();
    println!("{} symbols have to do with panicking:", symbols.len());
    for symbol in &symbols {
        println!("  {symbol}");
    }
    assert!(
        contents.symbols.keys().any(|name| name.contains("rust_begin_unwind")),
        "the handler is in the image"
    );
    let calls = contents.panic_calls();
    println!("{} calls of a panic, by function:", calls.len());
    for (caller, callee) in &calls {
        println!("  {caller} -> {callee}");
    }
    assert!(!calls.is_empty(), "dependencies do call panics; none found means that the search is blind");
    // Derived encoders are left out: what panics in them is the varint writer of the encoding library, put in by the optimiser.
    let is_ours = |name: &str| {
        let name = name.trim_start_matches('<');
        ["firmware::", "shared_types::"].iter().any(|start| name.starts_with(start))
            && !name.contains("serde_core::ser::Serialize for")
    };
    let own: Vec<_> = calls.iter().filter(|(caller, _)| is_ours(caller)).collect();
    assert!(own.is_empty(), "the library calls panics: {own:?}");
}

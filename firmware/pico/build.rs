//! Tells the linker about the memory map and checks it against the program's.

#[path = "src/layout.rs"]
mod layout;

use std::path::PathBuf;
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let is_rp2040 = env::var_os("CARGO_FEATURE_RP2040").is_some();
    assert!(is_rp2040 != env::var_os("CARGO_FEATURE_RP2350").is_some(), "choose one of rp2040 and rp2350");
    let memory = if is_rp2040 { "memory-rp2040.x" } else { "memory-rp2350.x" };
    let out = PathBuf::from(env::var_os("OUT_DIR").unwrap_or_default());
    fs::copy(memory, out.join("memory.x"))?;
    println!("cargo:rustc-link-search={}", out.display());
    for file in [memory, "src/layout.rs", "build.rs"] {
        println!("cargo:rerun-if-changed={file}");
    }
    println!("cargo:rustc-link-arg-bins=--nmagic");
    // The second stage of the RP2040's start stands in flash before everything else; the RP2350 has none.
    let scripts: &[&str] =
        if is_rp2040 { &["link.x", "link-rp.x", "defmt.x"] } else { &["link.x", "defmt.x"] };
    for script in scripts {
        println!("cargo:rustc-link-arg-bins=-T{script}");
    }
    let places = [
        ("settings_start", layout::SETTINGS.start),
        ("settings_end", layout::SETTINGS.end),
        ("log_start", layout::LOG.start),
        ("log_end", layout::LOG.end),
    ];
    for (name, place) in places {
        println!("cargo:rustc-link-arg-bins=--defsym=_layout_{name}={place:#x}");
    }
    assert!(layout::LOG.end as usize == layout::FLASH_BYTES, "the log region ends with the chip");
    Ok(())
}

//! Tells the linker about the memory map and checks it against the program's.

#[path = "src/layout.rs"]
mod layout;

fn main() {
    let here = std::env::var("CARGO_MANIFEST_DIR").unwrap_or_default();
    println!("cargo:rustc-link-search={here}");
    for file in ["memory.x", "src/layout.rs", "build.rs"] {
        println!("cargo:rerun-if-changed={file}");
    }
    println!("cargo:rustc-link-arg-bins=--nmagic");
    for script in ["link.x", "link-rp.x", "defmt.x"] {
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
}

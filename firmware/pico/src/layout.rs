//! Where things lie in flash, in bytes from its start. `memory-rp2040.x` and `memory-rp2350.x` say the same to the linker, and the build script
//! hands these numbers to it, so that an image in which the two differ cannot be linked.

use core::ops::Range;

/// Bytes in the flash chip.
pub const FLASH_BYTES: usize = 2 * 1024 * 1024;
/// The two settings slots, one sector each.
pub const SETTINGS: Range<u32> = 0x0002_8000..0x0002_A000;
/// The log. It never moves: it holds the hours of every logger in use.
pub const LOG: Range<u32> = 0x0002_A000..0x0020_0000;

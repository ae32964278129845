//! Everything in which the two processors differ. The rest of this crate is the same for both.
//!
//! What can surprise on the RP2350: its pads leak so much while they are pulled down (its errata, E9, from memory) that a line
//! which is open is low only with a resistor of 8.2 kOhm or less; the needle's R2 in `WIRING.md` is one. The driver there tells
//! neither the size of the flash chip nor its number, so the size is what the layout wants, and the processor's own number is taken.

use embassy_rp::flash::{Blocking, Flash};
use embassy_rp::pac;
use embassy_rp::pac::psm::regs::Wdsel;
use embassy_rp::peripherals::FLASH;

use super::layout::FLASH_BYTES;

/// The board's flash chip, as its driver has it.
pub type BoardFlash = Flash<'static, FLASH, Blocking, FLASH_BYTES>;

#[cfg(feature = "rp2040")]
pub use rp2040::{BUILD, chip_id, flash_size, one_word, timer};
#[cfg(feature = "rp2350")]
pub use rp2350::{BUILD, chip_id, flash_size, one_word, timer};

/// What a reset reaches: everything but the two oscillators, as the data sheets' start-up code does (WDSEL).
pub fn all_but_oscillators() -> Wdsel {
    let mut reached = Wdsel(u32::MAX >> UNUSED_RESETS);
    reached.set_rosc(false);
    reached.set_xosc(false);
    reached
}

/// Bits of WDSEL that stand for nothing.
const UNUSED_RESETS: u32 = if cfg!(feature = "rp2040") { 15 } else { 7 };

#[cfg(feature = "rp2040")]
mod rp2040 {
    use super::{BoardFlash, pac};

    pub const BUILD: &str = concat!("pico ", env!("CARGO_PKG_VERSION"));

    /// Sizes that are believed: 64 KiB to 16 MiB, the most that the processor maps. Some makers count in other ways.
    const LEAST_SIZE: u32 = 16;
    const MOST_SIZE: u32 = 24;

    /// The timer of the uptime.
    pub const fn timer() -> pac::timer::Timer {
        pac::TIMER
    }

    /// Lets a channel move one word each time that it is started.
    pub fn one_word(channel: pac::dma::Channel) {
        channel.trans_count().write_value(1);
    }

    /// Size of the flash chip in bytes, as it says itself; none when it says nothing that can be believed.
    pub fn flash_size(flash: &mut BoardFlash) -> Option<u32> {
        flash.blocking_jedec_id().ok().and_then(size_of)
    }

    /// The last of the three bytes of a JEDEC id tells the size as a power of two, with nearly all makers of serial flash.
    const fn size_of(jedec_id: u32) -> Option<u32> {
        match jedec_id & 0xFF {
            power @ LEAST_SIZE..=MOST_SIZE => Some(1 << power),
            _ => None,
        }
    }

    /// The number that the flash chip's maker gave it.
    pub fn chip_id(flash: &mut BoardFlash) -> Option<u64> {
        let mut id = [0; 8];
        flash.blocking_unique_id(&mut id).ok()?;
        Some(u64::from_be_bytes(id))
    }
}

#[cfg(feature = "rp2350")]
mod rp2350 {
    use embassy_rp::otp;

    use super::{BoardFlash, pac};

    pub const BUILD: &str = concat!("pico2 ", env!("CARGO_PKG_VERSION"));

    /// The timer of the uptime.
    pub const fn timer() -> pac::timer::Timer {
        pac::TIMER0
    }

    /// Lets a channel move one word each time that it is started.
    pub fn one_word(channel: pac::dma::Channel) {
        channel.trans_count().write(|count| count.set_count(1));
    }

    /// Nothing is known of the flash chip's size.
    pub const fn flash_size(_: &mut BoardFlash) -> Option<u32> {
        None
    }

    /// The number that the processor's maker gave it.
    pub fn chip_id(_: &mut BoardFlash) -> Option<u64> {
        otp::get_chipid().ok()
    }
}

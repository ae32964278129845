//! How much of the stack was never used: its next 32 KiB are painted at the start, and what has kept its paint was not used.
//!
//! This is the one module that reads and writes memory by its address.

#![allow(
    unsafe_code,
    reason = "the free part of the stack belongs to no object, so it has to be reached by its address"
)]

use core::ptr;

use portable_atomic::{AtomicU32, Ordering};

const PAINT: u32 = 0xA5C3_5A3C;
/// Painted at the most; twice what the image has been seen to use (FIGURES.md).
const MOST_PAINTED: u32 = 32 * 1024;
/// Left alone below the stack pointer: whoever paints has a stack too.
const OWN_STACK: u32 = 256;

/// Lowest and highest painted address; both zero before.
static FROM: AtomicU32 = AtomicU32::new(0);
static TO: AtomicU32 = AtomicU32::new(0);

unsafe extern "C" {
    /// The end of everything that has a place of its own in memory; the stack grows down towards it. From the linker.
    static _stack_end: u32;
}

fn end_of_stack() -> u32 {
    u32::try_from((&raw const _stack_end).addr()).unwrap_or(u32::MAX)
}

/// To be called once, at the very start, before any interrupt is let through.
pub fn paint() {
    let to = (cortex_m::register::msp::read() - OWN_STACK) & !3;
    let from = end_of_stack().saturating_add(3) & !3;
    let from = from.max(to.saturating_sub(MOST_PAINTED));
    for address in (from..to).step_by(4) {
        // SAFETY: below the stack pointer and above everything that has a place, in memory, aligned; no interrupt pushes there yet.
        unsafe { ptr::write_volatile(ptr::with_exposed_provenance_mut::<u32>(address as usize), PAINT) };
    }
    FROM.store(from, Ordering::Relaxed);
    TO.store(to, Ordering::Relaxed);
}

/// None before [`paint`], and where the stack has gone down past the paint.
pub fn never_used_bytes() -> Option<u32> {
    let (from, to) = (FROM.load(Ordering::Relaxed), TO.load(Ordering::Relaxed));
    let used = (from..to).step_by(4).find(|&address| {
        // SAFETY: in memory, aligned; whoever uses it at the same time only makes the answer a moment older.
        unsafe { ptr::read_volatile(ptr::with_exposed_provenance::<u32>(address as usize)) != PAINT }
    });
    let lowest_used = used.unwrap_or(to);
    (lowest_used > from).then(|| lowest_used - end_of_stack())
}

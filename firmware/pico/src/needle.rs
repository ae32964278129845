//! The needle: one state machine counts its edges, and each counted edge is stamped by the hardware.
//!
//! A state machine on GP15 counts a rising edge when the line was low long enough before it and stays high long enough after.
//! Each such edge wakes two DMA channels that start each other: one takes the count out of the state machine, the other writes the
//! microseconds of the timer into a ring. No instruction of the processor is in that way, so neither an erase with
//! interrupts off nor a storm of edges touches it, and a count has its stamp.
//!
//! PWM slice 7 on the same pin counts every edge, however short. It is a witness only: what it saw and the state machine did not was
//! no stroke.
//!
//! What can surprise: the state machine reads the pad whatever function the pin has, so the pin belongs to the witness.

use core::sync::atomic::{AtomicU32, Ordering};

use embassy_rp::Peri;
use embassy_rp::clocks::clk_sys_freq;
use embassy_rp::pac;
use embassy_rp::pac::dma::regs::CtrlTrig;
use embassy_rp::pac::dma::vals::{DataSize, TreqSel};
use embassy_rp::peripherals::{DMA_CH0, DMA_CH1, PIO0};
use embassy_rp::pio::program::pio_asm;
use embassy_rp::pwm::Pwm;
use embassy_time::Instant;
use firmware::needle::{NeedleSample, NeedleSource};
use shared_types::UptimeMillis;

use super::chip;

/// The line must have been low for so long, and must stay high for so long. At a thousand edges a second and a magnet that is in
/// front of the switch for a twentieth of the turn the line is low for 50 us; glitches are some 2 us long.
const FILTER_US: u32 = 20;
/// Instructions a second of the state machine. A round of its loops is two, so the line is looked at every microsecond.
const INSTRUCTIONS_HZ: u32 = 2_000_000;
/// The program's `set x` says one less.
const ROUNDS: u32 = 20;
const _: () =
    assert!(ROUNDS * 2 * 1_000_000 / INSTRUCTIONS_HZ == FILTER_US, "the rounds take as long as the filter");

/// Stamps kept: at a thousand edges a second more than a second, and a sector's erase takes 0.4 s at the worst.
const STAMPS: u32 = 1_024;
/// The ring is 2 to the power of so many bytes, and lies at a multiple of them.
const RING_BITS: u8 = 12;
const _: () = assert!(STAMPS * 4 == 1 << RING_BITS, "the ring is as large as the hardware takes it to be");

#[repr(C, align(4096))]
struct Ring([AtomicU32; STAMPS as usize]);

/// Written by the hardware alone: microseconds, the low half of the timer.
static RING: Ring = Ring([const { AtomicU32::new(0) }; STAMPS as usize]);
/// Written by the hardware alone: edges since the start, negative, because the state machine can only count down.
static COUNTED: AtomicU32 = AtomicU32::new(0);

/// Strokes may come in between when the witness is asked and when the state machine is; more than this many are a witness that has
/// wrapped unseen, and it begins anew.
const MOST_HIDDEN: i32 = 32_768;

/// The state machine and the two channels that this module has for itself.
const MACHINE: usize = 0;
const TAKER: u8 = 0;
const STAMPER: u8 = 1;
const NEEDLE_PIN: u8 = 15;

/// The needle's counter, its stamps, and the witness.
pub struct NeedleCounter {
    witness: Pwm<'static>,
    /// Edges told; wraps.
    told: u32,
    /// Where the witness stood at the last look, and all that it has seen, less what was too short; wraps.
    seen_at: u16,
    seen: u32,
    sampled_at: UptimeMillis,
    _owned: (Peri<'static, PIO0>, Peri<'static, DMA_CH0>, Peri<'static, DMA_CH1>),
}

impl NeedleCounter {
    /// Starts counting and stamping. The witness has the pin, as its B pin.
    pub fn new(
        witness: Pwm<'static>,
        machine: Peri<'static, PIO0>,
        taker: Peri<'static, DMA_CH0>,
        stamper: Peri<'static, DMA_CH1>,
    ) -> Self {
        start_channels();
        start_machine();
        let seen_at = witness.counter();
        Self {
            witness,
            told: 0,
            seen_at,
            seen: 0,
            sampled_at: UptimeMillis(0),
            _owned: (machine, taker, stamper),
        }
    }

    /// Edges since the last call that were too short for a stroke. What the state machine has counted since the witness was asked
    /// hides some of them until the next look, which tells them.
    fn newly_too_short(&mut self) -> u16 {
        let alone = self.seen.wrapping_sub(self.told).cast_signed();
        if (-MOST_HIDDEN..=0).contains(&alone) {
            return 0;
        }
        self.seen = self.told;
        u16::try_from(alone.max(0)).unwrap_or(u16::MAX)
    }
}

impl NeedleSource for NeedleCounter {
    /// Asks the witness, so that each stroke which it has seen is counted by the time of the sample.
    fn prepare(&mut self) {
        let now_at = self.witness.counter();
        self.seen = self.seen.wrapping_add(u32::from(now_at.wrapping_sub(self.seen_at)));
        self.seen_at = now_at;
    }

    fn sample(&mut self) -> (UptimeMillis, NeedleSample) {
        // The place first: what comes in between is then left for the next time, with its stamp.
        let place = stamped();
        let counted = COUNTED.load(Ordering::Relaxed).wrapping_neg();
        let now_us = Instant::now().as_micros();
        let now = UptimeMillis(now_us / 1_000);
        let before = core::mem::replace(&mut self.sampled_at, now);
        let in_ring = place.wrapping_sub(self.told) % STAMPS;
        let laps = counted.wrapping_sub(self.told.wrapping_add(in_ring)) / STAMPS;
        let mut edges = laps.wrapping_mul(STAMPS).wrapping_add(in_ring);
        if now == before {
            // An edge of this look could not be told from one of the look before; the next tells it.
            edges = 0;
        }
        self.told = self.told.wrapping_add(edges);
        let too_short = self.newly_too_short();
        if edges > STAMPS {
            // Faster than any needle. The count is right all the same; of the moments only the youngest are left.
            defmt::warn!("{} edges in one look, more than there is room to stamp", edges);
        }
        let stamps = (edges > 0).then(|| {
            // Later than the look before, which did not tell them: moments are rounded down, and looks are too.
            let [first, last] = [edges.min(STAMPS - 1), 1].map(|back| {
                uptime_of(stamp_at(place.wrapping_sub(back)), now_us).0.clamp(before.0 + 1, now.0)
            });
            (UptimeMillis(first.min(last)), UptimeMillis(last))
        });
        let sample = NeedleSample {
            count: u16::try_from(self.told & u32::from(u16::MAX)).unwrap_or_default(),
            first_edge_at: stamps.map(|(first, _)| first),
            last_edge_at: stamps.map(|(_, last)| last),
            too_short,
        };
        (now, sample)
    }
}

/// How many stamps were written since the start, modulo [`STAMPS`].
fn stamped() -> u32 {
    let next = pac::DMA.ch(STAMPER.into()).write_addr().read();
    next.wrapping_sub(address_of(&RING.0)) / 4
}

fn stamp_at(place: u32) -> u32 {
    let place = usize::try_from(place % STAMPS).unwrap_or_default();
    RING.0.get(place).map_or(0, |stamp| stamp.load(Ordering::Relaxed))
}

/// The moment of an edge from its stamp, which is half of the timer and younger than the 71 minutes in which that half wraps.
/// An edge is stamped when the filter has let it pass.
fn uptime_of(stamp: u32, now_us: u64) -> UptimeMillis {
    let half = u32::try_from(now_us & u64::from(u32::MAX)).unwrap_or_default();
    let age_us = u64::from(half.wrapping_sub(stamp)) + u64::from(FILTER_US);
    UptimeMillis(now_us.saturating_sub(age_us) / 1_000)
}

/// Where the hardware finds something in memory.
fn address_of<T>(thing: &'static T) -> u32 {
    u32::try_from(core::ptr::from_ref(thing).expose_provenance()).unwrap_or_default()
}

/// One word each, then the other: taken when the state machine has one, stamped at once.
fn start_channels() {
    let one_word = |starts: u8, paced_by| {
        let mut control = CtrlTrig::default();
        control.set_en(true);
        control.set_data_size(DataSize::SIZE_WORD);
        control.set_chain_to(starts);
        control.set_treq_sel(paced_by);
        control.set_irq_quiet(true);
        control
    };
    let stamper = pac::DMA.ch(STAMPER.into());
    stamper.read_addr().write_value(register_address(chip::timer().timerawl().as_ptr()));
    stamper.write_addr().write_value(address_of(&RING.0));
    chip::one_word(stamper);
    let mut control = one_word(TAKER, TreqSel::PERMANENT);
    control.set_incr_write(true);
    control.set_ring_sel(true);
    control.set_ring_size(RING_BITS);
    // By the name of the register that does not start the channel.
    stamper.al1_ctrl().write_value(control.0);

    let taker = pac::DMA.ch(TAKER.into());
    taker.read_addr().write_value(register_address(pac::PIO0.rxf(MACHINE).as_ptr()));
    taker.write_addr().write_value(address_of(&COUNTED));
    chip::one_word(taker);
    taker.ctrl_trig().write_value(one_word(STAMPER, TreqSel::PIO0_RX0));
}

fn register_address<T>(register: *mut T) -> u32 {
    u32::try_from(register.addr()).unwrap_or_default()
}

fn start_machine() {
    let assembled = pio_asm!(
        "    set y, 0",
        ".wrap_target",
        "low:",
        "    wait 0 gpio 15",
        "    set x, 19",
        "still_low:",
        "    jmp pin low",
        "    jmp x-- still_low",
        "high:",
        "    wait 1 gpio 15",
        "    set x, 19",
        "still_high:",
        "    jmp pin is_high",
        "    jmp high",
        "is_high:",
        "    jmp x-- still_high",
        "    jmp y-- tell",
        "tell:",
        "    mov isr, y",
        "    push noblock",
        ".wrap",
    );
    let pio = pac::PIO0;
    for (place, &instruction) in assembled.program.code.iter().enumerate() {
        pio.instr_mem(place).write(|memory| memory.set_instr_mem(instruction));
    }
    let machine = pio.sm(MACHINE);
    // In 256ths.
    let divider = u64::from(clk_sys_freq()) * 256 / u64::from(INSTRUCTIONS_HZ);
    machine.clkdiv().write(|clock| clock.0 = u32::try_from(divider << 8).unwrap_or_default());
    machine.execctrl().write(|control| {
        control.set_jmp_pin(NEEDLE_PIN);
        control.set_wrap_bottom(assembled.program.wrap.target);
        control.set_wrap_top(assembled.program.wrap.source);
    });
    // A jump to the first instruction.
    machine.instr().write(|now| now.set_instr(0));
    pio.ctrl().write(|control| control.set_sm_enable(1 << MACHINE));
}

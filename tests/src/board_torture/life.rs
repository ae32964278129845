//! One life: the power comes, is taken away at a moment that nobody foresees, and comes again.

use std::path::{Path, PathBuf};
use std::time::Duration;

use firmware::split_mix::SplitMix64;
use serde_json::json;

use super::checks::Needle;
use super::lamp::LampWatch;
use super::promises::Promises;
use super::{Toll, UsedFlash};
use crate::board_image::source_tree;
use crate::emulator::{Cut, Emulator};

/// Records on top of the nearly full log when a life begins, at most: some sectors' worth.
const MORE_RECORDS: u64 = 900;
/// A cut planned at power-on falls into the start, or soon after it. One in so many.
const EARLY_CUT_ONE_IN: u64 = 3;
/// A cut inside an erase of a sector, of those that are not early. One in so many.
const ERASE_ONE_IN: u64 = 6;
/// Things done before the power is taken away by hand, where the planned cut does not come.
const MOST_DEEDS: u32 = 12;
/// As many settings as fill a sector of either kind several times.
const MOST_SETTINGS: u32 = 400;
/// All records of the life are held against the totals at every so-manieth start.
const SUMS_EVERY: u64 = 10;
/// The whole log is read by the library at every so-manieth start.
const WHOLE_EVERY: u64 = 25;
/// Longest machine time that a start may take until the port is open.
const START_TIMEOUT_NS: u64 = 5_000_000_000;

/// Lives one life of so many cuts and tells what went wrong in it.
///
/// # Panics
/// When the emulator cannot run.
#[must_use]
pub fn live(image: &Path, used: &UsedFlash, seed: u64, cuts: u64) -> Toll {
    let used = used.with_more(seed, MORE_RECORDS);
    let chip = ChipFile::new(seed);
    std::fs::write(&chip.0, used.content()).expect("the target folder takes a file");
    let mut board = Emulator::start_with(image, &json!({ "seed": seed >> 12 }));
    board.perform(&json!({ "op": "power_off" }));
    board.perform(&json!({ "op": "load_flash", "path": chip.0 }));
    board.seen.cuts.clear();
    board.seen.resets.clear();
    let mut life = Life {
        board,
        rng: SplitMix64::new(seed),
        promises: Promises::new(&used, seed),
        needle: Needle::default(),
        lamp: LampWatch::default(),
        start_instructions: 0,
        chip,
    };
    let outcome = life.go_on(cuts).and_then(|()| life.finish());
    if let Err(stopped) = outcome {
        life.promises.note_bricked(&stopped);
    }
    life.promises.toll
}

/// One life under way.
pub struct Life<'a> {
    pub board: Emulator,
    pub rng: SplitMix64,
    pub promises: Promises<'a>,
    pub needle: Needle,
    pub lamp: LampWatch,
    /// What a start takes, from the power to the open port.
    start_instructions: u64,
    chip: ChipFile,
}

impl Life<'_> {
    fn go_on(&mut self, cuts: u64) -> Result<(), String> {
        for turn in 0..cuts {
            self.power_on()?;
            let is_early = self.start_instructions > 0 && self.rng.one_in(EARLY_CUT_ONE_IN);
            if is_early {
                self.plan_early_cut();
            }
            if self.connect()? && self.check(turn)? {
                let is_in_an_erase = !is_early && self.rng.one_in(ERASE_ONE_IN);
                if is_in_an_erase {
                    let share = self.rng.uniform();
                    self.board.plan_cut(Cut::Erase(1 + self.rng.below(3) as u32, share));
                } else if !is_early {
                    self.plan_cut_at_work();
                }
                self.work_until_the_cut(is_in_an_erase)?;
            }
            self.take_the_power()?;
        }
        Ok(())
    }

    fn power_on(&mut self) -> Result<(), String> {
        let off_ns = self.rng.below(3_000_000_000);
        self.board.take_received();
        self.board.try_perform(&json!({ "op": "reboot", "off_ns": off_ns }))?;
        self.promises.power_on();
        self.lamp.power_on(self.board.seen.time_ns);
        self.needle.power_on(&mut self.board)
    }

    fn plan_early_cut(&mut self) {
        let cut = if self.rng.one_in(3) {
            Cut::FlashOperation(1 + self.rng.below(8) as u32, self.rng.uniform())
        } else {
            Cut::Instructions(self.rng.below(self.start_instructions * 5 / 4))
        };
        self.board.plan_cut(cut);
    }

    fn plan_cut_at_work(&mut self) {
        let cut = if self.rng.one_in(2) {
            Cut::FlashOperation(1 + self.rng.below(12) as u32, self.rng.uniform())
        } else {
            // As often soon as late: evenly over the powers of two from a thousand to a million.
            Cut::Instructions(2_f64.powf(10.0 + 10.0 * self.rng.uniform()) as u64)
        };
        self.board.plan_cut(cut);
    }

    /// False when the power went before the port was open.
    fn connect(&mut self) -> Result<bool, String> {
        let before = self.board.seen.instructions;
        let answer = self.board.try_perform(&json!({ "op": "run_until_usb", "ns": START_TIMEOUT_NS }))?;
        if self.board.seen.is_off {
            return Ok(false);
        }
        if answer["connected"] != true {
            return Err("the port does not open".to_owned());
        }
        self.start_instructions = self.board.seen.instructions - before;
        self.wait(Duration::from_millis(5))?;
        Ok(!self.board.seen.is_off)
    }

    /// False when the power went meanwhile.
    fn check(&mut self, turn: u64) -> Result<bool, String> {
        let is_sum_due = turn % SUMS_EVERY == SUMS_EVERY - 1;
        let is_on = self.check_start()? && self.check_needle_and_records(is_sum_due)?;
        if turn % WHOLE_EVERY == WHOLE_EVERY - 1 {
            self.check_the_whole_log();
        }
        Ok(is_on)
    }

    /// Erases are rare, so much is written where one is waited for.
    fn work_until_the_cut(&mut self, writes_much: bool) -> Result<(), String> {
        let deeds = if writes_much { MOST_SETTINGS } else { MOST_DEEDS };
        for _ in 0..deeds {
            if writes_much && !self.rng.one_in(20) {
                self.save_settings()?;
            } else {
                self.do_something()?;
            }
            self.watch_the_lamp();
            if self.board.seen.is_off {
                break;
            }
        }
        Ok(())
    }

    fn take_the_power(&mut self) -> Result<(), String> {
        if !self.board.seen.is_off {
            self.board.try_perform(&json!({ "op": "power_off" }))?;
        }
        self.watch_the_lamp();
        self.needle.power_off(&mut self.board)?;
        for place in self.board.seen.cuts.drain(..) {
            *self.promises.toll.places.entry(place).or_default() += 1;
            self.promises.toll.cuts += 1;
        }
        match self.board.seen.resets.drain(..).find(|cause| cause != "power") {
            Some(cause) => Err(format!("a reset: {cause}")),
            None => Ok(()),
        }
    }

    /// After the last cut the board starts, has everything, and counts.
    fn finish(&mut self) -> Result<(), String> {
        self.needle.stop(&mut self.board)?;
        self.power_on()?;
        if !self.connect()? || !self.check_start()? || !self.check_needle_and_records(true)? {
            return Err("the power went, though no cut was planned".to_owned());
        }
        let before = self.promises.last().map(|status| status.totals.edges.0);
        self.board.stroke(50, 25.0);
        self.wait(Duration::from_millis(3_500))?;
        self.check_status()?;
        let after = self.promises.last().map(|status| status.totals.edges.0);
        if after != before.map(|edges| edges + 50) {
            return Err(format!("50 strokes took the count from {before:?} to {after:?}"));
        }
        self.check_the_whole_log();
        Ok(())
    }

    /// Lets the library read the chip as it is now.
    fn check_the_whole_log(&mut self) {
        self.board.perform(&json!({ "op": "save_flash", "path": self.chip.0 }));
        let content = std::fs::read(&self.chip.0).expect("the emulator has saved the chip");
        self.promises.take_chip(&content);
    }

    /// Lets machine time pass.
    pub fn wait(&mut self, time: Duration) -> Result<(), String> {
        if !self.board.seen.is_off {
            let ns = u64::try_from(time.as_nanos()).expect("a time that a test can wait for");
            self.board.try_perform(&json!({ "op": "run", "ns": ns }))?;
        }
        Ok(())
    }
}

/// Where the chip's content is handed to and from the emulator; goes with the life.
struct ChipFile(PathBuf);

impl ChipFile {
    fn new(seed: u64) -> Self {
        let name = format!("target/board-torture-{}-{seed:016x}.bin", std::process::id());
        Self(source_tree().join(name))
    }
}

impl Drop for ChipFile {
    fn drop(&mut self) {
        // Left behind it does no harm: the target folder is nobody's.
        drop(std::fs::remove_file(&self.0));
    }
}

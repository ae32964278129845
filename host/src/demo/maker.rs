//! A made-up maker at the frame: bursts and pauses, torn cloth, care in time and late, plugs pulled at the wrong moment.
//!
//! Everything here is invented for the demo: how often cloth tears, how long a maker pauses, how fast the knob is set.

use firmware::sim::rig::Rig;
use shared_types::UtcMillis;
use shared_types::log::PressKind;

use super::notes::Notebook;
use super::random_stream::RandomStream;
use super::scenario::{COMMISSIONS, Commission, Shift};
use host_core::entries::{Finding, WorkChange};
use host_core::stats::{HOUR_MS, MINUTE_MS};

/// The tag of dry runs in the simulated needle's truth; commissions count from 1 in their order.
pub const CARE_TAG: u32 = 0;

/// Index of the commission that is on the frame for one shift while the books say another.
const SWITCHED: usize = 5;
/// Chance of a tear per stroke on well-tensioned cloth at the slow end of the knob.
const TEARS_PER_STROKE: f64 = 1.2e-6;
/// Running after which slack cloth tears twice as easily. Milliseconds.
const SLACKENS_IN_MS: f64 = 600_000.0;

/// What the maker did that the log should know of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Deeds {
    /// Tears, each pressed.
    pub tears: u64,
    /// Near-misses, each pressed.
    pub near_misses: u64,
    /// Times the power went while the needle moved.
    pub cuts_mid_burst: u64,
    /// Times the power went while it stood.
    pub cuts_idle: u64,
    /// The shift that was spent on another commission than the books say.
    pub switched: Option<Switched>,
}

/// A shift on a commission of which the books know nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Switched {
    /// When it began.
    pub at: UtcMillis,
    /// What was on the frame.
    pub on_frame: &'static str,
    /// What the books said.
    pub in_books: &'static str,
}

/// The maker, with what is on the frame and what is in the maker's mind.
#[derive(Debug)]
pub struct Maker {
    rng: RandomStream,
    in_books: usize,
    on_frame: usize,
    has_switched: bool,
    knob_permille: u16,
    run_at_retension: u64,
    run_until_retension: u64,
    run_at_oiling: u64,
    run_until_oiling: u64,
    run_at_brush_out: u64,
    /// What was done.
    pub deeds: Deeds,
}

impl Maker {
    /// A maker whose decisions hang on the seed alone.
    pub fn new(seed: u64) -> Self {
        Self {
            rng: RandomStream::new(seed, 2),
            in_books: 0,
            on_frame: 0,
            has_switched: false,
            knob_permille: 400,
            run_at_retension: 0,
            run_until_retension: 600_000,
            run_at_oiling: 0,
            run_until_oiling: 4 * HOUR_MS,
            run_at_brush_out: 0,
            deeds: Deeds::default(),
        }
    }

    /// Comes to the studio, works, goes home.
    pub fn work(&mut self, rig: &mut Rig, shift: Shift, notes: &mut Notebook) {
        rig.power_on(UtcMillis(shift.from_utc_ms));
        rig.idle(self.rng.uniform(MINUTE_MS, 5 * MINUTE_MS));
        self.choose_what_is_on_the_frame(rig);
        self.maybe_oil(rig, notes);
        let leave_at = shift.from_utc_ms + i64::try_from(shift.stay_ms).unwrap_or(0);
        let trips_at = self
            .rng
            .bernoulli(0.12)
            .then(|| shift.from_utc_ms + i64::try_from(shift.stay_ms / 2).unwrap_or(0));
        let mut tripped = false;
        while rig.utc().0 < leave_at {
            if !tripped && trips_at.is_some_and(|at| rig.utc().0 >= at) {
                tripped = true;
                self.lose_power(rig);
            }
            self.burst(rig);
            self.pause(rig);
            self.maybe_retension(rig);
            self.maybe_finish(rig, notes);
        }
        self.maybe_brush_out(rig, notes);
        rig.idle(self.rng.uniform(20_000, 120_000));
        rig.power_cut();
    }

    /// The books are opened at the very start.
    pub fn open_books(&self, notes: &mut Notebook, at: UtcMillis) {
        for commission in &COMMISSIONS {
            notes.order(commission, at);
        }
        notes.prices(at);
        notes.prepared(self.commission(self.in_books), at);
        notes.work(self.commission(self.in_books), WorkChange::Started, at);
    }

    fn commission(&self, index: usize) -> &'static Commission {
        COMMISSIONS.get(index).unwrap_or(&COMMISSIONS[0])
    }

    fn run_ms(rig: &Rig) -> u64 {
        rig.truth().powered.run.0
    }

    fn strokes_of(rig: &Rig, index: usize) -> u64 {
        let tag = u32::try_from(index + 1).unwrap_or(0);
        rig.truth().powered_by_tag.get(&tag).map_or(0, |totals| totals.edges.0)
    }

    /// One evening another commission is on the frame, and nobody writes it down.
    fn choose_what_is_on_the_frame(&mut self, rig: &mut Rig) {
        let half_done = 2 * Self::strokes_of(rig, self.in_books) > self.commission(self.in_books).strokes();
        self.on_frame = self.in_books;
        if !self.has_switched && self.in_books + 1 == SWITCHED && half_done {
            self.has_switched = true;
            self.on_frame = SWITCHED;
            let (on_frame, in_books) = (self.commission(SWITCHED).name, self.commission(self.in_books).name);
            self.deeds.switched = Some(Switched { at: rig.utc(), on_frame, in_books });
        }
        rig.set_tag(u32::try_from(self.on_frame + 1).unwrap_or(0));
    }

    fn progress(&self, rig: &Rig) -> f64 {
        let (done, all) =
            (Self::strokes_of(rig, self.on_frame), self.commission(self.on_frame).strokes().max(1));
        #[expect(clippy::cast_precision_loss, reason = "a share of some hundred thousand strokes")]
        let share = done as f64 / all as f64;
        share
    }

    /// Outline first, then fill, then detail: median knob position and burst length of each.
    fn stage(&self, rig: &Rig) -> (u64, f64) {
        match self.progress(rig) {
            share if share < 0.15 => (380, 5_000.0),
            share if share < 0.85 => (640, 8_000.0),
            _ => (250, 2_600.0),
        }
    }

    fn burst(&mut self, rig: &mut Rig) {
        let (knob_median, length_median) = self.stage(rig);
        if self.rng.bernoulli(0.06) {
            let knob = self.rng.uniform(knob_median.saturating_sub(120), (knob_median + 160).min(1_000));
            self.knob_permille = u16::try_from(knob).unwrap_or(500);
        }
        let ms = self.rng.log_normal_ms(length_median, 0.8).clamp(300, 120_000);
        let before = rig.knob_at(self.knob_permille);
        let turns = self.rng.bernoulli(0.03);
        let after =
            rig.knob_at(if turns { self.knob_permille.saturating_sub(90) } else { self.knob_permille });
        let turn_at = ms / 2;
        let knob = move |at: u64| if at < turn_at { before } else { after };
        if self.rng.bernoulli(0.000_4) {
            let cut_at = ms.max(1_500) * self.rng.uniform(30, 95) / 100;
            rig.run_trigger_and_cut(cut_at, knob);
            self.deeds.cuts_mid_burst += 1;
            let back = rig.utc().0 + i64::try_from(self.rng.uniform(15_000, 240_000)).unwrap_or(0);
            rig.power_on(UtcMillis(back));
            return;
        }
        let strokes_before = rig.truth().all.edges.0;
        rig.run_trigger(ms, knob);
        let strokes = rig.truth().all.edges.0 - strokes_before;
        self.maybe_hurt_the_cloth(rig, strokes);
    }

    fn maybe_hurt_the_cloth(&mut self, rig: &mut Rig, strokes: u64) {
        #[expect(clippy::cast_precision_loss, reason = "minutes and strokes of one burst")]
        let (strokes, slack) =
            (strokes as f64, 1.0 + (Self::run_ms(rig) - self.run_at_retension) as f64 / SLACKENS_IN_MS);
        let per_stroke = TEARS_PER_STROKE * slack * (1.0 + f64::from(self.knob_permille) / 1_500.0);
        if self.rng.bernoulli(strokes * per_stroke) {
            rig.idle(self.rng.uniform(2_000, MINUTE_MS));
            rig.press(PressKind::Tear);
            self.deeds.tears += 1;
            self.knob_permille = self.knob_permille.saturating_sub(150);
            rig.idle(self.rng.uniform(8 * MINUTE_MS, 25 * MINUTE_MS));
            self.retension(rig);
        } else if self.rng.bernoulli(strokes * per_stroke * 6.0) {
            rig.idle(self.rng.uniform(1_000, 20_000));
            rig.press(PressKind::NearMiss);
            self.deeds.near_misses += 1;
        }
    }

    fn pause(&mut self, rig: &mut Rig) {
        let ms = self.rng.log_normal_ms(4_000.0, 0.9).clamp(800, 90_000);
        let threads = self.rng.bernoulli(0.04);
        let looks = self.rng.bernoulli(0.01);
        rig.idle(ms);
        if threads {
            rig.idle(self.rng.uniform(45_000, 240_000));
        }
        if looks {
            rig.idle(self.rng.uniform(4 * MINUTE_MS, 14 * MINUTE_MS));
        }
    }

    /// Somebody trips over the cable while the needle stands.
    fn lose_power(&mut self, rig: &mut Rig) {
        rig.idle(2_000);
        rig.power_cut();
        self.deeds.cuts_idle += 1;
        let back = rig.utc().0 + i64::try_from(self.rng.uniform(20_000, 900_000)).unwrap_or(0);
        rig.power_on(UtcMillis(back));
    }

    fn maybe_retension(&mut self, rig: &mut Rig) {
        if Self::run_ms(rig) - self.run_at_retension >= self.run_until_retension {
            self.retension(rig);
        }
    }

    fn retension(&mut self, rig: &mut Rig) {
        rig.idle(self.rng.uniform(40_000, 150_000));
        rig.press(PressKind::Retension);
        self.run_at_retension = Self::run_ms(rig);
        self.run_until_retension = self.rng.uniform(8 * MINUTE_MS, 30 * MINUTE_MS);
    }

    /// Oils in time or late; then a dry run, which is care and belongs to no commission.
    fn maybe_oil(&mut self, rig: &mut Rig, notes: &mut Notebook) {
        if Self::run_ms(rig) - self.run_at_oiling < self.run_until_oiling {
            return;
        }
        rig.idle(self.rng.uniform(3 * MINUTE_MS, 8 * MINUTE_MS));
        rig.press(PressKind::CareDone);
        let finding = if self.rng.bernoulli(0.3) { Finding::GreyBlackOil } else { Finding::Clean };
        notes.care("oiling", Some(finding), rig.utc());
        let tag = u32::try_from(self.on_frame + 1).unwrap_or(0);
        rig.set_tag(CARE_TAG);
        rig.idle(self.rng.uniform(5_000, 20_000));
        let slow = rig.knob_at(150);
        rig.run_trigger(self.rng.uniform(25_000, 40_000), |_| slow);
        rig.set_tag(tag);
        rig.idle(self.rng.uniform(2 * MINUTE_MS, 4 * MINUTE_MS));
        self.run_at_oiling = Self::run_ms(rig);
        self.run_until_oiling = self.rng.uniform(3 * HOUR_MS, 7 * HOUR_MS);
    }

    fn maybe_brush_out(&mut self, rig: &mut Rig, notes: &mut Notebook) {
        if Self::run_ms(rig) > self.run_at_brush_out + 600_000 && self.rng.bernoulli(0.7) {
            rig.idle(self.rng.uniform(MINUTE_MS, 4 * MINUTE_MS));
            rig.press(PressKind::CareDone);
            let finding = if self.rng.bernoulli(0.8) { Finding::Lint } else { Finding::Clean };
            notes.care("brush-out", Some(finding), rig.utc());
            self.run_at_brush_out = Self::run_ms(rig);
        }
    }

    /// When the last stroke of a commission is made, the next one is stretched. The last one is never finished.
    fn maybe_finish(&mut self, rig: &mut Rig, notes: &mut Notebook) {
        let is_last = self.on_frame + 1 >= COMMISSIONS.len();
        if self.on_frame != self.in_books || is_last || self.progress(rig) < 1.0 {
            return;
        }
        notes.work(self.commission(self.in_books), WorkChange::Finished, rig.utc());
        notes.made_up(self.commission(self.in_books), rig.utc());
        rig.idle(20 * MINUTE_MS);
        self.in_books += 1;
        self.on_frame = self.in_books;
        rig.set_tag(u32::try_from(self.on_frame + 1).unwrap_or(0));
        notes.prepared(self.commission(self.in_books), rig.utc());
        notes.work(self.commission(self.in_books), WorkChange::Started, rig.utc());
        self.run_at_retension = Self::run_ms(rig);
    }
}

//! A made-up studio, three years of it, as rows of running with tears between them.
//!
//! Twenty rugs a year of 120,000 strokes each; a row is 800 strokes, about a minute of running at one place of the knob. A rug
//! begins with its outline, goes on with its fill, which is run faster, and ends with its detail, which is run slowly. All of these
//! numbers are made up; what is tried is the rule, not the trade.

use firmware::split_mix::SplitMix64;
use host_core::cloth::exposure_sequence::{Hurt, Ran, Step};
use host_core::entries::Harm;
use host_core::studio::RugIndex;

use super::cells::Cell;

/// Years that a studio is watched.
pub const YEARS: f64 = 3.0;
/// Rugs in that time.
pub const RUGS: usize = 60;
/// Rows of a rug.
pub const ROWS: u32 = 150;
/// Strokes of a row.
pub const STROKES: u64 = 800;
/// The same as a number.
const STROKES_OF_A_ROW: f64 = 800.0;
/// The two places of a knob that has only two, per mille of travel.
pub const PLACES: [u32; 2] = [300, 700];
/// The share of rows at the faster of the two.
pub const FAST_SHARE: f64 = 0.45;

/// The maker's mind and the cloth's state.
struct Frame {
    frailty: f64,
    rug_shift: f64,
    knob_shift: f64,
    turned_down: f64,
    since_tensioned_ms: u64,
    tension_after_ms: u64,
}

/// Three years of work. `per_stroke` is the chance of a tear per stroke of cloth that is neither frail nor slack, run slowly.
#[must_use]
pub fn work(cell: &Cell, per_stroke: f64, seed: u64) -> Vec<Step> {
    let mut rng = SplitMix64::new(seed);
    let mut steps = Vec::with_capacity(RUGS * 160);
    let false_presses = cell.wrong_presses * cell.tears_per_year * YEARS / rows();
    for rug in 0..RUGS {
        let mut frame = Frame::stretched(cell, &mut rng);
        for row in 0..ROWS {
            let ran = frame.run(cell, rug, row, &mut rng);
            steps.push(Step::Ran(ran));
            let tears = rng.uniform() < per_stroke * frame.risk(cell, &ran) * STROKES_OF_A_ROW;
            let is_pressed = tears && !(cell.wrong_presses > 0.0 && rng.uniform() < cell.wrong_presses);
            let is_mistaken = false_presses > 0.0 && rng.uniform() < false_presses;
            for _ in 0..u32::from(is_pressed) + u32::from(is_mistaken) {
                steps.push(Step::Hurt(Hurt {
                    id: None,
                    harm: Harm::Tear,
                    rug: ran.rug,
                    lot: None,
                    knob: ran.knob,
                }));
            }
            if tears && cell.turned_down > 0.0 {
                frame.since_tensioned_ms = 0;
                frame.turned_down = cell.turned_down;
            }
        }
    }
    steps
}

fn rows() -> f64 {
    f64::from(ROWS) * 60.0
}

impl Frame {
    fn stretched(cell: &Cell, rng: &mut SplitMix64) -> Self {
        let frailty = rng.gamma_of_mean_one(cell.frailty_variance);
        let by_frailty = (cell.knob_by_frailty * frailty.max(1e-3).ln()).clamp(-400.0, 400.0);
        Self {
            frailty,
            rug_shift: 80.0 * rng.normal() + by_frailty,
            knob_shift: 0.0,
            turned_down: 0.0,
            since_tensioned_ms: 0,
            tension_after_ms: 900_000,
        }
    }

    fn run(&mut self, cell: &Cell, rug: usize, row: u32, rng: &mut SplitMix64) -> Ran {
        if self.since_tensioned_ms >= self.tension_after_ms {
            self.since_tensioned_ms = 0;
            self.tension_after_ms = 480_000 + rng.below(1_320_000);
        }
        if rng.one_in(8) {
            self.knob_shift = 300.0 * (rng.uniform() - 0.5);
        }
        let knob = if cell.two_places {
            if rng.uniform() < FAST_SHARE { PLACES[1] } else { PLACES[0] }
        } else {
            self.knob(cell, row)
        };
        // Eight strokes a second at the slow end, sixteen at the fast end.
        let run_ms = STROKES * 1_000_000 / (8_000 + 8 * u64::from(knob));
        let rate = Some(80 + 80 * knob / 1_000);
        self.since_tensioned_ms += run_ms;
        self.turned_down *= cell.caution_kept;
        Ran { rug: Some(RugIndex::of(rug)), knob: Some(knob), rate, run_ms, edges: STROKES, ..Ran::default() }
    }

    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held between 0 and 1000")]
    fn knob(&self, cell: &Cell, row: u32) -> u32 {
        let stage = match row * 100 / ROWS {
            0..15 => 380.0,
            15..85 => 600.0,
            _ => 250.0,
        };
        let hurry = cell.hurry_per_minute * self.minutes_since_tensioned();
        (stage + self.rug_shift + self.knob_shift + hurry - self.turned_down).clamp(0.0, 1000.0) as u32
    }

    fn minutes_since_tensioned(&self) -> f64 {
        f64::from(u32::try_from(self.since_tensioned_ms).unwrap_or(u32::MAX)) / 60_000.0
    }

    fn risk(&self, cell: &Cell, ran: &Ran) -> f64 {
        let slack = if cell.slackens { 1.0 + self.minutes_since_tensioned() / 10.0 } else { 1.0 };
        let fast = if ran.knob == Some(PLACES[1]) { cell.fast_factor } else { 1.0 };
        self.frailty * slack * fast
    }
}

/// The chance per stroke that makes so many tears a year as the cell wants, from fifty studios whose cloth never tears.
#[must_use]
pub fn tears_per_stroke(cell: &Cell, seed: u64) -> f64 {
    let mut risk = 0.0;
    for studio in 0..50 {
        let mut rng = SplitMix64::new(seed ^ (0xABCD + studio));
        for rug in 0..RUGS {
            let mut frame = Frame::stretched(cell, &mut rng);
            for row in 0..ROWS {
                let ran = frame.run(cell, rug, row, &mut rng);
                risk += frame.risk(cell, &ran) * STROKES_OF_A_ROW;
            }
        }
    }
    cell.tears_per_year * YEARS * 50.0 / risk
}

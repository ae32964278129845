//! What a maker and a computer do to the board until the power goes.

use std::time::Duration;

use serde_json::{Value, json};
use shared_types::link::{LogState, Reply, Request};
use shared_types::log::{Limits, PressKind, Settings};
use shared_types::{MachineTag, RecordSeq, RunMillis, UtcMillis};

use super::life::Life;
use crate::emulator::{CARE_BUTTON, CLOTH_BUTTON};

fn ms(milliseconds: u64) -> Duration {
    Duration::from_millis(milliseconds)
}

/// Times of the emulator, each with something beside it.
fn pairs<T>(list: &Value, beside: impl Fn(&Value) -> T) -> Vec<(u64, T)> {
    let pairs = list.as_array().into_iter().flatten();
    pairs.map(|pair| (pair[0].as_u64().expect("a time"), beside(&pair[1]))).collect()
}

impl Life<'_> {
    /// Does one thing; the power may go in the middle of it.
    pub fn do_something(&mut self) -> Result<(), String> {
        match self.rng.below(12) {
            0..=4 => self.sew(),
            5 => {
                let angle = self.rng.below(4_096) as u16;
                self.board.turn_knob(angle);
                self.wait(ms(400))
            }
            6 | 7 => self.press(),
            8 => self.save_settings(),
            9 => self.pull(),
            10 => self.set_the_clock(),
            _ => {
                let still = ms(300 + self.rng.below(2_500));
                self.wait(still)
            }
        }
    }

    /// The trigger is pulled, and often goes on being pulled while other things happen, or the power goes.
    fn sew(&mut self) -> Result<(), String> {
        let hz = 5.0 + 40.0 * self.rng.uniform();
        let strokes = (hz * (0.3 + 14.0 * self.rng.uniform())) as u32;
        self.needle.stop(&mut self.board)?;
        self.needle.strokes_at(hz);
        self.board.stroke(strokes, hz);
        let time = Duration::from_secs_f64((f64::from(strokes) / hz + 1.5) * self.rng.uniform());
        self.wait(time)
    }

    fn press(&mut self) -> Result<(), String> {
        let (pin, tap, hold) = if self.rng.one_in(2) {
            (CLOTH_BUTTON, PressKind::NearMiss, PressKind::Tear)
        } else {
            (CARE_BUTTON, PressKind::CareDone, PressKind::Retension)
        };
        let (kind, time) = if self.rng.one_in(2) { (tap, ms(80)) } else { (hold, ms(1_000)) };
        self.promises.press(kind, self.lamp.uptime_ms(self.board.seen.time_ns));
        self.board.try_perform(&json!({ "op": "hold", "pin": pin, "down": true }))?;
        self.wait(time)?;
        self.board.try_perform(&json!({ "op": "hold", "pin": pin, "down": false }))?;
        self.wait(ms(1_500))
    }

    /// Takes what the lamp has confirmed, also in what came before the power went.
    pub fn watch_the_lamp(&mut self) {
        let answer = self.board.perform(&json!({ "op": "led" }));
        let edges: Vec<(u64, bool)> = pairs(&answer["edges"], |it| it == true);
        let answer = self.board.perform(&json!({ "op": "flash_busy" }));
        let busy: Vec<(u64, u64)> = pairs(&answer["spans"], |it| it.as_u64().expect("a time"));
        for confirmed in self.lamp.look(&edges, &busy) {
            self.promises.confirm_a_press(confirmed);
        }
    }

    /// Settings like no others before.
    pub fn save_settings(&mut self) -> Result<(), String> {
        let limits = Limits {
            look_at: Some(RunMillis(self.rng.below(1 << 40))),
            retension_every: Some(RunMillis(self.rng.below(1 << 24))),
            ..Limits::default()
        };
        let machine = MachineTag(1 + self.rng.below(u64::from(u32::MAX)) as u32);
        let settings = Settings { machine, knob_step: 24, limits };
        self.promises.try_settings(settings);
        if self.order(&Request::Apply(settings))? {
            self.promises.promise_settings();
        }
        Ok(())
    }

    /// Reads what is new and acknowledges some of it.
    fn pull(&mut self) -> Result<(), String> {
        if !self.check_status()? {
            return Ok(());
        }
        let Some(LogState::Ready { log, next, .. }) = self.promises.last().map(|status| status.log) else {
            return Ok(());
        };
        let below = next.0.saturating_sub(self.rng.below(30) as u32);
        if self.order(&Request::Acknowledge { log, below: RecordSeq(below) })? {
            self.promises.promise_cursor(below);
        }
        Ok(())
    }

    fn set_the_clock(&mut self) -> Result<(), String> {
        let utc = UtcMillis(1_900_000_000_000 + self.rng.below(1 << 34).cast_signed());
        self.order(&Request::SetClock { utc }).map(|_| ())
    }

    /// True when the board has said that it is done; false when the power went.
    fn order(&mut self, request: &Request) -> Result<bool, String> {
        let reply = self.board.try_ask(request, |reply| match reply {
            Reply::Done => Ok(()),
            other => Err(format!("{request:?} was answered with {other:?}")),
        })?;
        reply.transpose().map(|done| done.is_some())
    }
}

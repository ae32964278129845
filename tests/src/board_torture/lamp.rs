//! When the lamp has confirmed a press, told apart from a flash that was held up.
//!
//! The board sets the lamp once in a look, and while its flash memory is busy it looks at nothing. It puts the lamp out before a
//! sector is erased, but programming can hold a flash of 100 ms up. So a lit lamp says *saved* only once it has been lit, outside
//! the flashes of every other message, for longer than two looks are apart, not counting the time in which the memory was busy.

/// Flashes of *look when you stop* and *re-tension* in every two seconds of uptime (firmware/LAMP.md), in milliseconds. *Finish this
/// line, then stop* is never asked for here.
const FLASHES_MS: [std::ops::Range<u64>; 2] = [0..100, 250..350];
const PERIOD_MS: u64 = 2_000;
/// Looks are 50 ms apart while the lamp speaks; reading the knob and answering the cable come on top. Milliseconds.
const LOOKS_APART_MS: u64 = 70;
const NS_PER_MS: u64 = 1_000_000;

/// What the lamp has said since the power came.
#[derive(Debug, Default)]
pub struct LampWatch {
    power_on_ns: u64,
    lit_at: Option<u64>,
    /// When the flash memory was busy, as (from, to), since the lamp was lit.
    busy: Vec<(u64, u64)>,
}

/// The lamp has said *saved*; in milliseconds of uptime.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Confirmed {
    /// When it was dark again, because the second was over or the power went.
    pub until_ms: u64,
}

impl LampWatch {
    /// The power has come at this moment of the world's time.
    pub fn power_on(&mut self, now_ns: u64) {
        *self = Self { power_on_ns: now_ns, ..Self::default() };
    }

    /// Uptime at a moment of the world's time.
    pub const fn uptime_ms(&self, at_ns: u64) -> u64 {
        at_ns.saturating_sub(self.power_on_ns) / NS_PER_MS
    }

    /// Takes the lamp's edges and the times in which the memory was busy, both since the last call, and tells what was confirmed.
    pub fn look(&mut self, edges: &[(u64, bool)], busy: &[(u64, u64)]) -> Vec<Confirmed> {
        self.busy.extend_from_slice(busy);
        let mut confirmed = Vec::new();
        for &(at, is_lit) in edges {
            if is_lit {
                self.lit_at = Some(at);
            } else if self.lit_at.take().is_some_and(|lit_at| self.says_saved(lit_at, at)) {
                confirmed.push(Confirmed { until_ms: self.uptime_ms(at) });
            }
        }
        if self.lit_at.is_none() {
            self.busy.clear();
        }
        confirmed
    }

    fn says_saved(&self, from_ns: u64, to_ns: u64) -> bool {
        let mut unexplained_ms = 0;
        for at_ns in (from_ns..to_ns).step_by(NS_PER_MS as usize) {
            let phase = self.uptime_ms(at_ns) % PERIOD_MS;
            if FLASHES_MS.iter().any(|flash| flash.contains(&phase)) {
                unexplained_ms = 0;
            } else if !self.busy.iter().any(|(from, to)| (*from..*to).contains(&at_ns)) {
                unexplained_ms += 1;
            }
            if unexplained_ms > LOOKS_APART_MS {
                return true;
            }
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The lamp is lit from one uptime to another, in microseconds, while the memory is busy in these; the power came after 7 ms.
    fn confirmed(lit: (u64, u64), busy: &[(u64, u64)]) -> Vec<Confirmed> {
        let world = |us: u64| 7 * NS_PER_MS + us * 1_000;
        let mut watch = LampWatch::default();
        watch.power_on(7 * NS_PER_MS);
        let busy: Vec<_> = busy.iter().map(|(from, to)| (world(*from), world(*to))).collect();
        watch.look(&[(world(lit.0), true), (world(lit.1), false)], &busy)
    }

    #[test]
    fn a_flash_held_up_by_an_erase_confirms_nothing() {
        // As an earlier image did it: a flash on, and a sector erased in the look that was to put it out.
        let erase = (4_145_736, 4_190_736);
        assert_eq!(confirmed((4_041_834, 4_191_674), &[erase]), []);
        // Two sectors of a slow chip: 400 ms each.
        assert_eq!(confirmed((4_041_834, 4_950_000), &[(4_145_000, 4_545_000), (4_545_000, 4_945_000)]), []);
        // A look just before the end of a flash, and the next one as late as it comes.
        assert_eq!(confirmed((2_001_000, 2_160_000), &[]), []);
    }

    #[test]
    fn a_second_of_light_confirms_a_press_also_where_the_memory_is_busy_or_a_flash_went_before() {
        let until_ms = |ms| vec![Confirmed { until_ms: ms }];
        assert_eq!(confirmed((1_778_294, 2_822_061), &[]), until_ms(2_822));
        assert_eq!(confirmed((5_000_000, 6_045_000), &[(5_001_000, 5_091_000)]), until_ms(6_045));
        assert_eq!(confirmed((4_000_000, 5_090_000), &[(4_090_000, 4_091_000)]), until_ms(5_090));
    }

    #[test]
    fn a_confirmation_that_the_power_ends_counts_as_soon_as_it_cannot_be_a_flash() {
        assert_eq!(confirmed((1_000_000, 1_080_000), &[]), [Confirmed { until_ms: 1_080 }]);
        assert_eq!(confirmed((1_000_000, 1_060_000), &[]), []);
    }

    #[test]
    fn a_lit_lamp_is_followed_from_one_look_to_the_next() {
        let mut watch = LampWatch::default();
        watch.power_on(0);
        assert_eq!(watch.look(&[(1_000 * NS_PER_MS, true)], &[]), []);
        let busy = [(1_010 * NS_PER_MS, 1_055 * NS_PER_MS)];
        assert_eq!(watch.look(&[], &busy), []);
        assert_eq!(watch.look(&[(1_115 * NS_PER_MS, false)], &[]), [], "60 ms of it were awake");
        assert_eq!(watch.look(&[(1_200 * NS_PER_MS, true)], &[]), []);
        assert_eq!(watch.look(&[(1_300 * NS_PER_MS, false)], &[]).len(), 1, "that erase is past");
    }
}

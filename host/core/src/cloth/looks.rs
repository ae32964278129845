//! Sequential test of the primary question: the looks, and what each may say. Whoever looks again after every tear finds a difference sooner or
//! later by chance alone; so the answer may change only at a few numbers of tears, fixed beforehand, and each look must be surer
//! than a single one would have to be.

use serde::Serialize;

use crate::stats::{ExactRatio, Level, Pair, TooManyEvents, exact_p, exact_ratio};

/// The first look: with so many tears.
pub const FIRST_LOOK: u64 = 6;
/// A look speaks of a difference when chance alone makes one as large with at most this probability.
pub const LOOK_P: f64 = 0.01;
/// "A doubling is unlikely" when limits of this level lie inside one half to two.
pub const NO_DOUBLING_LEVEL: f64 = 0.9;

/// What may be said of the primary question: does fast running tear more than slow running, stroke for stroke?
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Fast running tears more.
    FasterTearsMore,
    /// Slow running tears more.
    SlowerTearsMore,
    /// The 90 % limits of the ratio lie inside one half to two.
    DoublingIsUnlikely,
    /// None of these.
    CannotTellYet,
}

impl Verdict {
    /// Whether it says that speed matters.
    #[must_use]
    pub const fn says_that_speed_matters(self) -> bool {
        matches!(self, Self::FasterTearsMore | Self::SlowerTearsMore)
    }
}

/// The number of tears of the look after one at `tears`: half as many again, rounded up, and 6 at first. So 6, 9, 14, 21, 32, 48,
/// 72, 108 ...
#[must_use]
pub const fn look_after(tears: u64) -> u64 {
    let mut look = FIRST_LOOK;
    while look <= tears {
        look = look.saturating_add(look.div_ceil(2));
    }
    look
}

/// What one look says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// In one word.
    pub verdict: Verdict,
    /// The ratio of fast to slow within rugs, at the level that was asked for.
    pub ratio: ExactRatio,
}

/// Judges one look.
///
/// # Errors
/// When there are more tears than can be compared.
pub fn judge(strata: &[Pair], level: Level) -> Result<Judged, TooManyEvents> {
    let ratio = exact_ratio(strata, level)?;
    let claimed = claim(strata)?;
    let verdict = if claimed.says_that_speed_matters() {
        claimed
    } else {
        let ninety = Level::new(NO_DOUBLING_LEVEL).map(|level| exact_ratio(strata, level)).transpose()?;
        let is_inside = ninety.is_some_and(|limits| {
            limits.low.is_some_and(|low| low >= 0.5) && limits.high.is_some_and(|high| high <= 2.0)
        });
        if is_inside { Verdict::DoublingIsUnlikely } else { Verdict::CannotTellYet }
    };
    Ok(Judged { verdict, ratio })
}

/// Whether a look says that speed matters, and which way; else that it cannot tell. Does not work any limits out.
///
/// # Errors
/// When there are more tears than can be compared.
pub fn claim(strata: &[Pair]) -> Result<Verdict, TooManyEvents> {
    let Some(exact) = exact_p(strata)? else { return Ok(Verdict::CannotTellYet) };
    Ok(match (exact.p_value <= LOOK_P, exact.is_above_expected) {
        (false, _) => Verdict::CannotTellYet,
        (true, true) => Verdict::FasterTearsMore,
        (true, false) => Verdict::SlowerTearsMore,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Observed;

    fn pair(fast: u64, slow: u64) -> Pair {
        Pair {
            upper: Observed { events: fast, exposure: 1.0 },
            lower: Observed { events: slow, exposure: 1.0 },
        }
    }

    #[test]
    fn looks_come_at_six_and_then_at_half_as_many_again() {
        let looks: Vec<u64> =
            std::iter::successors(Some(look_after(0)), |look| Some(look_after(*look))).take(8).collect();
        assert_eq!(looks, vec![6, 9, 14, 21, 32, 48, 72, 108]);
    }

    #[test]
    fn eight_of_eight_on_one_side_are_told_and_seven_of_seven_are_not() {
        // Halves of the strokes each: 2 / 2^8 = 0.0078, 2 / 2^7 = 0.0156, by hand.
        assert_eq!(claim(&[pair(8, 0)]), Ok(Verdict::FasterTearsMore));
        assert_eq!(claim(&[pair(0, 8)]), Ok(Verdict::SlowerTearsMore));
        assert_eq!(claim(&[pair(7, 0)]), Ok(Verdict::CannotTellYet));
    }

    #[test]
    fn as_many_on_both_sides_rule_a_doubling_out_only_when_there_are_many() {
        // Clopper and Pearson's 90 % limits of a half: of 24 in 48 they are 0.3736 and 0.6264 (scipy's beta quantiles), as odds
        // 0.596 and 1.68; of 10 in 20 they are 0.3020 and 0.6980, as odds 0.433 and 2.31.
        assert_eq!(judge(&[pair(24, 24)], Level::USUAL).unwrap().verdict, Verdict::DoublingIsUnlikely);
        assert_eq!(judge(&[pair(10, 10)], Level::USUAL).unwrap().verdict, Verdict::CannotTellYet);
    }

    #[test]
    fn nothing_to_compare_tells_nothing() {
        assert_eq!(judge(&[], Level::USUAL).unwrap().verdict, Verdict::CannotTellYet);
    }
}

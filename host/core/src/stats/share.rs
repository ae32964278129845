//! A share with exact limits.

use statrs::function::beta::checked_beta_reg;

use super::root::root;
use super::{Estimate, Level, number};

/// The share of `some` among `all` with limits of Clopper and Pearson (1934): the shares at which so many or more, or so many
/// or fewer, would be just too surprising. Nothing without any, or with more than all.
#[must_use]
pub fn share_limits(some: u64, all: u64, level: Level) -> Estimate {
    if all == 0 || some > all {
        return Estimate::default();
    }
    let tail = level.tail();
    Estimate {
        estimate: Some(number(some) / number(all)),
        low: at_least(some, all, tail),
        high: at_least(all - some, all, tail).map(|others| 1.0 - others),
    }
}

/// The share at which `some` or more of `all` have the probability `tail`; 0 for none.
fn at_least(some: u64, all: u64, tail: f64) -> Option<f64> {
    if some == 0 {
        return Some(0.0);
    }
    // The probability of `some` or more is the regularised beta function; the library's own inverse of it may never return.
    let probability = |share: f64| {
        if share <= 0.0 {
            return 0.0;
        }
        checked_beta_reg(number(some), number(all - some) + 1.0, share.min(1.0)).unwrap_or(f64::NAN)
    };
    root(0.0, 1.0, |share| probability(share) - tail)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn none_and_all_are_worked_out_by_hand() {
        // None of ten: (1 - p)^10 = 0.025, p = 1 - 0.025^(1/10).
        let none = share_limits(0, 10, Level::USUAL);
        assert_eq!((none.estimate, none.low), (Some(0.0), Some(0.0)));
        let bound = 1.0 - 0.025_f64.powf(0.1);
        assert!((none.high.unwrap() - bound).abs() < 1e-10, "{none:?}");
        let all = share_limits(10, 10, Level::USUAL);
        assert_eq!((all.estimate, all.high), (Some(1.0), Some(1.0)));
        assert!((all.low.unwrap() - (1.0 - bound)).abs() < 1e-10, "{all:?}");
    }

    #[test]
    fn nothing_of_nothing_is_no_share() {
        assert_eq!(share_limits(0, 0, Level::USUAL), Estimate::default());
        assert_eq!(share_limits(3, 2, Level::USUAL), Estimate::default());
    }

    proptest! {
        #[test]
        fn limits_enclose_the_share_and_mirror_each_other(all in 1_u64..400, part in 0.0_f64..=1.0) {
            let some = (0..=all).filter(|&some| number(some) <= part * number(all)).max().unwrap();
            let (one, other) = (share_limits(some, all, Level::USUAL), share_limits(all - some, all, Level::USUAL));
            prop_assert!(one.low <= one.estimate && one.estimate <= one.high);
            prop_assert!((one.low.unwrap() + other.high.unwrap() - 1.0).abs() < 1e-9);
        }
    }
}

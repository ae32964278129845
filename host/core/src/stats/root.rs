//! Root of a rising function, and limits of a profile likelihood. Every step keeps a bracket around the root.

/// Steps after which any bracket of floating-point numbers has closed, a third of them halvings; ordinary ones need about twelve.
const STEPS: u32 = 600;
/// A bracket narrower than this share of its place is closed.
const NARROW: f64 = 1e-14;
/// The first step away from the best value when a limit is sought, in the logarithm of the quantity.
const FIRST_STEP: f64 = 0.05;
/// A limit farther than this from the best value, in the logarithm, is none.
const FARTHEST: f64 = 600.0;

/// The place between `low` and `high` where `rising` passes zero; nothing when it does not pass it there.
///
/// False position with the weight of a stale end halved; every third step halves the bracket, which bounds the work.
#[must_use]
pub fn root(low: f64, high: f64, rising: impl Fn(f64) -> f64) -> Option<f64> {
    let (mut low, mut high) = (low, high);
    let (mut at_low, mut at_high) = (rising(low), rising(high));
    if !(at_low <= 0.0 && 0.0 <= at_high) {
        return None;
    }
    for step in 0..STEPS {
        let width = high - low;
        if at_low == 0.0 || width <= NARROW * low.abs().max(high.abs()) {
            return Some(low);
        }
        if at_high == 0.0 {
            return Some(high);
        }
        let straight = low + width * (at_low / (at_low - at_high));
        let is_usable = straight > low && straight < high && step % 3 != 2;
        let place = if is_usable { straight } else { low + width / 2.0 };
        if place <= low || place >= high {
            return Some(low);
        }
        let value = rising(place);
        if value.is_nan() {
            return None;
        }
        if value < 0.0 {
            (low, at_low, at_high) = (place, value, at_high / 2.0);
        } else {
            (high, at_high, at_low) = (place, value, at_low / 2.0);
        }
    }
    Some(low + (high - low) / 2.0)
}

/// In which direction a limit is sought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Below the best value.
    Below,
    /// Above it.
    Above,
}

/// The place on one side of `best` where `deviance` has grown to `allowed`; nothing when it never does within reach.
pub fn limit(best: f64, side: Side, allowed: f64, deviance: impl Fn(f64) -> f64) -> Option<f64> {
    let sign = match side {
        Side::Below => -1.0,
        Side::Above => 1.0,
    };
    let excess = |step: f64| deviance(best + sign * step) - allowed;
    let (mut near, mut far) = (0.0, FIRST_STEP);
    while far <= FARTHEST {
        let value = excess(far);
        if value.is_nan() {
            return None;
        }
        if value >= 0.0 {
            return root(near, far, excess).map(|step| best + sign * step);
        }
        near = far;
        far *= 2.0;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::{Side, limit, root};

    #[test]
    fn the_cube_root_of_two_is_found() {
        // 2^(1/3) = 1.25992104989487..., a constant of any table of roots.
        let found = root(0.0, 10.0, |x| x * x * x - 2.0);
        assert!(found.is_some_and(|found| (found - 1.259_921_049_894_873).abs() < 1e-13), "{found:?}");
    }

    #[test]
    fn a_curve_that_is_flat_nearly_everywhere_is_no_trap() {
        let found = root(-700.0, 700.0, |x| x.exp() - 3.0);
        assert!(found.is_some_and(|found| (found - 3.0_f64.ln()).abs() < 1e-12), "{found:?}");
        let found = root(-1e6, 2e6, |x| if x < 1.0 { -1e-300 } else { 1e300 });
        assert!(found.is_some_and(|found| (found - 1.0).abs() < 1e-8), "{found:?}");
    }

    #[test]
    fn a_root_outside_the_bracket_is_refused() {
        assert_eq!(root(0.0, 1.0, |x| x - 2.0), None);
        assert_eq!(root(0.0, 1.0, |_| f64::NAN), None);
    }

    #[test]
    fn limits_of_a_parabola_lie_at_the_root() {
        // (x - 1)^2 = 4 at -1 and 3.
        let parabola = |x: f64| (x - 1.0).powi(2);
        let below = limit(1.0, Side::Below, 4.0, parabola);
        let above = limit(1.0, Side::Above, 4.0, parabola);
        assert!(below.is_some_and(|x| (x + 1.0).abs() < 1e-12), "{below:?}");
        assert!(above.is_some_and(|x| (x - 3.0).abs() < 1e-12), "{above:?}");
    }

    #[test]
    fn a_deviance_that_levels_off_has_no_limit() {
        assert_eq!(limit(0.0, Side::Above, 1.0, |x| x / (x + 2.0)), None);
    }
}

//! Finds where a monotone function passes a value, by halving: slow, but it cannot run away in a far tail.

/// Halvings after which two neighbouring floating-point numbers are left.
const HALVINGS: u32 = 200;

/// The place between `low` and `high` where `rising` passes `target`; nothing when it does not pass it there.
pub fn crossing(mut low: f64, mut high: f64, target: f64, rising: impl Fn(f64) -> f64) -> Option<f64> {
    let (at_low, at_high) = (rising(low), rising(high));
    if !(at_low <= target && target <= at_high) {
        return None;
    }
    for _ in 0..HALVINGS {
        let middle = low + (high - low) / 2.0;
        if middle <= low || middle >= high {
            break;
        }
        if rising(middle) < target {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(low + (high - low) / 2.0)
}

#[cfg(test)]
mod tests {
    use super::crossing;

    #[test]
    fn the_cube_root_of_two_is_found() {
        // 2^(1/3) = 1.25992104989487..., a constant of any table of roots.
        let root = crossing(0.0, 10.0, 2.0, |x| x * x * x);
        assert!(root.is_some_and(|root| (root - 1.259_921_049_894_873).abs() < 1e-14), "{root:?}");
    }

    #[test]
    fn a_value_outside_the_bracket_is_refused() {
        assert_eq!(crossing(0.0, 1.0, 2.0, |x| x), None);
    }
}

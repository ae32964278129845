//! Isotonic regression, and the monotone cubic through rising points.

/// The values nearest to the given ones, by weighted squares, that never fall: neighbours out of order are pooled to their
/// mean until none is left (Ayer, Brunk, Ewing, Reid and Silverman 1955). Weights must be above zero; a missing one counts 1.
#[must_use]
pub fn isotonic(values: &[f64], weights: &[f64]) -> Vec<f64> {
    let mut blocks: Vec<(f64, f64, usize)> = Vec::new();
    let weights = weights.iter().copied().chain(std::iter::repeat(1.0));
    for (&value, weight) in values.iter().zip(weights) {
        let mut block = (value, weight, 1);
        while let Some(before) = blocks.pop_if(|before| before.0 > block.0) {
            let weight = before.1 + block.1;
            block = ((before.0 * before.1 + block.0 * block.1) / weight, weight, before.2 + block.2);
        }
        blocks.push(block);
    }
    blocks.into_iter().flat_map(|(value, _, many)| std::iter::repeat_n(value, many)).collect()
}

/// A curve of cubics through points, which rises wherever the points do and never leaves their range (Fritsch and Carlson
/// 1980).
#[derive(Clone, Debug, PartialEq)]
pub struct MonotoneCubic {
    points: Vec<(f64, f64)>,
    slopes: Vec<f64>,
}

impl MonotoneCubic {
    /// Through points whose first numbers rise and whose second never fall; at least two. Nothing else is accepted.
    #[must_use]
    pub fn through(points: &[(f64, f64)]) -> Option<Self> {
        let is_rising = points
            .windows(2)
            .all(|two| matches!(two, [(x, y), (next_x, next_y)] if x < next_x && y <= next_y));
        if points.len() < 2 || !is_rising {
            return None;
        }
        let secants: Vec<f64> = points
            .windows(2)
            .filter_map(|two| match two {
                [(x, y), (next_x, next_y)] => Some((next_y - y) / (next_x - x)),
                _ => None,
            })
            .collect();
        let ends = |place: usize| -> f64 {
            let before = place.checked_sub(1).and_then(|before| secants.get(before));
            match (before, secants.get(place)) {
                (Some(before), Some(after)) => f64::midpoint(*before, *after),
                (Some(only), None) | (None, Some(only)) => *only,
                (None, None) => 0.0,
            }
        };
        let mut slopes: Vec<f64> = (0..points.len()).map(ends).collect();
        // A slope drawn in for one stretch may take its neighbour out of the region in which both may be steep, so all are
        // looked at again until nothing changes. A stretch is drawn in once at most: what it becomes bears any smaller slope.
        for _ in 0..=secants.len() {
            let before = slopes.clone();
            for (place, &secant) in secants.iter().enumerate() {
                if let Some([left, right]) = slopes.get_mut(place..=place + 1) {
                    (*left, *right) = held(*left, *right, secant);
                }
            }
            if slopes == before {
                break;
            }
        }
        Some(Self { points: points.to_vec(), slopes })
    }

    /// The height at a place; outside the points the nearer end.
    #[must_use]
    pub fn at(&self, place: f64) -> f64 {
        let next = self.points.partition_point(|(x, _)| *x <= place);
        let Some(left) = next.checked_sub(1) else {
            return self.points.first().map_or(f64::NAN, |(_, y)| *y);
        };
        let (Some(&(x, y)), Some(&(next_x, next_y))) = (self.points.get(left), self.points.get(next)) else {
            return self.points.last().map_or(f64::NAN, |(_, y)| *y);
        };
        let width = next_x - x;
        let t = (place - x) / width;
        let slope = |of: usize| width * self.slopes.get(of).copied().unwrap_or(0.0);
        let (t2, t3) = (t * t, t * t * t);
        (2.0 * t3 - 3.0 * t2 + 1.0) * y
            + (t3 - 2.0 * t2 + t) * slope(left)
            + (3.0 * t2 - 2.0 * t3) * next_y
            + (t3 - t2) * slope(next)
    }
}

/// Slopes at both ends of a stretch, drawn in where the cubic would overshoot.
fn held(left: f64, right: f64, secant: f64) -> (f64, f64) {
    if secant == 0.0 {
        return (0.0, 0.0);
    }
    let (alpha, beta) = (left / secant, right / secant);
    let (one, other) = (2.0 * alpha + beta - 3.0, alpha + 2.0 * beta - 3.0);
    // Inside this region of the two slopes the cubic is monotone although their sum is large.
    if one > 0.0 && other > 0.0 && alpha * (one + other) < one * one {
        let tau = 3.0 * secant / alpha.hypot(beta);
        return (tau * alpha, tau * beta);
    }
    (left, right)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Data set RPN 14 of Fritsch and Carlson (1980).
    const RPN_14: [(f64, f64); 9] = [
        (7.99, 0.0),
        (8.09, 2.764_29e-5),
        (8.19, 4.374_98e-2),
        (8.7, 0.169_183),
        (9.2, 0.469_428),
        (10.0, 0.943_740),
        (12.0, 0.998_636),
        (15.0, 0.999_919),
        (20.0, 0.999_994),
    ];

    #[test]
    fn the_curve_is_that_of_a_reference_library_on_published_data() {
        // R, splinefun(method = "monoH.FC"), on the same data.
        let expected = [
            (8.04, 3.468_470e-6),
            (8.14, 0.017_629_28),
            (8.5, 0.111_453_5),
            (9.0, 0.341_094_6),
            (9.6, 0.758_026_9),
            (11.0, 0.991_433_1),
            (13.0, 0.999_528_0),
            (17.0, 0.999_973_1),
        ];
        let curve = MonotoneCubic::through(&RPN_14).unwrap();
        for (place, height) in expected {
            assert!((curve.at(place) / height - 1.0).abs() < 1e-6, "{place}: {}", curve.at(place));
        }
    }

    #[test]
    fn the_curve_never_falls_nor_leaves_the_range_where_an_ordinary_spline_does() {
        // An ordinary cubic spline through these points spans -0.00785 to 1.1016.
        let curve = MonotoneCubic::through(&RPN_14).unwrap();
        let heights: Vec<f64> = (0..=12_010).map(|step| curve.at(7.99 + f64::from(step) / 1_000.0)).collect();
        assert!(heights.windows(2).all(|two| two[1] >= two[0] - 1e-15));
        assert!(heights.iter().all(|height| (0.0..=0.999_994).contains(height)));
    }

    #[test]
    fn points_out_of_order_or_falling_have_no_curve() {
        assert_eq!(MonotoneCubic::through(&[(0.0, 1.0), (0.0, 2.0)]), None);
        assert_eq!(MonotoneCubic::through(&[(0.0, 1.0), (1.0, 0.5)]), None);
        assert_eq!(MonotoneCubic::through(&[(0.0, 1.0)]), None);
    }

    #[test]
    fn pooling_is_worked_out_by_hand() {
        // 3 and 1 pool to 2; with weights 1 and 3 to 1.5, which the 1.8 after it does not touch.
        assert_eq!(isotonic(&[1.0, 3.0, 1.0, 4.0], &[1.0; 4]), [1.0, 2.0, 2.0, 4.0]);
        assert_eq!(isotonic(&[3.0, 1.0, 1.8], &[1.0, 3.0, 1.0]), [1.5, 1.5, 1.8]);
        assert_eq!(isotonic(&[3.0, 2.0, 1.0], &[1.0; 3]), [2.0; 3]);
        assert_eq!(isotonic(&[], &[]), Vec::<f64>::new());
    }

    proptest! {
        #[test]
        fn any_values_become_rising_ones_of_the_same_mean(values in prop::collection::vec(-5.0_f64..5.0, 1..40)) {
            let pooled = isotonic(&values, &vec![1.0; values.len()]);
            prop_assert!(pooled.windows(2).all(|two| two[0] <= two[1]));
            let sum = |of: &[f64]| of.iter().sum::<f64>();
            prop_assert!((sum(&pooled) - sum(&values)).abs() < 1e-9);
            let points: Vec<(f64, f64)> = (0..).map(f64::from).zip(pooled).collect();
            if let Some(curve) = MonotoneCubic::through(&points) {
                let heights: Vec<f64> = (0..400).map(|step| curve.at(f64::from(step) / 10.0)).collect();
                prop_assert!(heights.windows(2).all(|two| two[1] >= two[0] - 1e-12));
            }
        }
    }
}

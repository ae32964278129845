//! The power of the rule worked out a second time, without the program's code: every possible order of fast and slow tears, either
//! where all rugs have the same share of fast strokes, so that the sum over rugs is one binomial count, or on the rugs of one studio.
#![expect(clippy::indexing_slicing, reason = "every row is made one longer than the one before it")]

/// The chance that a studio is ever told that speed matters, either way: looks at 6, 9, 14, 21, 32, 48, 72, 108 tears, each at
/// p <= 0.01; the number of tears in all is Poisson of mean `tears`.
#[must_use]
pub fn chance_to_be_told(fast_share: f64, ratio: f64, tears: f64) -> f64 {
    const LOOKS: [usize; 9] = [6, 9, 14, 21, 32, 48, 72, 108, 162];
    let share = ratio * fast_share / (1.0 - fast_share + ratio * fast_share);
    // not_told[k]: the chance of k fast tears so far with no look having told anything.
    let mut not_told = vec![1.0];
    let (mut poisson, mut told_by_now, mut answer) = ((-tears).exp(), 0.0, 0.0);
    for count in 1..=200_usize {
        answer += poisson * told_by_now;
        let mut next = vec![0.0; count + 1];
        for (fast, chance) in not_told.iter().enumerate() {
            next[fast] += chance * (1.0 - share);
            next[fast + 1] += chance * share;
        }
        if LOOKS.contains(&count) {
            let surprising = surprising_counts(count, fast_share);
            for (fast, chance) in next.iter_mut().enumerate() {
                if surprising[fast] {
                    told_by_now += *chance;
                    *chance = 0.0;
                }
            }
        }
        not_told = next;
        #[expect(clippy::cast_precision_loss, reason = "at most two hundred")]
        let number = count as f64;
        poisson *= tears / number;
    }
    answer
}

/// What can be compared at one look, without knowing which tears were fast.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// Tears by then.
    pub tears: u64,
    /// For each rug its tears and the share of its strokes that were fast.
    pub rugs: Vec<(u64, f64)>,
}

/// The chance that a studio is ever told that speed matters, given its running and on which rugs its cloth tore: every order of fast
/// and slow tears, each fast with the same chance. Tears on a rug that has been run one way only are taken as if it had been run both
/// ways; there are few.
#[must_use]
pub fn chance_on_these_rugs(looks: &[Compared], fast_chance: f64) -> f64 {
    let mut not_told = vec![1.0];
    let (mut seen, mut told) = (0, 0.0);
    for look in looks {
        while seen < look.tears {
            let mut next = vec![0.0; not_told.len() + 1];
            for (fast, chance) in not_told.iter().enumerate() {
                next[fast] += chance * (1.0 - fast_chance);
                next[fast + 1] += chance * fast_chance;
            }
            (not_told, seen) = (next, seen + 1);
        }
        let tears = look.rugs.iter().flat_map(|(tears, share)| (0..*tears).map(move |_| *share));
        let surprising = surprising(&sum_of(tears));
        for (fast, chance) in not_told.iter_mut().enumerate() {
            if surprising.get(fast).copied().unwrap_or(false) {
                told += *chance;
                *chance = 0.0;
            }
        }
    }
    told
}

/// The distribution of how many tears are fast, each with its own chance.
fn sum_of(chances: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut row = vec![1.0_f64];
    for share in chances {
        let mut next = vec![0.0; row.len() + 1];
        for (place, weight) in row.iter().enumerate() {
            next[place] += weight * (1.0 - share);
            next[place + 1] += weight * share;
        }
        row = next;
    }
    row
}

/// For each count whether its probability, with that of all counts that are not more probable, is at most 0.01.
fn surprising_counts(of: usize, share: f64) -> Vec<bool> {
    surprising(&sum_of(std::iter::repeat_n(share, of)))
}

fn surprising(row: &[f64]) -> Vec<bool> {
    row.iter()
        .map(|weight| row.iter().filter(|other| **other <= weight * 1.000_000_1).sum::<f64>() <= 0.01)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_look_at_nine_halves_tells_all_or_nothing() {
        // 2 / 2^9 = 0.0039 and (2 + 18) / 2^9 = 0.039, by hand.
        let told = surprising_counts(9, 0.5);
        assert_eq!(told.iter().filter(|told| **told).count(), 2);
        assert!(told[0] && told[9]);
    }

    #[test]
    fn on_rugs_alike_both_ways_of_working_it_out_agree() {
        // One look at nine tears, half fast: told when all nine fall on one side, 2 / 2^9 by hand; at three quarters fast
        // (3^9 + 1) / 4^9.
        let rugs = vec![(4, 0.5), (5, 0.5)];
        let look = [Compared { tears: 9, rugs }];
        assert!((chance_on_these_rugs(&look, 0.5) - 2.0 / 512.0).abs() < 1e-12);
        assert!((chance_on_these_rugs(&look, 0.75) - 19_684.0 / 262_144.0).abs() < 1e-12);
    }

    #[test]
    fn hardly_any_tears_tell_nothing() {
        assert!(chance_to_be_told(0.5, 3.0, 0.5) < 1e-4);
        assert!(chance_to_be_told(0.5, 30.0, 100.0) > 0.999);
    }
}

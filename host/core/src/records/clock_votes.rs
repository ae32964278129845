//! Which of the computer's clock readings are outvoted by the others.

use shared_types::log::ClockSource;

use super::clock_marks::{CLOCKS_AGREE_WITHIN_MS, Mark, contradict, in_drift};

/// A trusted reading of a computer, and how many of the others it contradicts.
#[derive(Clone, Copy, Debug)]
struct Vote {
    place: usize,
    mark: Mark,
    against: usize,
}

/// Among the computer's readings, distrusts the one that contradicts most others as long as it contradicts more than each
/// of those does. Two that only contradict each other are both kept: nobody can tell which computer was wrong.
pub fn distrust_outvoted(marks: &mut [Mark]) {
    let mut votes = votes(marks);
    loop {
        let worst = votes.iter().copied().enumerate().max_by_key(|(_, vote)| vote.against);
        let Some((at, worst)) = worst.filter(|(_, vote)| vote.against > 0) else { return };
        let is_opponent = |(other, vote): &(usize, &mut Vote)| match other.cmp(&at) {
            std::cmp::Ordering::Less => contradict(&vote.mark, &worst.mark),
            std::cmp::Ordering::Equal => false,
            std::cmp::Ordering::Greater => contradict(&worst.mark, &vote.mark),
        };
        let mut opponents: Vec<&mut Vote> =
            votes.iter_mut().enumerate().filter(is_opponent).map(|(_, vote)| vote).collect();
        if opponents.iter().any(|vote| vote.against >= worst.against) {
            return;
        }
        opponents.iter_mut().for_each(|vote| vote.against = vote.against.saturating_sub(1));
        votes.remove(at);
        if let Some(mark) = marks.get_mut(worst.place) {
            mark.trusted = false;
        }
    }
}

/// The trusted readings of computers with their counts; `n log n` for `n` readings, as there may be one for each day of ten
/// years and each may contradict all others.
fn votes(marks: &[Mark]) -> Vec<Vote> {
    let is_host = |mark: &Mark| mark.trusted && mark.reading.source == ClockSource::Host;
    let hosts = marks.iter().enumerate().filter(|(_, mark)| is_host(mark));
    let mut votes: Vec<Vote> = hosts.map(|(place, mark)| Vote { place, mark: *mark, against: 0 }).collect();
    count_exceeded(votes.iter_mut(), Mark::with_drift);
    count_exceeded(votes.iter_mut().rev(), |mark| -mark.with_drift());
    for of_boot in votes.chunk_by_mut(|one, next| one.mark.reading.boot == next.mark.reading.boot) {
        count_exceeded(of_boot.iter_mut(), |mark| -mark.less_drift());
        count_exceeded(of_boot.iter_mut().rev(), Mark::less_drift);
    }
    votes
}

/// Adds to each vote how many before it have a key that exceeds its own by more than clocks may differ, with a Fenwick
/// tree over the ranks of the keys (Fenwick 1994).
fn count_exceeded<'v>(votes: impl Iterator<Item = &'v mut Vote>, key: impl Fn(&Mark) -> i128) {
    let votes: Vec<&mut Vote> = votes.collect();
    let mut sorted: Vec<i128> = votes.iter().map(|vote| key(&vote.mark)).collect();
    sorted.sort_unstable();
    let mut tree = vec![0_usize; sorted.len() + 1];
    for (seen, vote) in votes.into_iter().enumerate() {
        let own = key(&vote.mark);
        let limit = own + in_drift(CLOCKS_AGREE_WITHIN_MS);
        let mut rank = sorted.partition_point(|key| *key <= limit);
        let mut not_exceeding = 0;
        while rank > 0 {
            not_exceeding += tree.get(rank).copied().unwrap_or(0);
            rank &= rank - 1;
        }
        vote.against += seen - not_exceeding;
        rank = sorted.partition_point(|key| *key < own) + 1;
        while let Some(count) = tree.get_mut(rank) {
            *count += 1;
            rank += rank & rank.wrapping_neg();
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use shared_types::{BootId, RecordSeq, UptimeMillis, UtcMillis};

    use super::super::clock_marks::ClockReading;
    use super::*;

    /// The definition, each reading beside each other one.
    fn counted_one_by_one(votes: &[Vote]) -> Vec<usize> {
        let against = |at: usize| {
            let own = &votes[at].mark;
            let before = votes[..at].iter().filter(|vote| contradict(&vote.mark, own)).count();
            before + votes[at + 1..].iter().filter(|vote| contradict(own, &vote.mark)).count()
        };
        (0..votes.len()).map(against).collect()
    }

    fn mark(boot: u32, powered: i64, offset: i64) -> Mark {
        let reading = ClockReading {
            seq: RecordSeq(0),
            boot: BootId(boot),
            at: UptimeMillis(0),
            utc: UtcMillis(0),
            source: ClockSource::Host,
        };
        Mark { reading, powered, offset, trusted: true }
    }

    proptest! {
        #[test]
        fn votes_are_counted_as_by_definition(
            steps in prop::collection::vec((0u32..2, 0i64..9_000_000_000, -600_000i64..900_000), 0..80)
        ) {
            let (mut boot, mut powered) = (0, 0);
            let marks: Vec<Mark> = steps
                .into_iter()
                .map(|(next, passed, offset)| {
                    boot += next;
                    powered += passed;
                    mark(boot, powered, offset)
                })
                .collect();
            let votes = votes(&marks);
            let counts: Vec<usize> = votes.iter().map(|vote| vote.against).collect();
            prop_assert_eq!(counts, counted_one_by_one(&votes));
        }
    }

    #[test]
    fn a_difference_at_the_limit_is_no_contradiction_and_one_millisecond_more_is() {
        // By the rule: five minutes, and 100 parts in a million of 1,000 s, which is 100 ms.
        for (offset, against) in [(-300_100, 0), (-300_101, 1), (300_100, 0), (300_101, 1)] {
            let votes = votes(&[mark(1, 0, 0), mark(1, 1_000_000, offset)]);
            assert_eq!(votes.iter().map(|vote| vote.against).collect::<Vec<_>>(), [against; 2], "{offset}");
        }
    }
}

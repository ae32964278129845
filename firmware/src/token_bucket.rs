//! Rate limit of records: a token bucket for each kind that nothing else limits.
//!
//! The log is a ring of fixed size, so a noisy sensor or wire must not push old records out. What the bucket refuses is merged
//! with what follows, never dropped.

use shared_types::UptimeMillis;

/// A token bucket.
#[derive(Clone, Copy, Debug)]
pub struct TokenBucket {
    most: u32,
    every_ms: u64,
    left: u32,
    /// Start of the current refill period.
    since: UptimeMillis,
}

impl TokenBucket {
    /// A full bucket: capacity `most` tokens, refill of one token every `every_ms` milliseconds.
    #[must_use]
    pub const fn new(most: u32, every_ms: u64) -> Self {
        Self { most, every_ms, left: most, since: UptimeMillis(0) }
    }

    /// Takes a token, if there is one.
    pub fn take(&mut self, now: UptimeMillis) -> bool {
        self.fill_up(now);
        let is_there = self.left > 0;
        self.left = self.left.saturating_sub(1);
        is_there
    }

    fn fill_up(&mut self, now: UptimeMillis) {
        let back = now.0.saturating_sub(self.since.0).checked_div(self.every_ms).unwrap_or(0);
        self.left = self.left.saturating_add(u32::try_from(back).unwrap_or(u32::MAX)).min(self.most);
        // A full bucket does not accumulate beyond its capacity.
        self.since = if self.left == self.most {
            now
        } else {
            UptimeMillis(self.since.0.saturating_add(back.saturating_mul(self.every_ms)))
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_taken_in_an_hour_is_what_was_there_and_what_came_back() {
        let mut token_bucket = TokenBucket::new(60, 24_000);
        let taken = (0..72_000_u64).filter(|look| token_bucket.take(UptimeMillis(look * 50))).count();
        // 60 at the start, and one for each 24 s of an hour: 149 whole ones before its last look.
        assert_eq!(taken, 60 + 149);
    }

    #[test]
    fn a_long_rest_fills_it_and_no_more() {
        let mut token_bucket = TokenBucket::new(3, 1_000);
        let take = |token_bucket: &mut TokenBucket, ms: u64| {
            (0..9).filter(|_| token_bucket.take(UptimeMillis(ms))).count()
        };
        assert_eq!(take(&mut token_bucket, 5), 3);
        assert_eq!(take(&mut token_bucket, 1_004), 0);
        assert_eq!(take(&mut token_bucket, 1_005), 1);
        assert_eq!(take(&mut token_bucket, u64::MAX), 3);
    }
}

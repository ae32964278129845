//! Made-up makers to practise on: each is another, drawn anew with numbers of its own. From them the places at which a forecast
//! is read are learned; the makers of `due_habits`, who never change, are the examination. All numbers are made up.

use firmware::split_mix::SplitMix64;

/// What a maker shares with others.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Mostly three to six days of the week, much the same each time.
    ManyDays,
    /// The same, a little one day and a lot the other.
    UnevenDays,
    /// One or two days of the week.
    FewDays,
    /// Seasons of a little more and a little less, again and again.
    MildSeasons,
    /// Seasons of at least twice as much, again and again.
    StrongSeasons,
    /// The same, each of two months and more.
    LongSeasons,
    /// Weeks off, one to four in a row.
    WeeksOff,
    /// More and more.
    SlowGrowth,
    /// The same, about twice to three times as much within a year.
    FastGrowth,
    /// Less and less.
    SlowDecline,
    /// The same, about half to a third as much within a year.
    FastDecline,
    /// Some idle weeks.
    FewGaps,
    /// Many idle weeks, and the others very different.
    ManyGaps,
    /// A pace that wanders.
    Wandering,
    /// A pace that changed for good, or will.
    Change,
}

impl Kind {
    /// All of them.
    pub const ALL: [Self; 15] = [
        Self::ManyDays,
        Self::UnevenDays,
        Self::FewDays,
        Self::MildSeasons,
        Self::StrongSeasons,
        Self::LongSeasons,
        Self::WeeksOff,
        Self::SlowGrowth,
        Self::FastGrowth,
        Self::SlowDecline,
        Self::FastDecline,
        Self::FewGaps,
        Self::ManyGaps,
        Self::Wandering,
        Self::Change,
    ];
}

/// A number from `low` to `high`.
fn within(low: f64, high: f64, dice: &mut SplitMix64) -> f64 {
    low + (high - low) * dice.uniform()
}

/// A whole number from `low` to `high`.
fn whole(low: u64, high: u64, dice: &mut SplitMix64) -> u64 {
    low + dice.below(high - low + 1)
}

/// Hours of running on each day of so many weeks, from a Monday on; a change for good may come until `change_until`.
#[must_use]
pub fn life(kind: Kind, weeks: u32, change_until: u32, dice: &mut SplitMix64) -> Vec<f64> {
    // Makers differ: four hours a week, two fifths less or two thirds more.
    let level = 4.0 * (0.5 * dice.normal()).exp();
    let days = days(kind, dice);
    let variance = match kind {
        Kind::ManyDays => within(0.1, 0.4, dice),
        Kind::UnevenDays => within(0.4, 0.8, dice),
        _ => within(0.1, 0.6, dice),
    };
    let paces = paces(kind, weeks, change_until, dice);
    let expected: f64 = days.iter().sum();
    let mut hours = Vec::new();
    for pace in paces {
        for chance in days {
            let runs = dice.uniform() < chance;
            hours.push(if runs { pace * level * dice.gamma_of_mean_one(variance) / expected } else { 0.0 });
        }
    }
    hours
}

/// The chance of each day of the week that it runs, Monday first.
fn days(kind: Kind, dice: &mut SplitMix64) -> [f64; 7] {
    let chance = match kind {
        Kind::FewGaps | Kind::ManyGaps => within(0.25, 0.6, dice),
        _ => within(0.5, 0.9, dice),
    };
    let few =
        kind == Kind::FewDays || (!matches!(kind, Kind::ManyDays | Kind::UnevenDays) && dice.uniform() < 0.2);
    let (first, count) = match kind {
        Kind::FewGaps | Kind::ManyGaps => (0, 7),
        _ if few => (whole(0, 6, dice), whole(1, 2, dice)),
        // Mostly from Monday on, as most weeks of work do.
        _ if dice.uniform() < 0.7 => (0, whole(4, 6, dice)),
        _ => (whole(0, 6, dice), whole(3, 6, dice)),
    };
    let mut days = [0.0; 7];
    for day in first..first + count {
        if let Some(day) = days.get_mut(usize::try_from(day % 7).unwrap_or(0)) {
            *day = chance;
        }
    }
    days
}

/// What each week is, as a multiple of the maker's usual one.
fn paces(kind: Kind, weeks: u32, change_until: u32, dice: &mut SplitMix64) -> Vec<f64> {
    match kind {
        Kind::ManyDays | Kind::UnevenDays | Kind::FewDays => (0..weeks).map(|_| 1.0).collect(),
        Kind::MildSeasons => {
            seasons(weeks, within(1.4, 2.0, dice), (whole(4, 14, dice), whole(6, 24, dice)), dice)
        }
        Kind::StrongSeasons => {
            seasons(weeks, within(2.0, 4.0, dice), (whole(4, 14, dice), whole(6, 24, dice)), dice)
        }
        Kind::LongSeasons => {
            seasons(weeks, within(2.0, 3.5, dice), (whole(7, 12, dice), whole(10, 24, dice)), dice)
        }
        Kind::WeeksOff => weeks_off(weeks, dice),
        Kind::SlowGrowth => growth(weeks, within(0.4, 0.9, dice), dice),
        Kind::FastGrowth => growth(weeks, within(0.9, 1.6, dice), dice),
        Kind::SlowDecline => growth(weeks, -within(0.4, 0.9, dice), dice),
        Kind::FastDecline => growth(weeks, -within(0.9, 1.6, dice), dice),
        Kind::FewGaps => {
            gaps(weeks, (within(0.08, 0.2, dice), within(0.2, 0.5, dice)), within(0.2, 0.5, dice), dice)
        }
        Kind::ManyGaps => {
            gaps(weeks, (within(0.2, 0.35, dice), within(0.4, 0.65, dice)), within(0.4, 0.7, dice), dice)
        }
        Kind::Wandering => wandering(weeks, dice),
        Kind::Change => {
            let at = dice.below(u64::from(change_until));
            let factor = within(0.3_f64.ln(), 3.0_f64.ln(), dice).exp();
            (0..weeks).map(|week| if u64::from(week) < at { 1.0 } else { factor }).collect()
        }
    }
}

fn seasons(weeks: u32, contrast: f64, (busy, quiet): (u64, u64), dice: &mut SplitMix64) -> Vec<f64> {
    // The mean of the two, by how long they last, is 1.
    #[expect(clippy::cast_precision_loss, reason = "some weeks")]
    let low = (busy + quiet) as f64 / (busy as f64).mul_add(contrast, quiet as f64);
    let mut is_busy = dice.below(busy + quiet) < busy;
    let mut left = dice.below(1 + if is_busy { busy } else { quiet });
    let mut paces = Vec::new();
    for _ in 0..weeks {
        if left == 0 {
            is_busy = !is_busy;
            let usual = if is_busy { busy } else { quiet };
            // A quarter more or less.
            left = whole((usual * 3).div_ceil(4), usual * 5 / 4, dice);
        }
        left -= 1;
        paces.push(if is_busy { low * contrast } else { low });
    }
    paces
}

fn weeks_off(weeks: u32, dice: &mut SplitMix64) -> Vec<f64> {
    let (between, off) = (whole(6, 26, dice), whole(1, 4, dice));
    let mut left = dice.below(between + off);
    let mut paces = Vec::new();
    for _ in 0..weeks {
        if left == 0 {
            left = whole(between / 2, between * 3 / 2, dice) + off;
        }
        left -= 1;
        paces.push(if left < off { 0.0 } else { 1.0 });
    }
    paces
}

/// So many doublings in each year; the usual pace is that of a moment of the first one.
fn growth(weeks: u32, doublings: f64, dice: &mut SplitMix64) -> Vec<f64> {
    let usual_at = within(0.2, 0.8, dice);
    (0..weeks).map(|week| (doublings * (f64::from(week) / 52.0 - usual_at)).exp2()).collect()
}

fn gaps(weeks: u32, (begins, lasts): (f64, f64), spread: f64, dice: &mut SplitMix64) -> Vec<f64> {
    // A long life stands idle for this share of its weeks.
    let idle = begins / (begins + 1.0 - lasts);
    let mut is_idle = dice.uniform() < idle;
    let mut paces = Vec::new();
    for _ in 0..weeks {
        is_idle = dice.uniform() < if is_idle { lasts } else { begins };
        let week = (spread * dice.normal() - spread * spread / 2.0).exp() / (1.0 - idle);
        paces.push(if is_idle { 0.0 } else { week });
    }
    paces
}

/// The logarithm of the pace comes back to its middle as slowly as it left it.
fn wandering(weeks: u32, dice: &mut SplitMix64) -> Vec<f64> {
    let (deviation, kept) = (within(0.15, 0.5, dice), within(0.7, 0.97, dice));
    let mut off = deviation * dice.normal();
    let mut paces = Vec::new();
    for _ in 0..weeks {
        off = kept * off + deviation * (1.0 - kept * kept).sqrt() * dice.normal();
        paces.push((off - deviation * deviation / 2.0).exp());
    }
    paces
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The hours of each week, of many makers one after the other.
    fn weeks_of(kind: Kind, weeks: u32) -> Vec<Vec<f64>> {
        let mut dice = SplitMix64::new(5);
        let lived = (0..400).map(|_| life(kind, weeks, weeks / 2, &mut dice));
        lived.map(|hours| hours.chunks(7).map(|week| week.iter().sum()).collect()).collect()
    }

    fn mean<'a>(values: impl IntoIterator<Item = &'a f64>) -> f64 {
        let (sum, count) =
            values.into_iter().fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
        sum / count
    }

    #[test]
    fn makers_who_change_little_in_the_long_run_run_about_as_much_as_was_made_up() {
        // 4 h times exp(0.5^2 / 2) = 4.53 h a week on the average; the standard error of 400 makers is 0.12 h and more.
        for kind in [Kind::ManyDays, Kind::UnevenDays, Kind::FewDays, Kind::FewGaps, Kind::ManyGaps] {
            let mean = mean(weeks_of(kind, 104).iter().flatten());
            assert!((mean - 4.53).abs() < 0.5, "{kind:?}: {mean}");
        }
        for kind in [Kind::MildSeasons, Kind::StrongSeasons, Kind::LongSeasons, Kind::Wandering] {
            let mean = mean(weeks_of(kind, 104).iter().flatten());
            assert!((mean - 4.53).abs() < 0.8, "{kind:?}: {mean}");
        }
    }

    #[test]
    fn who_grows_grows_and_who_declines_declines() {
        let change = |kind| {
            let makers = weeks_of(kind, 56);
            mean(makers.iter().flat_map(|weeks| &weeks[52..]))
                / mean(makers.iter().flat_map(|weeks| &weeks[..4]))
        };
        // In a year by the power of two that is made up.
        assert!(
            (1.3..1.9).contains(&change(Kind::SlowGrowth)) && (1.9..3.1).contains(&change(Kind::FastGrowth))
        );
        assert!(
            (0.5..0.8).contains(&change(Kind::SlowDecline))
                && (0.32..0.54).contains(&change(Kind::FastDecline))
        );
    }

    #[test]
    fn weeks_stand_idle_as_often_as_was_made_up() {
        let idle = |kind| {
            let makers = weeks_of(kind, 104);
            let weeks: Vec<f64> = makers.iter().flatten().map(|week| f64::from(*week <= 0.0)).collect();
            mean(&weeks)
        };
        assert!(idle(Kind::ManyDays) < 0.02, "{}", idle(Kind::ManyDays));
        // Two and a half of about 18 weeks.
        assert!((0.08..0.25).contains(&idle(Kind::WeeksOff)), "{}", idle(Kind::WeeksOff));
        // Begins in 0.14 of weeks and lasts in 0.35: 0.18; in 0.275 and 0.525: 0.37; and some in which no day ran.
        assert!((0.14..0.26).contains(&idle(Kind::FewGaps)), "{}", idle(Kind::FewGaps));
        assert!((0.32..0.45).contains(&idle(Kind::ManyGaps)), "{}", idle(Kind::ManyGaps));
    }

    #[test]
    fn a_change_for_good_comes_before_its_last_week() {
        let mut dice = SplitMix64::new(9);
        for _ in 0..50 {
            let paces = paces(Kind::Change, 40, 10, &mut dice);
            let later = paces[10];
            assert!(paces[9..].iter().all(|pace| *pace == later) && (0.3..3.0).contains(&later), "{paces:?}");
        }
    }
}

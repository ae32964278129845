//! Judge only; nothing was chosen on these. Made-up makers of other kinds than those of `due_habits`, each with numbers of its own.
//! Whoever chooses or fits anything of the forecast looks at `due_habits`, never here; who wants to judge a later choice anew
//! adds kinds. All numbers are made up.

use firmware::split_mix::SplitMix64;

/// What kind of maker it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A market every quarter: more and more in the weeks before it, then a week's rest.
    Markets,
    /// A day job: weekends only; twice a year some weeks away, twice some weeks at home in which every day runs.
    DayJob,
    /// A machine that a second maker comes to share, on other days.
    SecondMaker,
    /// Ill now and then, for days or weeks, and slower afterwards.
    Illness,
    /// A business that grows and then stays.
    Growing,
    /// Terms of school: in the breaks either nothing or much more.
    Terms,
    /// Commissions of about two weeks with nearly no day off, and a rest after each.
    Commissions,
    /// In winter only, from a day in some winter on.
    Winter,
    /// On days off from a rota that does not keep to weeks.
    Rota,
    /// A workshop on one weekend of each month, little besides.
    Workshops,
    /// Orders that come when they come, worked off one after the other.
    Orders,
    /// One long break, and another pace after it.
    LongBreak,
}

impl Kind {
    /// All of them.
    pub const ALL: [Self; 12] = [
        Self::Markets,
        Self::DayJob,
        Self::SecondMaker,
        Self::Illness,
        Self::Growing,
        Self::Terms,
        Self::Commissions,
        Self::Winter,
        Self::Rota,
        Self::Workshops,
        Self::Orders,
        Self::LongBreak,
    ];

    /// Whether anything is promised of them. The forecast knows no time of year, so nothing is of who stands idle for a season;
    /// said after it was measured.
    #[must_use]
    pub const fn is_promised(self) -> bool {
        !matches!(self, Self::Winter)
    }

    /// In words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Markets => "markets",
            Self::DayJob => "day job",
            Self::SecondMaker => "second maker",
            Self::Illness => "illness",
            Self::Growing => "growing",
            Self::Terms => "terms",
            Self::Commissions => "commissions",
            Self::Winter => "winter only",
            Self::Rota => "rota",
            Self::Workshops => "workshops",
            Self::Orders => "orders",
            Self::LongBreak => "long break",
        }
    }
}

/// Hours of running on each day of so many weeks, from a Monday on.
#[must_use]
pub fn life(kind: Kind, weeks: u32, rng: &mut SplitMix64) -> Vec<f64> {
    let days = usize::try_from(weeks * 7).unwrap_or(0);
    // Makers differ: four and a half hours a week, two fifths less or two thirds more.
    let level = 4.5 * (0.45 * rng.normal()).exp();
    let usual = Usual::drawn(rng);
    let mut hours = match kind {
        Kind::Markets => usual.paced(level, &markets(days, rng), rng),
        Kind::DayJob => day_job(level, days, rng),
        Kind::SecondMaker => second_maker(level, usual, days, rng),
        Kind::Illness => usual.paced(level, &illness(days, rng), rng),
        Kind::Growing => usual.paced(level, &growing(days, rng), rng),
        Kind::Terms => usual.paced(level, &terms(days, rng), rng),
        Kind::Commissions => commissions(level, days, rng),
        Kind::Winter => usual.paced(1.6 * level, &winter(days, rng), rng),
        Kind::Rota => rota(level, days, rng),
        Kind::Workshops => workshops(level, days, rng),
        Kind::Orders => orders(days, rng),
        Kind::LongBreak => usual.paced(level, &long_break(days, rng), rng),
    };
    hours.truncate(days);
    hours
}

/// A number from `low` to `high`.
fn within(low: f64, high: f64, rng: &mut SplitMix64) -> f64 {
    low + (high - low) * rng.uniform()
}

/// A whole number from `low` to `high`.
fn whole(low: usize, high: usize, rng: &mut SplitMix64) -> usize {
    let span = u64::try_from(high - low).unwrap_or(0);
    low + usize::try_from(rng.below(span + 1)).unwrap_or(0)
}

fn float(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::INFINITY, f64::from)
}

/// On which days of the week a maker usually works, with which chance, and how unevenly.
#[derive(Clone, Copy, Debug)]
struct Usual {
    days: [bool; 7],
    chance: f64,
    variance: f64,
}

impl Usual {
    /// Three to six days.
    fn drawn(rng: &mut SplitMix64) -> Self {
        let mut days = [true; 7];
        for _ in 0..whole(1, 4, rng) {
            if let Some(day) = days.get_mut(whole(0, 6, rng)) {
                *day = false;
            }
        }
        Self { days, chance: within(0.45, 0.9, rng), variance: within(0.15, 0.6, rng) }
    }

    fn runs_on(&self, day: usize) -> bool {
        self.days.get(day % 7).copied().unwrap_or(false)
    }

    /// So many hours in a week of pace 1, on the average; each day at a pace of its own.
    fn paced(&self, hours_a_week: f64, paces: &[f64], rng: &mut SplitMix64) -> Vec<f64> {
        let expected = self.chance * float(self.days.iter().filter(|runs| **runs).count()).max(1.0);
        let paced = paces.iter().enumerate().map(|(day, pace)| {
            let runs = self.runs_on(day) && rng.uniform() < self.chance;
            let hours = rng.gamma_of_mean_one(self.variance) * hours_a_week / expected;
            if runs { pace * hours } else { 0.0 }
        });
        paced.collect()
    }
}

fn markets(days: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let (most, quiet, rush) = (within(1.8, 3.5, rng), within(0.4, 0.8, rng), whole(14, 42, rng));
    // In the middle of a quarter, at any place of it.
    let mut market = whole(0, 90, rng);
    let mut rest = 0;
    let mut paces = Vec::new();
    for day in 0..days {
        if day >= market {
            rest = whole(4, 10, rng);
            market = day + whole(84, 98, rng);
        }
        let near = 1.0 - (float(market - day) / float(rush)).min(1.0);
        paces.push(if rest > 0 { 0.0 } else { quiet + (most - quiet) * near });
        rest = rest.saturating_sub(1);
    }
    paces
}

fn day_job(level: f64, days: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let (chance, variance) = (within(0.5, 0.95, rng), within(0.2, 0.6, rng));
    let mut holidays = vec![None; days];
    for at_home in [false, true] {
        let mut at = whole(0, 180, rng);
        while at < days {
            let long = whole(7, 18, rng);
            holidays.iter_mut().skip(at).take(long).for_each(|day| *day = Some(at_home));
            at += long + whole(120, 220, rng);
        }
    }
    let hours = holidays.iter().enumerate().map(|(day, holiday)| {
        let runs = match holiday {
            Some(at_home) => *at_home,
            None => day % 7 >= 5,
        };
        let runs = runs && rng.uniform() < chance;
        let hours = rng.gamma_of_mean_one(variance) * level / (2.0 * chance);
        if runs { hours } else { 0.0 }
    });
    hours.collect()
}

fn second_maker(level: f64, usual: Usual, days: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let joins = whole(0, 7 * 104, rng);
    let mut first = usual.paced(level, &vec![1.0; days], rng);
    let other = Usual::drawn(rng);
    let second = other.paced(level * within(0.3, 1.3, rng), &vec![1.0; days], rng);
    for (day, (hours, more)) in first.iter_mut().zip(second).enumerate() {
        if day >= joins && *hours <= 0.0 {
            *hours = more;
        }
    }
    first
}

fn illness(days: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let falls_ill = 1.0 / within(90.0, 300.0, rng);
    let mean_days = within(4.0, 20.0, rng);
    let (mut ill, mut weak) = (0, 0);
    let paces = (0..days).map(|_| {
        if ill == 0 && rng.uniform() < falls_ill {
            ill = 2 + whole(0, 60, rng).min(exponential(mean_days, rng));
            weak = ill;
        }
        let pace = match (ill, weak) {
            (0, 0) => 1.0,
            (0, _) => 0.5,
            _ => 0.0,
        };
        if ill == 0 {
            weak = weak.saturating_sub(1);
        }
        ill = ill.saturating_sub(1);
        pace
    });
    paces.collect()
}

/// Whole days of an exponential time.
fn exponential(mean_days: f64, rng: &mut SplitMix64) -> usize {
    let days = -mean_days * (1.0 - rng.uniform()).ln();
    (0..1_000).find(|whole| float(*whole) + 1.0 > days).unwrap_or(1_000)
}

/// Logistic growth of the logarithm.
fn growing(days: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let (times, middle, span) = (within(1.5, 4.0, rng), within(0.0, 400.0, rng), within(30.0, 150.0, rng));
    let share = |day: usize| 1.0 / (1.0 + ((middle - float(day)) / span).exp());
    (0..days).map(|day| 0.7 * (times.ln() * share(day)).exp()).collect()
}

fn terms(days: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let in_breaks = if rng.uniform() < 0.5 { within(0.0, 0.3, rng) } else { within(1.5, 3.0, rng) };
    // Autumn, winter and spring terms and the breaks after them, in days; the last one is the summer.
    let mut year = [whole(80, 100, rng), 14, whole(70, 90, rng), whole(10, 18, rng), whole(70, 90, rng), 45];
    if let Some(summer) = year.last_mut() {
        *summer = whole(40, 63, rng);
    }
    let mut day_of_year = whole(0, year.iter().sum::<usize>() - 1, rng);
    let paces = (0..days).map(|_| {
        let mut left = day_of_year;
        let part = year.iter().position(|long| {
            let is_here = left < *long;
            left = left.saturating_sub(*long);
            is_here
        });
        day_of_year = (day_of_year + 1) % year.iter().sum::<usize>();
        if part.is_some_and(|part| part % 2 == 1) { in_breaks } else { 1.0 }
    });
    paces.collect()
}

fn commissions(level: f64, days: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let (chance, variance) = (within(0.8, 1.0, rng), within(0.1, 0.4, rng));
    let (longest, longest_rest) = (whole(12, 20, rng), whole(6, 16, rng));
    let mut is_work = rng.uniform() < 0.6;
    let mut left = whole(1, if is_work { longest } else { longest_rest }, rng);
    let hours = (0..days).map(|_| {
        if left == 0 {
            is_work = !is_work;
            left = if is_work { whole(longest / 2, longest, rng) } else { whole(2, longest_rest, rng) };
        }
        left -= 1;
        let runs = is_work && rng.uniform() < chance;
        let hours = rng.gamma_of_mean_one(variance) * level / 4.0;
        if runs { hours } else { 0.0 }
    });
    hours.collect()
}

/// A cosine over the year, cut off in summer. The logger is bought while the machine runs.
fn winter(days: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let cut_off = within(-0.2, 0.3, rng);
    let half_a_season = 365.25 * f64::acos(cut_off) / std::f64::consts::TAU;
    let from_midwinter = half_a_season * within(-0.95, 0.6, rng);
    let season = (0..days).map(|day| {
        let height = (std::f64::consts::TAU * (from_midwinter + float(day)) / 365.25).cos();
        ((height - cut_off) / (1.0 - cut_off)).max(0.0)
    });
    season.collect()
}

fn rota(level: f64, days: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let (shifts, off) = (whole(3, 6, rng), whole(2, 5, rng));
    let (chance, variance) = (within(0.5, 0.9, rng), within(0.2, 0.6, rng));
    let mut place = whole(0, shifts + off - 1, rng);
    let off_a_week = 7.0 * float(off) / float(shifts + off);
    let hours = (0..days).map(|_| {
        place = (place + 1) % (shifts + off);
        let runs = place >= shifts && rng.uniform() < chance;
        let hours = rng.gamma_of_mean_one(variance) * level / (off_a_week * chance);
        if runs { hours } else { 0.0 }
    });
    hours.collect()
}

fn workshops(level: f64, days: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let besides = within(0.05, 0.25, rng);
    let share = within(0.4, 0.7, rng);
    let mut next = whole(0, 30, rng);
    let hours = (0..days).map(|day| {
        let is_weekend = day % 7 >= 5;
        let is_workshop = is_weekend && day >= next;
        if is_workshop && day % 7 == 6 {
            next = day + whole(20, 30, rng);
        }
        let month = 4.3 * level;
        let little = rng.gamma_of_mean_one(0.5) * month * (1.0 - share) / (30.0 * besides);
        let much = rng.gamma_of_mean_one(0.2) * month * share / 2.0;
        if is_workshop {
            much
        } else if rng.uniform() < besides {
            little
        } else {
            0.0
        }
    });
    hours.collect()
}

fn orders(days: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let comes = 1.0 / within(10.0, 28.0, rng);
    let (usual, a_day) = (within(3.0, 11.0, rng), within(0.8, 2.5, rng));
    let mut left = if rng.uniform() < 0.6 { usual * rng.uniform() } else { 0.0 };
    let hours = (0..days).map(|day| {
        if rng.uniform() < comes {
            left += usual * rng.gamma_of_mean_one(0.4);
        }
        let works = day % 7 < 6 && rng.uniform() < 0.8;
        let hours = if works { (a_day * rng.gamma_of_mean_one(0.3)).min(left) } else { 0.0 };
        left -= hours;
        hours
    });
    hours.collect()
}

fn long_break(days: usize, rng: &mut SplitMix64) -> Vec<f64> {
    let (begins, long) = (whole(0, 7 * 78, rng), whole(28, 112, rng));
    let after = within(0.5_f64.ln(), 2.0_f64.ln(), rng).exp();
    let pace = |day| match day {
        _ if day < begins => 1.0,
        _ if day < begins + long => 0.0,
        _ => after,
    };
    (0..days).map(pace).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mean_week(kind: Kind, from: usize, to: usize) -> f64 {
        let mut rng = SplitMix64::new(23);
        let lives = 400;
        let sum: f64 =
            (0..lives).map(|_| life(kind, 104, &mut rng)[from * 7..to * 7].iter().sum::<f64>()).sum();
        sum / f64::from(lives) / float(to - from)
    }

    #[test]
    fn every_kind_lives_all_of_its_days_at_a_pace_of_some_hours_a_week() {
        for kind in Kind::ALL {
            let mut rng = SplitMix64::new(3);
            assert_eq!(life(kind, 30, &mut rng).len(), 210, "{kind:?}");
            let mean = mean_week(kind, 0, 104);
            assert!((1.0..12.0).contains(&mean), "{kind:?}: {mean}");
            assert!(
                life(kind, 104, &mut rng).iter().all(|hours| hours.is_finite() && *hours >= 0.0),
                "{kind:?}"
            );
        }
    }

    #[test]
    fn who_grows_grows_and_who_is_joined_runs_more() {
        // By 1.5 to 4 times around a day of the first 400, and by 0.3 to 1.3 times on days that were free.
        assert!(mean_week(Kind::Growing, 96, 104) > 1.5 * mean_week(Kind::Growing, 0, 8));
        assert!(mean_week(Kind::SecondMaker, 96, 104) > 1.15 * mean_week(Kind::SecondMaker, 0, 8));
    }

    #[test]
    fn a_day_job_leaves_weekends_and_holidays_and_a_winter_leaves_no_summer() {
        let mut rng = SplitMix64::new(5);
        let mut weekdays = 0;
        for _ in 0..50 {
            let hours = life(Kind::DayJob, 104, &mut rng);
            weekdays += hours.iter().enumerate().filter(|(day, hours)| day % 7 < 5 && **hours > 0.0).count();
            let winter = life(Kind::Winter, 104, &mut rng);
            let idle = winter.windows(60).filter(|days| days.iter().all(|hours| *hours <= 0.0)).count();
            assert!(idle > 0);
            assert!(winter.iter().take(28).any(|hours| *hours > 0.0));
        }
        // Some eighteen days of each year, at a chance of three in four.
        assert!((500..2_500).contains(&weekdays), "{weekdays}");
    }
}

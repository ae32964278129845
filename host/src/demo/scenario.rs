//! The studio of the demo: who orders what, and on which days the maker works. All of it is made up.

use super::random_stream::RandomStream;
use host_core::stats;

/// Milliseconds of a day.
pub const DAY_MS: i64 = stats::DAY_MS.cast_signed();
/// Monday 2 March 2026, 00:00 UTC; the studio of the demo lives by UTC.
pub const FIRST_DAY_UTC_MS: i64 = 1_772_409_600_000;
/// About three months.
pub const DAYS: i64 = 91;

/// One commission of the made-up studio.
#[derive(Clone, Copy, Debug)]
pub struct Commission {
    /// What the maker calls it.
    pub name: &'static str,
    /// Width in millimetres.
    pub width_mm: u32,
    /// Height in millimetres.
    pub height_mm: u32,
    /// The roll of cloth.
    pub cloth_lot: &'static str,
    /// Strokes per square metre that its design takes.
    pub strokes_per_m2: u32,
    /// The colours of its design.
    pub colours: &'static [&'static str],
}

impl Commission {
    /// Strokes until it is done.
    pub fn strokes(&self) -> u64 {
        u64::from(self.width_mm) * u64::from(self.height_mm) * u64::from(self.strokes_per_m2) / 1_000_000
    }
}

/// The rug of which the demo shows sheet and card.
pub const FIRST_RUG: &str = "Fox";
/// Height of the pile that the made-up machine is set to, in tenths of a millimetre.
pub const PILE_HEIGHT_TENTHS_MM: u32 = 120;

/// In the order in which they are made.
pub const COMMISSIONS: [Commission; 7] = [
    Commission {
        name: FIRST_RUG,
        width_mm: 900,
        height_mm: 1_200,
        cloth_lot: "grey roll 1",
        strokes_per_m2: 130_000,
        colours: &["rust", "cream", "black"],
    },
    Commission {
        name: "Tide",
        width_mm: 1_400,
        height_mm: 2_000,
        cloth_lot: "grey roll 1",
        strokes_per_m2: 105_000,
        colours: &["deep blue", "sea green", "cream"],
    },
    Commission {
        name: "Two Herons",
        width_mm: 1_200,
        height_mm: 1_700,
        cloth_lot: "grey roll 2",
        strokes_per_m2: 140_000,
        colours: &["grey", "white", "ochre", "black"],
    },
    Commission {
        name: "Moth",
        width_mm: 700,
        height_mm: 700,
        cloth_lot: "grey roll 2",
        strokes_per_m2: 160_000,
        colours: &["brown", "cream"],
    },
    Commission {
        name: "Harbour",
        width_mm: 1_500,
        height_mm: 2_000,
        cloth_lot: "white roll",
        strokes_per_m2: 110_000,
        colours: &["deep blue", "rust", "cream", "grey"],
    },
    Commission {
        name: "Quince",
        width_mm: 1_000,
        height_mm: 1_000,
        cloth_lot: "white roll",
        strokes_per_m2: 125_000,
        colours: &["yellow", "leaf green"],
    },
    Commission {
        name: "Night Train",
        width_mm: 1_600,
        height_mm: 2_300,
        cloth_lot: "white roll",
        strokes_per_m2: 115_000,
        colours: &["black", "ochre", "deep blue"],
    },
];

/// One evening or morning at the frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shift {
    /// When the studio's power goes on.
    pub from_utc_ms: i64,
    /// How long the maker means to stay.
    pub stay_ms: u64,
}

/// What the calendar of the studio holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Calendar {
    /// Shifts in order of time.
    pub shifts: Vec<Shift>,
    /// Moments at which the logger is carried to the computer, in order of time; the last one after the last shift.
    pub pulls_utc_ms: Vec<i64>,
}

/// Draws a calendar: evenings, long Saturdays, some Sundays, one week of holidays, one week of rush.
pub fn calendar(rng: &mut RandomStream) -> Calendar {
    let holiday_week = rng.uniform(4, 6);
    let rush_week = rng.uniform(8, 10);
    let mut shifts = Vec::new();
    for day in 0..DAYS {
        let (week, weekday) = (day.unsigned_abs() / 7, day.unsigned_abs() % 7);
        let (probability, hour, median_ms) = match weekday {
            5 => (0.85, 10, 2.8 * 3.6e6),
            6 => (0.3, 14, 2.0 * 3.6e6),
            _ => (0.5, 18, 1.7 * 3.6e6),
        };
        let probability = if week == rush_week { 1.0 } else { probability };
        let works = rng.bernoulli(probability) && week != holiday_week;
        let minute = i64::try_from(rng.uniform(0, 75)).unwrap_or(0);
        let stay_ms = rng.log_normal_ms(median_ms, 0.3).min(5 * stats::HOUR_MS);
        if works {
            let from_utc_ms =
                FIRST_DAY_UTC_MS + day * DAY_MS + (hour * 60 + minute) * stats::MINUTE_MS.cast_signed();
            shifts.push(Shift { from_utc_ms, stay_ms });
        }
    }
    Calendar { shifts, pulls_utc_ms: pulls(rng) }
}

/// One to thirty days apart, at midday, when nobody is at the frame, and a last one when all is over.
fn pulls(rng: &mut RandomStream) -> Vec<i64> {
    let noon = |day: i64| FIRST_DAY_UTC_MS + day * DAY_MS + 8 * stats::HOUR_MS.cast_signed();
    let mut at = Vec::new();
    let mut day = i64::try_from(rng.uniform(1, 9)).unwrap_or(1);
    while day < DAYS {
        at.push(noon(day));
        let apart = if rng.bernoulli(0.2) { rng.uniform(14, 30) } else { rng.uniform(1, 10) };
        day += i64::try_from(apart).unwrap_or(1);
    }
    at.push(noon(DAYS));
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pulls_are_one_to_thirty_days_apart_and_close_the_calendar() {
        for seed in 0..50 {
            let calendar = calendar(&mut RandomStream::new(seed, 1));
            for pair in calendar.pulls_utc_ms.windows(2) {
                let days = (pair[1] - pair[0]) / DAY_MS;
                assert!((1..=30).contains(&days), "seed {seed}: {days} days between two pulls");
            }
            let last_shift = calendar.shifts.last().unwrap().from_utc_ms;
            assert!(*calendar.pulls_utc_ms.last().unwrap() > last_shift, "seed {seed}");
        }
    }

    #[test]
    fn shifts_do_not_overlap_and_leave_the_morning_to_pulls() {
        for seed in 0..50 {
            let calendar = calendar(&mut RandomStream::new(seed, 1));
            for pair in calendar.shifts.windows(2) {
                let end = pair[0].from_utc_ms + i64::try_from(pair[0].stay_ms).unwrap();
                assert!(end < pair[1].from_utc_ms, "seed {seed}");
            }
        }
    }
}

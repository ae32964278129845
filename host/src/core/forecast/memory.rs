//! What is believed before anything is known. All numbers here are our assumptions, no
//! source; they were chosen so that the simulation of `STATISTICS.md` holds for makers of many habits.

/// What is believed before anything is known. Shares are from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Memory {
    /// The chance that the week after the one drawn last follows it again.
    pub follow_share: f64,
    /// The least share of draws that are prior weeks, however long the history.
    pub prior_share: f64,
    /// The share of prior weeks whose days are moved within the week.
    pub moved_share: f64,
    /// The share of makers who run on any day of the week alike.
    pub any_day_share: f64,
    /// How many times a week that ran was followed by an idle one, and by another that ran.
    pub begins_idle: (f64, f64),
    /// How many times an idle week was followed by one that ran, and by another idle one.
    pub ends_idle: (f64, f64),
    /// Scale of the logarithm of a usual week about [`USUAL_RUN_MS`], with the long tails of Student's t with three degrees of freedom.
    pub usual_deviation: f64,
    /// Whether few weeks leave the pace uncertain.
    pub is_pace_uncertain: bool,
    /// The share of weeks that tell nothing of the pace.
    pub odd_share: f64,
    /// The logarithm of how even weeks are, against what their days tell: its deviation below and above.
    pub evenness: (f64, f64),
    /// The share of makers who live by seasons.
    pub season_share: f64,
    /// Weeks that a busy and a quiet time last on the average, about.
    pub season_weeks: (f64, f64),
    /// Each of the two is this many times as long, or as short.
    pub season_spread: f64,
    /// Of the makers without seasons, the share whose pace wanders.
    pub wander_share: f64,
    /// How far the pace wanders in a week, as a deviation of its logarithm.
    pub wander: f64,
    /// The chance that such a maker's pace changes for good from one week to the next.
    pub jump: f64,
    /// Deviation of the logarithm of the pace after such a change.
    pub jump_deviation: f64,
    /// Growth of the logarithm of the pace by week, in steps of this.
    pub growth_step: f64,
    /// Deviation of growth, in these steps.
    pub growth_deviation: f64,
}

/// The memory in use.
pub const MEMORY: Memory = Memory {
    follow_share: 0.3,
    prior_share: 0.01,
    moved_share: 0.8,
    any_day_share: 0.4,
    begins_idle: (0.22, 1.5),
    ends_idle: (1.8, 1.8),
    usual_deviation: 0.45,
    is_pace_uncertain: true,
    odd_share: 0.03,
    evenness: (1.4, 0.4),
    season_share: 0.78,
    season_weeks: (6.0, 24.0),
    season_spread: 1.6,
    wander_share: 0.15,
    wander: 0.07,
    jump: 0.02,
    jump_deviation: 0.7,
    growth_step: 0.01,
    growth_deviation: 1.3,
};

/// Only the maker's own weeks, each as probable as any other, at the pace that they had: what textbooks assume. For checks.
pub const PLAIN: Memory = Memory {
    follow_share: 0.0,
    prior_share: 0.0,
    moved_share: 0.0,
    any_day_share: 0.0,
    begins_idle: (0.001, 0.001),
    ends_idle: (0.001, 0.001),
    is_pace_uncertain: false,
    season_share: 0.0,
    wander_share: 0.0,
    growth_deviation: 0.0,
    ..MEMORY
};

/// Run time of a usual week before anything is known, in milliseconds: three and a half hours.
pub const USUAL_RUN_MS: f64 = 12_600_000.0;

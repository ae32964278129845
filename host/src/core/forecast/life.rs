//! Lives that a maker may go on to live, drawn once from the past for all goals.

use super::chance::Chance;
use super::habit::Habit;
use super::memory::{Memory, USUAL_RUN_MS};
use super::pace::{courses, student};
use super::resample::{Day, ENOUGH_WEEKS, LEAST_WEEKS, Past, WEEK, Week, float, prior_weeks, times};
use super::way::{Course, Way, ways};

/// Out of how many the pace as a whole is picked by how usual it is.
const TRIES: usize = 4;

/// Lives that may be lived, and what they are drawn from.
#[derive(Clone, Debug)]
pub struct Lives {
    habit: Habit,
    ways: Vec<Way>,
    lives: Vec<Life>,
    follow_share: f64,
    prior_share: f64,
    moved_share: f64,
}

/// One way in which it may have come to today, and the seed of how it goes on.
#[derive(Clone, Debug)]
struct Life {
    seed: u64,
    course: Course,
    /// By how much the maker's own weeks are too small, or too large, to stand for all.
    scale: f64,
    /// Run time of a usual week at the course's pace 1, in milliseconds.
    usual_run_ms: f64,
    begins_idle: f64,
    ends_idle: f64,
    is_any_day: bool,
}

/// A week that is lived.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lived {
    /// Its days, as they once were.
    pub week: Week,
    /// Run time is this many times as much; 0 when it stands idle.
    pub factor: f64,
}

const IDLE: Lived = Lived { week: [Day { run_ms: 0, sessions: 0 }; WEEK], factor: 0.0 };

impl Lives {
    /// Draws so many lives; none with fewer than [`LEAST_WEEKS`] whole weeks.
    #[must_use]
    pub fn drawn(past: &Past, memory: &Memory, draws: usize, seed: u64) -> Self {
        let habit = Habit::of(&past.weeks, memory);
        let ways = ways(memory);
        let mut chance = Chance::new(seed);
        let courses = if past.weeks.len() < LEAST_WEEKS {
            Vec::new()
        } else {
            courses(&ways, &habit.seen(past.weeks.len(), memory), memory, draws, &mut chance)
        };
        let lives =
            courses.into_iter().map(|course| Life::drawn(course, &habit, memory, &mut chance)).collect();
        let prior = float(prior_weeks(past.weeks.len())) / float(ENOUGH_WEEKS);
        Self {
            habit,
            ways,
            lives,
            follow_share: memory.follow_share,
            prior_share: prior.max(memory.prior_share),
            moved_share: memory.moved_share,
        }
    }

    /// How many there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.lives.len()
    }

    /// Each of them, to be lived from the beginning.
    pub(super) fn each<'a>(&'a self, past: &'a Past) -> impl Iterator<Item = Living<'a>> {
        self.lives.iter().filter_map(move |life| {
            Some(Living {
                past,
                lives: self,
                life,
                way: self.ways.get(life.course.way)?,
                level: life.course.level,
                stage: life.course.stage,
                is_idle: self.habit.is_idle,
                follows: None,
                chance: Chance::new(life.seed),
                ahead: 0,
            })
        })
    }
}

impl Life {
    fn drawn(course: Course, habit: &Habit, memory: &Memory, chance: &mut Chance) -> Self {
        // Each week over the pace of the course.
        let over = habit
            .working
            .iter()
            .map(|(week, run)| run / course.past.get(*week).copied().unwrap_or(0.0).exp());
        let count = float(habit.working.len()).max(1.0);
        let over = over.sum::<f64>() / count;
        let own = habit.working.iter().map(|(_, run)| run).sum::<f64>() / count;
        let scale = if memory.is_pace_uncertain {
            // The mean of few uneven weeks is off by an inverse gamma number; what is usual for others is more probable.
            let tries: [f64; TRIES] = std::array::from_fn(|_| 1.0 / chance.gamma(course.evenness * count));
            let usual = tries.map(|scale| {
                student((scale * own / USUAL_RUN_MS).max(f64::MIN_POSITIVE).ln() / memory.usual_deviation)
            });
            tries.get(chance.pick(&usual)).copied().unwrap_or(1.0)
        } else {
            1.0
        };
        Self {
            seed: chance.bits(),
            scale,
            usual_run_ms: scale * over,
            course,
            begins_idle: chance.beta(habit.begins_idle),
            ends_idle: chance.beta(habit.ends_idle),
            is_any_day: chance.unit() < habit.any_day,
        }
    }
}

/// A life as it is lived, week by week.
pub(super) struct Living<'a> {
    past: &'a Past,
    lives: &'a Lives,
    life: &'a Life,
    way: &'a Way,
    level: f64,
    stage: usize,
    is_idle: bool,
    /// The whole week after the one drawn last.
    follows: Option<usize>,
    chance: Chance,
    ahead: usize,
}

impl Living<'_> {
    /// The next week; this one first, of which the days until today are not to be looked at.
    pub fn next(&mut self) -> Lived {
        let ahead = self.ahead;
        self.ahead += 1;
        let pace = self.way.onward(&mut self.level, &mut self.stage, ahead, &mut self.chance);
        let working = &self.lives.habit.working;
        // The same numbers are drawn for every week, so that one life stays itself whatever is asked of it.
        let (idle, follow, prior, move_it) =
            (self.chance.unit(), self.chance.unit(), self.chance.unit(), self.chance.unit());
        let drawn = working.get(self.chance.below(working.len())).copied();
        let multiple = self.chance.gamma(self.life.course.evenness);
        let by = self.chance.below(WEEK);
        self.is_idle = idle < self.chance_of_idle(ahead);
        let Some((mut at, mut run)) = drawn.filter(|_| !self.is_idle) else { return IDLE };
        let following = self.follows.filter(|_| follow < self.lives.follow_share);
        if let Some(next) = following.and_then(|next| working.iter().find(|(week, _)| *week == next)) {
            (at, run) = *next;
        }
        if ahead == 0 {
            (at, run) = self.alike((at, run));
        }
        self.follows = Some(at + 1);
        let is_prior = prior < self.lives.prior_share;
        let is_moved = self.life.is_any_day || (is_prior && move_it < self.lives.moved_share);
        let factor = if is_prior {
            multiple * self.life.usual_run_ms * pace.exp() / run
        } else {
            let then = self.life.course.past.get(at).copied().unwrap_or(pace);
            self.life.scale * (pace - then).exp()
        };
        let mut week = self.past.weeks.get(at).copied().unwrap_or_default();
        if is_moved {
            week.rotate_left(by);
        }
        if ahead == 0 {
            self.only_what_is_to_come(&mut week, at, is_moved);
        }
        Lived { week, factor }
    }

    /// How probable it is that a week stands idle; of this week it is known what ran until now.
    fn chance_of_idle(&self, ahead: usize) -> f64 {
        let idle = if self.is_idle { 1.0 - self.life.ends_idle } else { self.life.begins_idle };
        if ahead > 0 {
            return idle;
        }
        if !self.has_stood_still(&self.past.this_week) {
            return 0.0;
        }
        // Bayes' rule: an idle week has stood still until this day, and so have some that ran.
        let own = self.lives.habit.working.iter().filter_map(|(week, _)| self.past.weeks.get(*week));
        let still = float(own.filter(|week| self.has_stood_still(week)).count());
        let share = if self.past.weekday == 0 {
            1.0
        } else {
            (still + 1.0) / (float(self.lives.habit.working.len()) + 2.0)
        };
        idle / (idle + (1.0 - idle) * share)
    }

    fn has_stood_still(&self, week: &Week) -> bool {
        week.iter().take(self.past.weekday).all(|day| day.run_ms == 0)
    }

    /// For the rest of this week, where it can be had, one that had stood still until this day as this one has, or had not.
    fn alike(&mut self, mut found: (usize, f64)) -> (usize, f64) {
        let working = &self.lives.habit.working;
        let is_still = self.has_stood_still(&self.past.this_week);
        for _ in 0..4 {
            let week = self.past.weeks.get(found.0);
            if week.is_some_and(|week| self.has_stood_still(week) == is_still) {
                break;
            }
            found = working.get(self.chance.below(working.len())).copied().unwrap_or(found);
        }
        found
    }

    /// Of today only what ran later in the day; of a day that was moved here, as much as the day has left.
    fn only_what_is_to_come(&self, week: &mut Week, at: usize, is_moved: bool) {
        let (Some(today), Some(rest)) = (week.get_mut(self.past.weekday), self.past.rests.get(at)) else {
            return;
        };
        if is_moved {
            today.run_ms = times(today.run_ms, 1.0 - self.past.today_over);
        } else {
            *today = *rest;
        }
    }
}

//! Which courses the pace may have taken until now, each as probable as the maker's own weeks make it.
//!
//! How well a pace explains a week is a gamma density; a small share of weeks is thought to tell nothing. Each way's probability
//! comes out exactly, by Bayes' rule; then courses are drawn from it.

use statrs::function::gamma::ln_gamma;

use super::chance::Chance;
use super::memory::Memory;
use super::resample::float;
use super::way::{Course, GROWTHS, RUNGS, Rungs, Way, rung_ln, rungs};

/// How even weeks may be at one pace: the inverse of their squared coefficient of variation.
pub(super) const EVENNESS: [f64; 4] = [0.8, 1.6, 3.2, 6.4];
/// The same for weeks that tell nothing of the pace.
const ODD_EVENNESS: f64 = 0.7;

/// What is to be explained.
pub(super) struct Seen {
    /// Logarithm of each whole week's run time, relative to a usual week; none for an idle one.
    pub weeks: Vec<Option<f64>>,
    /// Logarithm of a usual week of all makers, relative to the same.
    pub others: f64,
    /// How probable each of [`EVENNESS`] is before the weeks are looked at.
    pub evenness: [f64; 4],
}

/// How well each rung explains each week, for one growth and one evenness; and the logarithm of what was divided out.
struct Marks {
    growth: f64,
    evenness: usize,
    weeks: Vec<[f64; RUNGS]>,
    ln_scale: f64,
}

/// Draws so many courses, each as probable as the weeks make it.
pub(super) fn courses(
    ways: &[Way],
    seen: &Seen,
    memory: &Memory,
    draws: usize,
    chance: &mut Chance,
) -> Vec<Course> {
    let start: Rungs = rungs(|at| student((at - seen.others) / memory.usual_deviation));
    let after_jump = rungs(|at| (-0.5 * (at / memory.jump_deviation).powi(2)).exp());
    let marks = all_marks(seen, memory);
    let tries: Vec<(usize, &Way, &Marks)> = ways
        .iter()
        .enumerate()
        .flat_map(|(at, way)| {
            let fits = marks.iter().filter(|marks| (marks.growth - way.growth).abs() < 1e-12);
            fits.map(move |marks| (at, way, marks))
        })
        .collect();
    let ln_weights: Vec<f64> = tries
        .iter()
        .map(|(_, way, marks)| {
            let evenness = seen.evenness.get(marks.evenness).copied().unwrap_or(0.0);
            way.forward(&marks.weeks, &start, &after_jump, |_| {})
                + marks.ln_scale
                + (way.share * evenness).ln()
        })
        .collect();
    let mut drawn = Vec::with_capacity(draws);
    for ((at, way, marks), times) in tries.iter().zip(shared_out(&ln_weights, draws, chance.unit())) {
        if times == 0 {
            continue;
        }
        let mut kept = Vec::with_capacity(marks.weeks.len());
        way.forward(&marks.weeks, &start, &after_jump, |belief| kept.push(belief.clone()));
        let evenness = EVENNESS.get(marks.evenness).copied().unwrap_or(1.0);
        drawn.extend((0..times).map(|_| way.backward(*at, evenness, &kept, &after_jump, chance)));
    }
    drawn
}

/// How many of so many draws each weight gets: its share, and the next whole number as often as the rest says.
fn shared_out(ln_weights: &[f64], draws: usize, offset: f64) -> Vec<usize> {
    let most = ln_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = ln_weights.iter().map(|weight| (weight - most).exp()).collect();
    let all: f64 = weights.iter().sum();
    let (mut sum, mut given) = (0.0, 0);
    let mut counts: Vec<usize> = weights
        .iter()
        .map(|weight| {
            sum += weight / all * float(draws);
            let mut count = 0;
            while given < draws && float(given) + offset < sum {
                (given, count) = (given + 1, count + 1);
            }
            count
        })
        .collect();
    // What rounding may have left over.
    if let Some(last) = counts.last_mut() {
        *last += draws - given;
    }
    counts
}

fn all_marks(seen: &Seen, memory: &Memory) -> Vec<Marks> {
    let mut all = Vec::new();
    let odd_density = density(ODD_EVENNESS);
    for growth in GROWTHS.map(|steps| steps * memory.growth_step) {
        for (evenness, shape) in EVENNESS.into_iter().enumerate() {
            let even = density(shape);
            let mut marks = Marks { growth, evenness, weeks: Vec::new(), ln_scale: 0.0 };
            for (week, run) in seen.weeks.iter().enumerate() {
                let Some(run) = run else {
                    marks.weeks.push([1.0; RUNGS]);
                    continue;
                };
                let odd = memory.odd_share * odd_density(*run);
                let grown = growth * (float(week) - float(seen.weeks.len()));
                let row: [f64; RUNGS] = std::array::from_fn(|rung| {
                    let pace = rung_ln(rung) + grown;
                    (1.0 - memory.odd_share) * even(run - pace) + odd
                });
                let most = row.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
                marks.ln_scale += most.ln();
                marks.weeks.push(row.map(|mark| mark / most));
            }
            all.push(marks);
        }
    }
    all
}

/// Density of the logarithm of a gamma number of mean one.
fn density(shape: f64) -> impl Fn(f64) -> f64 {
    let whole = shape * shape.ln() - ln_gamma(shape);
    move |ln| (whole + shape * (ln - ln.exp())).exp()
}

/// Student's t with three degrees of freedom, but for a constant.
pub(super) fn student(value: f64) -> f64 {
    (1.0 + value * value / 3.0).powi(-2)
}

#[cfg(test)]
mod tests {
    use super::super::memory::MEMORY;
    use super::super::way::ways;
    use super::*;

    /// Courses that explain weeks of so many hours, where four are usual.
    fn drawn(hours: &[f64]) -> Vec<Course> {
        let weeks = hours.iter().map(|hours| (*hours > 0.0).then(|| (hours / 4.0).ln())).collect();
        let seen = Seen { weeks, others: 0.0, evenness: [0.25; 4] };
        courses(&ways(&MEMORY), &seen, &MEMORY, 400, &mut Chance::new(3))
    }

    fn mean(numbers: impl Iterator<Item = f64>) -> f64 {
        let numbers: Vec<f64> = numbers.collect();
        numbers.iter().sum::<f64>() / float(numbers.len())
    }

    #[test]
    fn the_density_of_the_logarithm_adds_up_to_one() {
        for shape in EVENNESS {
            let whole: f64 = (-4_000..1_000).map(|at| density(shape)(f64::from(at) * 0.01) * 0.01).sum();
            assert!((whole - 1.0).abs() < 1e-3, "{shape}: {whole}");
        }
    }

    #[test]
    fn steady_weeks_leave_a_course_even_and_a_rush_raises_it() {
        let steady = drawn(&[4.0; 30]);
        let range = |course: &Course| {
            let most = course.past.iter().copied().fold(f64::MIN, f64::max);
            most - course.past.iter().copied().fold(f64::MAX, f64::min)
        };
        assert_eq!(steady.len(), 400);
        assert!(mean(steady.iter().map(range)) < 0.4, "{}", mean(steady.iter().map(range)));
        let mut hours = [3.0; 30];
        hours[10..18].fill(9.0);
        let rush = drawn(&hours);
        // The logarithm of 3 is 1.10.
        let risen = mean(rush.iter().map(|course| course.past[14] - course.past[4]));
        assert!((risen - 1.1).abs() < 0.25, "{risen}");
        assert!(mean(rush.iter().map(|course| (course.past[25] - course.past[4]).abs())) < 0.3);
    }

    #[test]
    fn growth_is_found_in_a_year_and_hardly_believed_in_a_month() {
        let grown = |weeks: u32| {
            let hours: Vec<f64> = (0..weeks).map(|week| 3.0 * (0.015 * f64::from(week)).exp()).collect();
            let ways = ways(&MEMORY);
            mean(drawn(&hours).iter().map(|course| ways[course.way].growth))
        };
        assert!((0.008..0.022).contains(&grown(52)), "{}", grown(52));
        assert!(grown(5).abs() < 0.006, "{}", grown(5));
    }

    #[test]
    fn idle_weeks_tell_nothing_of_the_pace() {
        let with = drawn(&[4.0, 4.0, 0.0, 0.0, 4.0, 4.0, 4.0]);
        let level = mean(with.iter().map(|course| course.past[2]));
        assert!(level.abs() < 0.35, "{level}");
    }

    #[test]
    fn draws_are_shared_out_as_weights_say() {
        let even = shared_out(&[0.0, f64::ln(3.0), f64::NEG_INFINITY], 400, 0.5);
        assert_eq!(even, [100, 300, 0]);
        assert_eq!(shared_out(&[1.0, 1.0, 1.0], 500, 0.1).iter().sum::<usize>(), 500);
    }
}

//! How fast this machine runs at each place of its knob.
//!
//! ln rate = curve(knob) + commission + session + chance. The curve is straight between knots while it is fitted, then made
//! rising and smooth. Commissions are free; sessions are drawn towards zero, so that a slow evening bends no curve. Only places
//! that several sessions visited count; elsewhere the curve says nothing.

use crate::stats::{MonotoneCubic, Square, isotonic, number, quantile};

/// Knots of the curve at the most.
const KNOTS: u32 = 8;
/// The curve reaches from this share of all bursts, ordered by knob, to the same share from the top.
const EDGE_SHARE: f64 = 0.02;
/// Knots lie at least so far apart, per mille of the travel.
const LEAST_APART: f64 = 15.0;
/// A knob that is hardly ever moved gets a curve so much wider than it moves, per mille.
const MARGIN: f64 = 10.0;
/// A stretch between two knots counts when so many sessions ran in it.
const LEAST_SESSIONS: usize = 4;
/// How strongly sessions are drawn to zero: the variance of single bursts over that of sessions (6 % over 2.5 %, squared).
const SESSION_PENALTY: f64 = 6.0;
/// Commissions are all but free.
const RUG_PENALTY: f64 = 1e-3;
/// Iterations that correct the fit for the curvature between knots.
const PASSES: u32 = 3;
/// Keeps the equations solvable where two knots share all their bursts.
const KNOT_PENALTY: f64 = 1e-3;

/// One burst: where the knob stood and how fast it ran.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KnobRate {
    /// The knob's place, per mille of its travel.
    pub knob_per_mille: f64,
    /// The natural logarithm of strokes per second.
    pub ln_rate: f64,
}

/// The bursts of one session on one commission.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WorkSession {
    /// The commission; only equality matters.
    pub rug: usize,
    /// Its bursts.
    pub bursts: Vec<KnobRate>,
}

/// The machine's own curve, with what is needed to know its error.
#[derive(Clone, Debug)]
pub struct KnobCurve {
    knots: Vec<f64>,
    smooth: MonotoneCubic,
    counts: Vec<bool>,
    /// By how much each knot moves when one session is off by one; a row for each session.
    pub(super) of_session: Vec<Vec<f64>>,
    /// Root of the covariance of the knots when single bursts scatter by one.
    pub(super) of_bursts: Square,
}

impl KnobCurve {
    /// Fits the curve; nothing where there is too little or nothing varies enough to be solved.
    #[must_use]
    pub fn fit(sessions: &[WorkSession]) -> Option<Self> {
        let knots = knots(sessions)?;
        let usual = usual_rate(sessions)?;
        let mut rugs: Vec<usize> = sessions.iter().map(|session| session.rug).collect();
        rugs.sort_unstable();
        rugs.dedup();
        let equations = Equations::of(sessions, &knots, &rugs);
        let size = equations.bare.size();
        let penalties = std::iter::repeat_n(KNOT_PENALTY, knots.len())
            .chain(std::iter::repeat_n(RUG_PENALTY, rugs.len()))
            .chain(std::iter::repeat_n(SESSION_PENALTY, sessions.len()));
        let mut whole = equations.bare.clone();
        for (place, penalty) in penalties.enumerate() {
            whole.add(place, place, penalty);
        }
        let root = whole.root()?;
        let mut heights = vec![usual; knots.len()];
        let mut smooth = None;
        // The first pass is straight between knots; the others take out what the smooth curve between them leaves.
        for _ in 0..PASSES {
            let moved = root.solve(&right_side(sessions, &knots, &rugs, smooth.as_ref(), usual));
            let values: Vec<f64> = heights.iter().zip(&moved).map(|(height, by)| height + by).collect();
            heights = isotonic(&values, &equations.weights);
            let points: Vec<(f64, f64)> = knots.iter().copied().zip(heights.iter().copied()).collect();
            smooth = MonotoneCubic::through(&points);
        }
        let inverse: Vec<Vec<f64>> = (0..knots.len()).map(|knot| root.solve(&unit(size, knot))).collect();
        let moved_by = |shape: &Vec<f64>| inverse.iter().map(|row| dot(row, shape)).collect();
        Some(Self {
            smooth: smooth?,
            counts: equations.visits.iter().map(|many| *many >= LEAST_SESSIONS).collect(),
            of_session: equations.shapes.iter().map(moved_by).collect(),
            of_bursts: scatter(&equations.bare, &inverse)?,
            knots,
        })
    }

    /// Ln rate at a place of the knob; none where the curve says nothing.
    #[must_use]
    pub fn at(&self, knob_per_mille: f64) -> Option<f64> {
        let hat = Hat::of(&self.knots, knob_per_mille)?;
        let counts = self.counts.get(hat.left).copied().unwrap_or(false);
        counts.then(|| self.smooth.at(knob_per_mille))
    }

    /// The knots with strokes per second at each.
    #[must_use]
    pub fn shown(&self) -> Vec<(f64, f64)> {
        self.knots.iter().map(|knot| (*knot, self.smooth.at(*knot).exp())).collect()
    }

    /// How each knot enters the mean of a session's bursts that count; and how many those are.
    pub(super) fn mean_hat(&self, session: &WorkSession) -> (Vec<f64>, u64) {
        let mut mean = vec![0.0; self.knots.len()];
        let mut many = 0_u64;
        for burst in &session.bursts {
            if self.at(burst.knob_per_mille).is_none() {
                continue;
            }
            let Some(hat) = Hat::of(&self.knots, burst.knob_per_mille) else { continue };
            add(&mut mean, hat.left, 1.0 - hat.part);
            add(&mut mean, hat.left + 1, hat.part);
            many += 1;
        }
        for value in &mut mean {
            *value /= number(many.max(1));
        }
        (mean, many)
    }
}

/// Between which knots a place lies, and how far on the way.
struct Hat {
    left: usize,
    part: f64,
}

impl Hat {
    fn of(knots: &[f64], place: f64) -> Option<Self> {
        let last = knots.last()?;
        let right =
            if place == *last { knots.len() - 1 } else { knots.partition_point(|knot| *knot <= place) };
        let left = right.checked_sub(1)?;
        let (from, to) = (knots.get(left)?, knots.get(right)?);
        Some(Self { left, part: (place - from) / (to - from) })
    }
}

fn knots(sessions: &[WorkSession]) -> Option<Vec<f64>> {
    let all = sessions.iter().flat_map(|session| &session.bursts);
    let knobs: Vec<f64> = all.map(|burst| burst.knob_per_mille).collect();
    let at = |share: f64| quantile(&knobs, share);
    let (low, high) = (at(EDGE_SHARE)?, at(1.0 - EDGE_SHARE)?);
    if high - low < 2.0 * LEAST_APART {
        return Some(vec![low - MARGIN, high + MARGIN]);
    }
    let mut knots = vec![low];
    for knot in 1..KNOTS {
        let share = EDGE_SHARE + (1.0 - 2.0 * EDGE_SHARE) * f64::from(knot) / f64::from(KNOTS - 1);
        let place = at(share)?;
        if knots.last().is_none_or(|last| place - last >= LEAST_APART) {
            knots.push(place);
        }
    }
    Some(knots)
}

/// The equations of least squares: knots first, then commissions, then sessions.
struct Equations {
    /// Without penalties.
    bare: Square,
    /// How much each knot has to go by.
    weights: Vec<f64>,
    /// What each session adds to the right side when it is off by one.
    shapes: Vec<Vec<f64>>,
    /// How many sessions ran between each two knots.
    visits: Vec<usize>,
}

impl Equations {
    fn of(sessions: &[WorkSession], knots: &[f64], rugs: &[usize]) -> Self {
        let (first_rug, first_session) = (knots.len(), knots.len() + rugs.len());
        let size = first_session + sessions.len();
        let mut all = Self {
            bare: Square::zero(size),
            weights: vec![0.0; knots.len()],
            shapes: Vec::new(),
            visits: vec![0; knots.len().saturating_sub(1)],
        };
        for (place, session) in sessions.iter().enumerate() {
            let rug = first_rug + rugs.partition_point(|rug| *rug < session.rug);
            let (mut shape, mut visited) = (vec![0.0; size], vec![false; all.visits.len()]);
            for burst in &session.bursts {
                let Some(hat) = Hat::of(knots, burst.knob_per_mille) else { continue };
                let columns = [
                    (hat.left, 1.0 - hat.part),
                    (hat.left + 1, hat.part),
                    (rug, 1.0),
                    (first_session + place, 1.0),
                ];
                for (row, value) in columns {
                    for (column, other) in columns {
                        all.bare.add(row, column, value * other);
                    }
                    add(&mut shape, row, value);
                    add(&mut all.weights, row, value);
                }
                if let Some(seen) = visited.get_mut(hat.left) {
                    *seen = true;
                }
            }
            for (count, seen) in all.visits.iter_mut().zip(visited) {
                *count += usize::from(seen);
            }
            all.shapes.push(shape);
        }
        // A knot at the very edge may have next to nothing.
        for weight in &mut all.weights {
            *weight = weight.max(KNOT_PENALTY);
        }
        all
    }
}

/// The right side of the equations: what the bursts have beyond the curve so far, or beyond the usual rate.
fn right_side(
    sessions: &[WorkSession],
    knots: &[f64],
    rugs: &[usize],
    smooth: Option<&MonotoneCubic>,
    usual: f64,
) -> Vec<f64> {
    let (first_rug, first_session) = (knots.len(), knots.len() + rugs.len());
    let mut right = vec![0.0; first_session + sessions.len()];
    for (place, session) in sessions.iter().enumerate() {
        let rug = first_rug + rugs.partition_point(|rug| *rug < session.rug);
        for burst in &session.bursts {
            let Some(hat) = Hat::of(knots, burst.knob_per_mille) else { continue };
            let rest = burst.ln_rate - smooth.map_or(usual, |curve| curve.at(burst.knob_per_mille));
            add(&mut right, hat.left, (1.0 - hat.part) * rest);
            add(&mut right, hat.left + 1, hat.part * rest);
            add(&mut right, rug, rest);
            add(&mut right, first_session + place, rest);
        }
    }
    right
}

/// The mean ln rate of all bursts, taken out before fitting, so that penalties draw towards it and not towards one stroke a second.
fn usual_rate(sessions: &[WorkSession]) -> Option<f64> {
    let rates = || sessions.iter().flat_map(|session| &session.bursts).map(|burst| burst.ln_rate);
    let many = number(u64::try_from(rates().count()).ok()?);
    (many > 0.0).then(|| rates().sum::<f64>() / many)
}

fn scatter(bare: &Square, inverse: &[Vec<f64>]) -> Option<Square> {
    let spread: Vec<Vec<f64>> = inverse.iter().map(|row| bare.times(row)).collect();
    let mut covariance = Square::zero(inverse.len());
    for (row, one) in inverse.iter().enumerate() {
        for (column, other) in spread.iter().enumerate() {
            covariance.add(row, column, dot(one, other));
        }
        // Rounding may take a knot that nothing moves below zero.
        covariance.add(row, row, 1e-9 * (1.0 + covariance.at(row, row)));
    }
    covariance.root()
}

fn unit(size: usize, place: usize) -> Vec<f64> {
    (0..size).map(|at| f64::from(u8::from(at == place))).collect()
}

fn add(column: &mut [f64], place: usize, value: f64) {
    if let Some(cell) = column.get_mut(place) {
        *cell += value;
    }
}

/// The sum of products.
pub(super) fn dot(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(one, other)| one * other).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bursts without any chance in them: rate = knob / 20, times what the commission lets through.
    fn session(rug: usize, knobs: impl Iterator<Item = u16>, factor: f64) -> WorkSession {
        let bursts = knobs
            .map(|knob| KnobRate {
                knob_per_mille: f64::from(knob),
                ln_rate: (f64::from(knob) / 20.0 * factor).ln(),
            })
            .collect();
        WorkSession { rug, bursts }
    }

    #[test]
    fn the_curve_is_found_whatever_the_commissions_let_through() {
        let sessions: Vec<WorkSession> = (0..20)
            .map(|place| session(place / 5, (300..700).step_by(5), [1.0, 0.85, 1.1, 0.95][place / 5]))
            .collect();
        let curve = KnobCurve::fit(&sessions).unwrap();
        let rise = curve.at(600.0).unwrap() - curve.at(400.0).unwrap();
        // By hand: ln(600 / 400).
        assert!((rise - 1.5_f64.ln()).abs() < 0.01, "{rise}");
        assert_eq!((curve.at(200.0), curve.at(800.0)), (None, None));
    }

    #[test]
    fn places_that_few_sessions_visited_say_nothing() {
        let mut sessions: Vec<WorkSession> =
            (0..20).map(|_| session(0, (300..400).step_by(2), 1.0)).collect();
        sessions.extend((0..3).map(|_| session(0, (500..800).step_by(1), 1.0)));
        let curve = KnobCurve::fit(&sessions).unwrap();
        assert!(curve.at(350.0).is_some());
        assert_eq!(curve.at(700.0), None);
    }

    #[test]
    fn a_knob_that_never_moves_has_a_curve_at_its_place() {
        let sessions: Vec<WorkSession> =
            (0..20).map(|place| session(place / 5, std::iter::repeat_n(500, 30), 1.0)).collect();
        let curve = KnobCurve::fit(&sessions).unwrap();
        assert!((curve.at(500.0).unwrap() - 25.0_f64.ln()).abs() < 0.01);
    }

    #[test]
    fn nothing_has_no_curve() {
        assert!(KnobCurve::fit(&[]).is_none());
        assert!(KnobCurve::fit(&[WorkSession::default()]).is_none());
    }
}

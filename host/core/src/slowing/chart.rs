//! Each session's stroke rate against the knob curve, within its commission.
//!
//! A session's level is the median, over its bursts, of ln rate less the curve. Of each commission the levels so far have a
//! mean; the next level's distance from it, times sqrt(n / (n + 1)), is its innovation: on a healthy machine innovations are
//! alike and independent however cloth differs from commission to commission, and the first session of a commission has none.
//! Their moving average is held against a limit that simulation set.

use super::curve::{KnobCurve, WorkSession};
use super::limit::{Healthy, limit};
use super::means::{EWMA_WEIGHT, Means, as_number, root_mean_square};
use crate::stats::{moved, quantile};

/// The curve and the scatter come from at least so many sessions.
pub const BASELINE_SESSIONS: usize = 20;
/// ... with at least so many innovations among them.
pub const LEAST_INNOVATIONS: usize = 12;
/// A session needs so many bursts where the curve speaks.
pub const LEAST_BURSTS: usize = 8;
/// Sessions are taken to scatter by at least so much, in ln rate, however alike they are: a smaller drop matters to nobody, and the
/// curve between its knots is not exact.
pub const LEAST_SCATTER: f64 = 0.01;
/// From the median absolute deviation to a normal standard deviation.
const MAD_TO_DEVIATION: f64 = 1.482_602_218_505_602;

/// One session of the chart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChartPoint {
    /// The session's place in what was given.
    pub session: usize,
    /// Its level: ln rate less the curve, the baseline's mean being zero; none with too few bursts where the curve speaks.
    pub level: Option<f64>,
    /// How far that lies from its commission's mean, weighed; none for the first session of a commission.
    pub innovation: Option<f64>,
    /// The moving average after it, as ln rate; zero during the baseline.
    pub average: f64,
    /// Whether the average passed the limit here.
    pub alarm: bool,
}

/// Where the machine was found to be slower.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alarm {
    /// The session at which the limit was passed.
    pub session: usize,
    /// The session with which it most likely began.
    pub since: usize,
    /// The rate since then as a share of the rate before, in the same commission.
    pub rate_share: f64,
}

/// The chart.
#[derive(Clone, Debug)]
pub struct Chart {
    /// The machine's own curve.
    pub curve: KnobCurve,
    /// Sessions from which curve and scatter come: so many from the first on.
    pub baseline: usize,
    /// Scatter of innovations on the healthy machine, in ln rate.
    pub scatter: f64,
    /// The average passes the limit below minus this, in ln rate.
    pub limit: f64,
    /// All sessions.
    pub points: Vec<ChartPoint>,
    /// Every time the limit was passed; the chart begins anew after each.
    pub alarms: Vec<Alarm>,
}

/// Draws the chart; none while there are too few sessions, or no curve can be drawn.
#[must_use]
pub fn chart(sessions: &[WorkSession]) -> Option<Chart> {
    let baseline = baseline(sessions)?;
    let first = sessions.get(..baseline)?;
    let curve = KnobCurve::fit(first)?;
    let mut levels: Vec<Option<f64>> = sessions.iter().map(|session| level(&curve, session)).collect();
    let well: Vec<f64> = levels.iter().take(baseline).copied().flatten().collect();
    // So that the baseline lies at zero in the picture; innovations do not change.
    let middle = well.iter().sum::<f64>() / as_number(well.len().max(1));
    for level in levels.iter_mut().flatten() {
        *level -= middle;
    }
    let of_rugs: Vec<(usize, Option<f64>)> =
        sessions.iter().map(|session| session.rug).zip(levels.iter().copied()).collect();
    let mut means = Means::default();
    let innovations: Vec<f64> = of_rugs
        .iter()
        .take(baseline)
        .filter_map(|(rug, level)| level.and_then(|level| means.innovation(*rug, level)))
        .collect();
    if innovations.len() < LEAST_INNOVATIONS {
        return None;
    }
    let scatter = root_mean_square(&innovations).max(LEAST_SCATTER);
    let widths = limit(&Healthy::of(&curve, first, scatter, burst_scatter(&curve, first)?))?;
    let mut chart =
        Chart { curve, baseline, scatter, limit: widths * scatter, points: Vec::new(), alarms: Vec::new() };
    chart.follow(&of_rugs, means);
    Some(chart)
}

/// How many sessions the baseline takes: twenty, and more until enough of them are not the first of their commission.
fn baseline(sessions: &[WorkSession]) -> Option<usize> {
    let mut seen = std::collections::BTreeSet::new();
    let mut later = 0;
    for (place, session) in sessions.iter().enumerate() {
        later += usize::from(!seen.insert(session.rug));
        // Two in hand: a session may have too few bursts where the curve speaks.
        if place + 1 >= BASELINE_SESSIONS && later >= LEAST_INNOVATIONS + 2 {
            return Some(place + 1);
        }
    }
    None
}

impl Chart {
    fn follow(&mut self, levels: &[(usize, Option<f64>)], after_baseline: Means) {
        let (mut means, mut average, mut begun) = (Means::default(), 0.0, 0);
        for (session, &(rug, level)) in levels.iter().enumerate() {
            if session == self.baseline {
                means = after_baseline.clone();
            }
            let innovation = level.and_then(|level| means.innovation(rug, level));
            let is_charted = session >= self.baseline;
            if let Some(innovation) = innovation.filter(|_| is_charted) {
                average = moved(average, innovation, EWMA_WEIGHT);
            }
            let alarm = is_charted && innovation.is_some() && average < -self.limit;
            self.points.push(ChartPoint { session, level, innovation, average, alarm });
            if alarm {
                self.alarms.push(alarm_at(levels.get(begun..=session).unwrap_or_default(), begun, rug));
                // What is known of the commissions so far belongs to another speed.
                (means, average, begun) = (Means::default(), 0.0, session);
                if let Some(level) = level {
                    means.innovation(rug, level);
                }
            }
        }
    }
}

/// When it most likely began: the cut of the commission's levels that parts them best, by least squares.
fn alarm_at(levels: &[(usize, Option<f64>)], begun: usize, rug: usize) -> Alarm {
    let of_rug: Vec<(usize, f64)> = (begun..)
        .zip(levels)
        .filter_map(|(session, (of, level))| level.filter(|_| *of == rug).map(|level| (session, level)))
        .collect();
    let session = of_rug.last().map_or(begun, |(session, _)| *session);
    let mut best = Alarm { session, since: session, rate_share: 1.0 };
    let mut most = f64::NEG_INFINITY;
    for cut in 1..of_rug.len() {
        let (before, after) = of_rug.split_at(cut);
        let drop = mean(before) - mean(after);
        let (some, others) = (as_number(before.len()), as_number(after.len()));
        let parted = drop * (some * others / (some + others)).sqrt();
        if let Some((since, _)) = after.first().filter(|_| parted > most) {
            most = parted;
            best = Alarm { session, since: *since, rate_share: (-drop).exp() };
        }
    }
    best
}

fn mean(levels: &[(usize, f64)]) -> f64 {
    levels.iter().map(|(_, level)| level).sum::<f64>() / as_number(levels.len())
}

/// A session's level; none with too few bursts where the curve speaks.
fn level(curve: &KnobCurve, session: &WorkSession) -> Option<f64> {
    let deviations = deviations(curve, session);
    if deviations.len() < LEAST_BURSTS { None } else { quantile(&deviations, 0.5) }
}

fn deviations(curve: &KnobCurve, session: &WorkSession) -> Vec<f64> {
    let of = |burst: &super::KnobRate| Some(burst.ln_rate - curve.at(burst.knob_per_mille)?);
    session.bursts.iter().filter_map(of).collect()
}

/// How single bursts scatter around their session's level; by the median, so that a stuck strand counts little.
fn burst_scatter(curve: &KnobCurve, sessions: &[WorkSession]) -> Option<f64> {
    let mut away: Vec<f64> = Vec::new();
    for session in sessions {
        let deviations = deviations(curve, session);
        if let Some(level) = quantile(&deviations, 0.5) {
            away.extend(deviations.iter().map(|one| (one - level).abs()));
        }
    }
    quantile(&away, 0.5).map(|middle| middle * MAD_TO_DEVIATION)
}

#[cfg(test)]
#[path = "chart_tests.rs"]
mod tests;

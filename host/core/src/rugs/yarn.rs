//! Yarn of a commission: what it has used for each 1,000 strokes by colour, and which colour runs out first.
//!
//! A colour's use is told by the scales alone. Strokes are not told apart by colour, so the pace of a colour is its weight
//! over all strokes of the rug, as if the design went on as it has so far.

use std::collections::BTreeMap;

use serde::Serialize;

use super::commission::{ColourYarn, Commissions, Told};
use super::progress::{Known, Progress};
use super::rug_work::RugTaken;
use crate::sessions::holder::Holder;
use crate::sessions::ledger::Ledger;
use crate::stats::{Estimate, LEAST_VALUES, Level, next_value, number};
use crate::studio::{RugIndex, Studio};

/// With fewer strokes than this before it was weighed, a colour's pace says little.
pub const LEAST_STROKES: u64 = 1_000;
const MG_PER_G: f64 = 1_000.0;

/// Whether a colour will do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Lasts {
    /// For the upper end of what is left, too.
    Enough,
    /// For the lower end of what is left, perhaps not for the upper.
    Tight,
    /// Not for the lower end of what is left.
    Short,
    /// It cannot be told: not weighed after some work, or it is not known how much is left to do.
    CannotTell,
}

/// The yarn of one colour.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ColourLine {
    /// What was weighed.
    #[serde(flatten)]
    pub weighed: ColourYarn,
    /// Used, in milligrams, where something was weighed after the work.
    pub used_mg: Option<u64>,
    /// Strokes of the rug until it was weighed; all of them where it was brought back.
    pub strokes_until_weighed: Option<u64>,
    /// Grams for each 1,000 strokes of the rug.
    pub grams_per_1000_strokes: Option<f64>,
    /// Grams that should be left by now, at that pace.
    pub left_now_g: Option<f64>,
    /// Strokes after which it runs out, at that pace.
    pub strokes_until_out: Option<f64>,
    /// Whether it will do.
    pub lasts: Lasts,
}

/// The yarn of a commission.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct YarnReport {
    /// Its colours.
    pub colours: Vec<ColourLine>,
    /// The colour that runs out first of those of which that can be told; none where all of them will do.
    pub runs_out_first: Option<String>,
    /// Whether some of the rug's running was written by hand, without strokes: then the grams for each 1,000 strokes come
    /// out too high, and the order in which the colours run out holds as far as all of them had their share of it.
    pub some_by_hand: bool,
    /// Grams for each 1,000 strokes of own finished rugs, all colours together; a range from four rugs on.
    pub own_grams_per_1000_strokes: Estimate,
    /// The finished rugs of which all yarn was weighed.
    pub own_rugs_weighed: u64,
    /// How many it takes for a range.
    pub own_rugs_needed: u64,
    /// Grams that what is left of the rug takes, all colours together, by the own rugs.
    pub needed_g: Estimate,
}

/// The yarn of a commission, and what its progress says it will still take.
#[must_use]
pub fn report(
    known: Known<'_>,
    ledger: &Ledger<'_>,
    place: RugIndex,
    progress: Option<&Progress>,
    level: Level,
) -> YarnReport {
    let Known { studio, commissions, own_yarn: own, .. } = known;
    let so_far = progress.map_or(0, |progress| progress.strokes);
    let strokes_left = progress.map_or_else(Estimate::default, |progress| progress.strokes_left);
    let told = studio.rug_at(place).and_then(|rug| commissions.told(&rug.order.rug));
    let colours: Vec<ColourLine> = told
        .map(Told::yarn_by_colour)
        .unwrap_or_default()
        .into_iter()
        .map(|weighed| line(studio, ledger, place, (so_far, strokes_left), weighed))
        .collect();
    let first = colours
        .iter()
        .filter(|line| line.lasts != Lasts::Enough)
        .filter_map(|line| Some((line.strokes_until_out?, &line.weighed.colour)))
        .min_by(|one, other| one.0.total_cmp(&other.0));
    let per_1000 = if own.len() >= LEAST_VALUES {
        next_value(own, level).unwrap_or_default()
    } else {
        let logs = own.iter().map(|value| value.ln()).sum::<f64>();
        let count = number(u64::try_from(own.len()).unwrap_or(1));
        Estimate { estimate: (!own.is_empty()).then(|| (logs / count).exp()), low: None, high: None }
    };
    let needed = |strokes: Option<f64>, grams: Option<f64>| Some(strokes? / 1_000.0 * grams?);
    YarnReport {
        some_by_hand: known.taken.get(&place).is_some_and(RugTaken::has_typed),
        runs_out_first: first.map(|(_, colour)| colour.clone()),
        colours,
        own_rugs_weighed: u64::try_from(own.len()).unwrap_or(u64::MAX),
        own_rugs_needed: u64::try_from(LEAST_VALUES).unwrap_or(u64::MAX),
        needed_g: Estimate {
            estimate: needed(strokes_left.estimate, per_1000.estimate),
            low: needed(strokes_left.low, per_1000.low),
            high: needed(strokes_left.high, per_1000.high),
        },
        own_grams_per_1000_strokes: per_1000,
    }
}

fn line(
    studio: &Studio,
    ledger: &Ledger<'_>,
    place: RugIndex,
    (so_far, strokes_left): (u64, Estimate),
    weighed: ColourYarn,
) -> ColourLine {
    let used_mg = weighed.used_mg();
    let until = used_mg.map(|_| match weighed.left_at_utc_ms {
        Some(at) => strokes_until(studio, ledger, place, at),
        None => so_far,
    });
    let per_1000 = used_mg
        .zip(until.filter(|strokes| *strokes >= LEAST_STROKES))
        .map(|(used, strokes)| number(used) / MG_PER_G / number(strokes) * 1_000.0);
    let left_now_g = weighed.left_mg.zip(per_1000).zip(until).map(|((left, per_1000), until)| {
        let since = number(so_far.saturating_sub(until));
        (number(left) / MG_PER_G - per_1000 * since / 1_000.0).max(0.0)
    });
    let strokes_until_out = left_now_g
        .zip(per_1000.filter(|per_1000| *per_1000 > 0.0))
        .map(|(left, per_1000)| left / per_1000 * 1_000.0);
    let lasts = match (strokes_until_out, strokes_left.estimate) {
        (Some(until_out), Some(left)) => {
            if until_out >= strokes_left.high.unwrap_or(left) {
                Lasts::Enough
            } else if until_out >= strokes_left.low.unwrap_or(left) {
                Lasts::Tight
            } else {
                Lasts::Short
            }
        }
        _ => Lasts::CannotTell,
    };
    ColourLine {
        used_mg,
        strokes_until_weighed: until,
        grams_per_1000_strokes: per_1000,
        left_now_g,
        strokes_until_out,
        lasts,
        weighed,
    }
}

/// Strokes of a rug in bursts that surely began before a moment.
fn strokes_until(studio: &Studio, ledger: &Ledger<'_>, place: RugIndex, at: i64) -> u64 {
    let mut edges = BTreeMap::new();
    for line in ledger.logs.iter().flat_map(|log| &log.lines) {
        let before = line.when.latest().is_some_and(|latest| latest.0 <= at);
        if before && line.attribution.holder == Holder::Rug(place) {
            let sum: &mut u64 = edges.entry(line.machine).or_default();
            *sum = sum.saturating_add(line.burst.edges);
        }
    }
    let strokes = edges.iter().map(|(machine, edges)| studio.ratio(*machine).strokes(*edges));
    strokes.fold(0, u64::saturating_add)
}

/// Grams for each 1,000 strokes of the finished rugs of which every colour was weighed after the work.
#[must_use]
pub fn own_weighed(
    studio: &Studio,
    commissions: &Commissions,
    taken: &BTreeMap<RugIndex, RugTaken>,
) -> Vec<f64> {
    let finished = studio.rugs.iter().enumerate().filter(|(_, rug)| rug.state().is_done());
    finished
        .filter_map(|(place, rug)| {
            let colours = commissions.told(&rug.order.rug)?.yarn_by_colour();
            let used: Option<Vec<u64>> = colours.iter().map(ColourYarn::used_mg).collect();
            let used = used?.into_iter().fold(0, u64::saturating_add);
            let strokes = taken.get(&RugIndex::of(place))?.strokes(studio);
            (used > 0 && strokes >= LEAST_STROKES)
                .then(|| number(used) / MG_PER_G / number(strokes) * 1_000.0)
        })
        .collect()
}

#[cfg(test)]
#[path = "yarn_tests.rs"]
mod tests;

//! What `speed --explain` adds: the same report in the statisticians' words, for whoever wants to check it.

use crate::view::words::figures::figures;
use crate::view::words::{count, push};
use host_core::cloth::cost::CostReport;
use host_core::cloth::cost::posterior::PRIOR_DEVIATION;
use host_core::cloth::looks::{LOOK_P, NO_DOUBLING_LEVEL};
use host_core::cloth::traces::{LEAST_INFORMATIVE, SecondsBefore};
use host_core::cloth::{SpeedReport, TableReport};
use host_core::stats::{Estimate, ExactRatio};

/// A machine's report.
#[must_use]
pub fn speed(report: &SpeedReport) -> String {
    let mut text = begun(report.level);
    let primary = &report.primary;
    push(
        &mut text,
        format_args!(
            "Primary question: rate ratio per stroke, fast over slow, conditional on each rug's tears (a sum of binomial counts). A verdict at 6, 9, 14, 21, 32, 48 ... tears only, each at p <= {LOOK_P}; \"a doubling is unlikely\" when {} % limits lie inside 0.5 to 2. Informative strata: {} of {}.",
            100.0 * NO_DOUBLING_LEVEL,
            primary.informative_rugs,
            primary.informative_rugs + primary.silent_rugs
        ),
    );
    match primary.ratio {
        Some(ratio) => exact(&mut text, "  At the look that counts", ratio),
        None => text.push_str("  No look so far.\n"),
    }
    if let Some(hints) = &report.hints {
        push(
            &mut text,
            format_args!("By cloth lot: Mantel-Haenszel rate ratio {}.", ratio(hints.by_cloth_lot)),
        );
    }
    before(&mut text, report.seconds_before);
    if let Some(cost) = &report.decision {
        decided(&mut text, cost);
    }
    text
}

/// A table's report.
#[must_use]
pub fn table(report: &TableReport, level: f64) -> String {
    let mut text = begun(level);
    let plain = report.ratio;
    push(
        &mut text,
        format_args!(
            "Highest to lowest band, strata ignored: rate ratio {}, p {}",
            ratio(Estimate { estimate: plain.estimate, low: plain.low, high: plain.high }),
            shown(plain.p_value)
        ),
    );
    exact(&mut text, "Highest to lowest band, exact within strata", report.stratified_exact);
    let weighted = report.mantel_haenszel;
    push(
        &mut text,
        format_args!(
            "Mantel-Haenszel rate ratio {} (Greenland-Robins variance); p that strata differ {}",
            ratio(Estimate { estimate: weighted.estimate, low: weighted.low, high: weighted.high }),
            shown(weighted.p_strata_differ)
        ),
    );
    let trend = report.trend;
    push(
        &mut text,
        format_args!(
            "Poisson regression on the knob: slope {}, standard error {}, z {} (p {}); dispersion {} on {} degrees of freedom; t {} (p {}) with the dispersion floored at 1",
            shown(trend.slope),
            shown(trend.standard_error),
            shown(trend.z_poisson),
            shown(trend.p_poisson),
            shown(trend.dispersion),
            trend.residual_degrees_of_freedom,
            shown(trend.t_adjusted),
            shown(trend.p_adjusted)
        ),
    );
    text
}

fn begun(level: f64) -> String {
    format!(
        "\nIn the words of statistics (host/core/STATISTICS has the formulas); limits at level {level}:\n"
    )
}

fn exact(text: &mut String, what: &str, exact: ExactRatio) {
    let estimate = Estimate { estimate: exact.estimate, low: exact.low, high: exact.high };
    push(
        text,
        format_args!(
            "{what}: rate ratio {} by conditional maximum likelihood, p {}, {}",
            ratio(estimate),
            shown(exact.p_value),
            count(exact.informative_strata, "informative stratum", "informative strata")
        ),
    );
}

fn before(text: &mut String, before: SecondsBefore) {
    let Some(numbers) = before.numbers else {
        push(
            text,
            format_args!(
                "Seconds before tears: {} informative tears, below {LEAST_INFORMATIVE}; pictures only.",
                before.informative_tears
            ),
        );
        return;
    };
    push(
        text,
        format_args!(
            "Seconds before tears: sum of (knob before tear - session mean) {} per mille over {} tears, p {} by drawing each tear's place anew among its session's traces; factor for a tenth of the knob {} by Firth-penalised conditional regression. Never the verdict.",
            shown(Some(numbers.sum_of_differences_per_mille)),
            before.informative_tears,
            shown(Some(numbers.p_value)),
            ratio(numbers.factor_for_a_tenth_of_the_knob)
        ),
    );
}

fn decided(text: &mut String, cost: &CostReport) {
    let Some(effect) = cost.effect else { return };
    push(
        text,
        format_args!(
            "Decision: log tears per stroke = rug effect + b x log2 strokes per second, prior b ~ N(0, {PRIOR_DEVIATION}^2), rug effects conditioned out. Posterior exp(b) {}; P(b > 0) {}. A ceiling needs P(it saves money) >= {}; the surest has {}, from the prior alone {}. Dispersion of rugs {}.",
            ratio(effect.factor_for_a_doubling),
            shown(effect.probability_faster_tears_more),
            cost.needed_probability,
            shown(cost.ceilings.iter().map(|one| one.probability_saves).reduce(f64::max)),
            shown(cost.from_the_prior_alone.map(|prior| prior.surest_probability_saves)),
            shown(Some(cost.scatter_of_rugs))
        ),
    );
}

fn ratio(estimate: Estimate) -> String {
    format!("{} ({} to {})", shown(estimate.estimate), shown(estimate.low), shown(estimate.high))
}

fn shown(value: Option<f64>) -> String {
    match value {
        None => "none".to_owned(),
        Some(value) if value.abs() < 0.1 => figures(value),
        Some(value) => format!("{value:.4}"),
    }
}

//! Daily hand-arm vibration exposure from an entered vibration figure and the time for which the hand held the running
//! machine. Nothing here measures vibration; without a figure there is no dose.
//!
//! A(8) = sqrt(sum(a_hv^2 * T) / 8 h) (ISO 5349-1:2001, clause 5); points = 2 * a_hv^2 * T in hours, so that 100 points
//! are the action value and 400 the limit value.

use crate::entries::VibrationFigure;
use serde::Serialize;
use thiserror::Error;

/// The day to which an exposure is referred, in minutes: eight hours.
const REFERENCE_MINUTES: f64 = 480.0;
/// The daily exposure action value, in m/s² (Directive 2002/44/EC, article 3).
pub const ACTION_VALUE_M_S2: f64 = 2.5;
/// The daily exposure limit value, in m/s² (Directive 2002/44/EC, article 3).
pub const LIMIT_VALUE_M_S2: f64 = 5.0;
/// As near as this, as a share of the value, an exposure counts as having reached it.
const REACHED_WITHIN: f64 = 1e-9;
/// Minutes of a day.
pub const MINUTES_PER_DAY: f64 = 1_440.0;
/// A figure above this is a mistake of writing: no hand tool comes near it. In m/s².
pub const MOST_VIBRATION_M_S2: f64 = 1_000.0;

/// A total vibration value of a tool at the hand, frequency-weighted, over three axes: a_hv in m/s².
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
#[serde(transparent)]
pub struct Vibration(f64);

impl Vibration {
    /// A figure in m/s², if it is zero or more and at most 1,000.
    #[must_use]
    pub fn new(a_hv_m_s2: f64) -> Option<Self> {
        (0.0..=MOST_VIBRATION_M_S2).contains(&a_hv_m_s2).then_some(Self(a_hv_m_s2))
    }

    /// The figure in m/s².
    #[must_use]
    pub const fn m_s2(self) -> f64 {
        self.0
    }
}

impl VibrationFigure {
    /// The figure.
    #[must_use]
    pub fn vibration(&self) -> Option<Vibration> {
        Vibration::new(f64::from(self.a_hv_mm_s2) / 1_000.0)
    }
}

/// A tool in the hand for part of a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToolUse {
    /// Its vibration.
    pub vibration: Vibration,
    /// For how long, in minutes; zero or more.
    pub minutes: f64,
}

/// How an exposure stands against a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// It is not reached.
    Below,
    /// It is reached, within 1e-9 of the value.
    Reached,
    /// It is passed.
    Exceeded,
}

/// One tool of the day.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ToolExposure {
    /// Its vibration, in m/s².
    pub a_hv_m_s2: f64,
    /// For how long, in minutes.
    pub minutes: f64,
    /// Its share of the day's points.
    pub points: f64,
    /// Minutes after which this tool alone reaches the action value; none when it does not vibrate.
    pub minutes_to_action_value: Option<f64>,
    /// Minutes after which this tool alone reaches the limit value; none when it does not vibrate.
    pub minutes_to_limit_value: Option<f64>,
}

/// Which rules ask for something at this exposure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct RulesThatAct {
    /// Directive 2002/44/EC asks for action when the action value is exceeded.
    pub eu_action: bool,
    /// The regulations of the United Kingdom ask for action at the action value or above.
    pub uk_action: bool,
    /// Both forbid an exposure above the limit value.
    pub above_limit: bool,
}

/// One person's exposure on one day: an estimate, not a measurement.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DailyExposure {
    /// The exposure over eight hours, A(8), in m/s².
    pub a8_m_s2: f64,
    /// The same in points.
    pub points: f64,
    /// Against the action value of 2.5 m/s².
    pub action_value: Standing,
    /// Against the limit value of 5 m/s².
    pub limit_value: Standing,
    /// Which rules ask for something.
    pub rules: RulesThatAct,
    /// The tools in the order given.
    pub tools: Vec<ToolExposure>,
}

/// Why there is no exposure.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum ExposureProblem {
    /// A time that cannot be.
    #[error("{0} minutes; it must be zero or more, and a day has 1440")]
    Minutes(f64),
    /// More than a day in a day.
    #[error("all together {0} minutes; a day has 1440, and the exposure is that of one person on one day")]
    MoreThanADay(f64),
}

/// Adds a day's tools up.
///
/// # Errors
/// When a time is negative or no number, or the times are together more than a day.
pub fn daily_exposure(tools: &[ToolUse]) -> Result<DailyExposure, ExposureProblem> {
    let is_time = |minutes: f64| (0.0..=MINUTES_PER_DAY).contains(&minutes);
    if let Some(tool) = tools.iter().find(|tool| !is_time(tool.minutes)) {
        return Err(ExposureProblem::Minutes(tool.minutes));
    }
    let minutes: f64 = tools.iter().map(|tool| tool.minutes).sum();
    // A sum of decimal fractions may miss the day by its last digit.
    if minutes > MINUTES_PER_DAY * (1.0 + REACHED_WITHIN) {
        return Err(ExposureProblem::MoreThanADay(minutes));
    }
    // An empty sum of floats is minus zero; a day without tools is zero.
    let dose = tools.iter().fold(0.0, |sum, tool| sum + tool.vibration.0.powi(2) * tool.minutes);
    let a8_m_s2 = (dose / REFERENCE_MINUTES).sqrt();
    let (action_value, limit_value) =
        (standing(a8_m_s2, ACTION_VALUE_M_S2), standing(a8_m_s2, LIMIT_VALUE_M_S2));
    Ok(DailyExposure {
        a8_m_s2,
        points: points(dose),
        action_value,
        limit_value,
        rules: RulesThatAct {
            eu_action: action_value == Standing::Exceeded,
            uk_action: action_value >= Standing::Reached,
            above_limit: limit_value == Standing::Exceeded,
        },
        tools: tools.iter().map(tool_exposure).collect(),
    })
}

/// Points of a dose in (m/s²)² minutes: twice the square of the vibration, per hour.
fn points(dose: f64) -> f64 {
    2.0 * dose / 60.0
}

fn tool_exposure(tool: &ToolUse) -> ToolExposure {
    let square = tool.vibration.0.powi(2);
    let minutes_to = |value: f64| {
        let minutes = REFERENCE_MINUTES * value.powi(2) / square;
        minutes.is_finite().then_some(minutes)
    };
    ToolExposure {
        a_hv_m_s2: tool.vibration.0,
        minutes: tool.minutes,
        points: points(square * tool.minutes),
        minutes_to_action_value: minutes_to(ACTION_VALUE_M_S2),
        minutes_to_limit_value: minutes_to(LIMIT_VALUE_M_S2),
    }
}

fn standing(a8_m_s2: f64, value: f64) -> Standing {
    if (a8_m_s2 - value).abs() <= REACHED_WITHIN * value {
        Standing::Reached
    } else if a8_m_s2 > value {
        Standing::Exceeded
    } else {
        Standing::Below
    }
}

#[cfg(test)]
#[path = "vibration_tests.rs"]
mod tests;

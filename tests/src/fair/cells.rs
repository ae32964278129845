//! The worlds in which the rule is tried.

/// A world.
#[derive(Clone, Copy, Debug)]
pub struct Cell {
    /// What is true in it.
    pub name: &'static str,
    /// Tears in a year, on average.
    pub tears_per_year: f64,
    /// How differently rugs tear: the variance of a factor of mean 1.
    pub frailty_variance: f64,
    /// How much faster a rug is made for each natural logarithm of its frailty, per mille of the knob's travel.
    pub knob_by_frailty: f64,
    /// After a tear the cloth is tensioned again and the knob turned down by so much, per mille of its travel; not at all with 0.
    pub turned_down: f64,
    /// What is left of that caution after each row, about a run minute: 0.95 is twenty minutes of it.
    pub caution_kept: f64,
    /// Cloth slackens and tears more easily: twice as easily after ten run minutes.
    pub slackens: bool,
    /// The maker runs faster the longer the cloth has not been tensioned: per mille for each run minute. Nothing measures it.
    pub hurry_per_minute: f64,
    /// The share of tears without a press, and as many presses without a tear.
    pub wrong_presses: f64,
    /// How much more easily cloth tears at the fast one of two knob places; with 1 the knob moves freely.
    pub fast_factor: f64,
    /// The knob has two places only.
    pub two_places: bool,
    /// The true ratio, where there is one.
    pub truth: Option<f64>,
    /// Whether at most one studio in twenty may ever be told that speed matters.
    pub is_null: bool,
}

const PLAIN: Cell = Cell {
    name: "the same risk at every stroke",
    tears_per_year: 10.0,
    frailty_variance: 0.0,
    knob_by_frailty: 0.0,
    turned_down: 0.0,
    caution_kept: 0.95,
    slackens: false,
    hurry_per_minute: 0.0,
    wrong_presses: 0.0,
    fast_factor: 1.0,
    two_places: false,
    truth: Some(1.0),
    is_null: true,
};

/// The worlds, each for one yearly number of tears.
const WORLDS: [Cell; 15] = [
    PLAIN,
    Cell { name: "rugs differ (variance 1)", frailty_variance: 1.0, ..PLAIN },
    Cell { name: "rugs differ (variance 3)", frailty_variance: 3.0, ..PLAIN },
    Cell { name: "fragile rugs are made faster", frailty_variance: 1.0, knob_by_frailty: 120.0, ..PLAIN },
    Cell { name: "fragile rugs are made slower", frailty_variance: 1.0, knob_by_frailty: -120.0, ..PLAIN },
    Cell { name: "slower and tensioned after a tear", turned_down: 200.0, slackens: true, ..PLAIN },
    Cell {
        name: "the same, rugs differ (variance 3)",
        turned_down: 200.0,
        slackens: true,
        frailty_variance: 3.0,
        ..PLAIN
    },
    Cell { name: "cloth slackens", slackens: true, ..PLAIN },
    Cell { name: "one press in ten wrong or missing", wrong_presses: 0.1, ..PLAIN },
    Cell { name: "two knob places, rugs differ (3)", two_places: true, frailty_variance: 3.0, ..PLAIN },
    Cell {
        name: "fast tears three times as easily",
        two_places: true,
        fast_factor: 3.0,
        truth: Some(3.0),
        is_null: false,
        ..PLAIN
    },
    Cell {
        name: "the same, rugs differ (variance 1)",
        two_places: true,
        fast_factor: 3.0,
        frailty_variance: 1.0,
        truth: Some(3.0),
        is_null: false,
        ..PLAIN
    },
    Cell {
        name: "the same, one press in ten wrong",
        two_places: true,
        fast_factor: 3.0,
        wrong_presses: 0.1,
        truth: None,
        is_null: false,
        ..PLAIN
    },
    Cell {
        name: "caution for the rest of the rug",
        turned_down: 200.0,
        caution_kept: 1.0,
        slackens: true,
        truth: None,
        is_null: false,
        ..PLAIN
    },
    Cell {
        name: "not measured: hurry while cloth slackens",
        slackens: true,
        hurry_per_minute: 20.0,
        truth: None,
        is_null: false,
        ..PLAIN
    },
];

/// Every world with 5, 10 and 20 tears a year.
#[must_use]
pub fn all() -> Vec<Cell> {
    let years = [5.0, 10.0, 20.0];
    WORLDS.iter().flat_map(|world| years.map(|tears_per_year| Cell { tears_per_year, ..*world })).collect()
}

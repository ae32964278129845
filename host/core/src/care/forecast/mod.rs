//! When care will probably fall due: the maker's own weeks drawn again, and the limits by calendar, whichever comes first.

mod due_date;
pub mod due_day;
mod goal;
mod habit;
mod line;
mod past;
mod prediction_interval;
mod resample;
mod resampling_params;
mod week;

pub use due_date::{DueForecast, NoDate, Outlook};
pub use goal::{Goal, Still};
pub use past::past_of;
pub use prediction_interval::{PLACES, Places, PredictionInterval};
pub use resample::{DRAWS, ENOUGH_WEEKS, HORIZON_WEEKS, Past, futures, prior_weeks};
pub use resampling_params::{PLAIN, PRIOR_WEEKS, RESAMPLING_PARAMS, ResamplingParams};
pub use week::{Day, LEAST_WEEKS, WEEK, Week};

//! When care will probably fall due: the maker's own weeks drawn again, and the limits by calendar, whichever comes first.

mod chance;
mod due_date;
pub mod due_day;
mod habit;
mod line;
mod past;
mod place_row;
mod place_weights;
mod places;
mod resample;
mod resampling_params;
mod signs;
mod week;

pub use due_date::{DueForecast, NoDate, Outlook};
pub use past::past_of;
pub use place_row::{ROW, row, score};
pub use place_weights::{EARLY, End, LATE, Weight};
pub use places::{Moments, SHARES, read, score_of, share};
pub use resample::{DRAWS, ENOUGH_WEEKS, Goal, HORIZON_WEEKS, Past, Still, futures, prior_weeks};
pub use resampling_params::{PLAIN, PRIOR_WEEKS, RESAMPLING_PARAMS, ResamplingParams};
pub use signs::{SIGNS, Signs};
pub use week::{Day, LEAST_WEEKS, WEEK, Week};

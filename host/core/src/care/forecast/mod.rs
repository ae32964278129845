//! When care will probably fall due: the maker's own weeks drawn again, and the limits by calendar, whichever comes first.

mod chance;
mod due_date;
mod habit;
mod line;
mod memory;
mod past;
mod place_row;
mod place_weights;
mod places;
mod resample;
mod signs;
pub mod told_date;
mod week;

pub use due_date::{DueForecast, NoDate, Outlook};
pub use memory::{MEMORY, Memory, PLAIN, PRIOR_WEEKS};
pub use past::past_of;
pub use place_row::{ROW, row, score};
pub use place_weights::{EARLY, End, LATE, Weight};
pub use places::{Moments, SHARES, read, score_of, share};
pub use resample::{DRAWS, ENOUGH_WEEKS, Goal, HORIZON_WEEKS, Past, Still, futures, prior_weeks};
pub use signs::{SIGNS, Signs};
pub use week::{Day, LEAST_WEEKS, WEEK, Week};

//! When care will probably fall due: the maker's own weeks drawn again, and the limits by calendar, whichever comes first.

mod chance;
mod due_date;
mod habit;
mod life;
mod memory;
mod pace;
mod past;
mod resample;
mod way;

pub use due_date::{DueForecast, NoDate, Outlook};
pub use life::Lives;
pub use memory::{MEMORY, Memory, PLAIN, USUAL_RUN_MS};
pub use past::past_of;
pub use resample::{
    DRAWS, Day, ENOUGH_WEEKS, Goal, LEAST_WEEKS, Past, Still, WEEK, Week, futures, prior_weeks, rank, reached,
};

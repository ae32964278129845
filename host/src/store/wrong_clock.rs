//! A computer whose clock is years off would date all that is entered wrongly, and nothing is ever taken back out.

use jiff::Timestamp;
use rusqlite::Connection;
use shared_types::UtcMillis;

use crate::app::ports::StoreError;
use host_core::stats::DAY_MS;

/// Two years of 365 days: longer than a machine rests, shorter than what an empty clock battery makes of a date.
const FARTHEST_MS: u64 = 2 * 365 * DAY_MS;

/// Clock and newest entry, too far apart.
#[derive(Clone, Copy, Debug)]
pub struct WrongClock {
    now: UtcMillis,
    newest: UtcMillis,
}

/// Whether there is reason to doubt the clock; never in an empty book.
///
/// # Errors
/// As SQLite.
pub fn of(connection: &Connection, now: UtcMillis) -> rusqlite::Result<Option<WrongClock>> {
    let newest: Option<i64> =
        connection.query_row("SELECT max(entered_at) FROM entry", (), |row| row.get(0))?;
    Ok(newest
        .map(|newest| WrongClock { now, newest: UtcMillis(newest) })
        .filter(|clock| clock.now.0.abs_diff(clock.newest.0) > FARTHEST_MS))
}

impl WrongClock {
    /// Why nothing is noted.
    pub fn refusal(&self) -> StoreError {
        StoreError::ClockInDoubt { now: day(self.now), newest: day(self.newest) }
    }
}

/// The day in UTC; days are years apart here.
fn day(at: UtcMillis) -> String {
    let day = Timestamp::from_millisecond(at.0).map(|at| at.strftime("%Y-%m-%d").to_string());
    day.unwrap_or_else(|_| "a day beyond any calendar".to_owned())
}

//! The day that the maker is told for a task that is not due yet: `due` and the calendar take it from here, so that one never
//! has a day that the other leaves out.

use jiff::civil::Date;

use super::{DueForecast, NoDate};

/// What kind of day it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Told {
    /// A forecast with a range, or a day that a limit in days fixes.
    Likely,
    /// The day that a limit in days fixes, where the history is too short to say whether running makes it sooner.
    AtTheLatest,
}

/// A day that is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DueDay {
    /// The day.
    pub on: Date,
    /// The first day of its range.
    pub earliest: Option<Date>,
    /// The last day of its range.
    pub latest: Option<Date>,
    /// What kind of day it is.
    pub told: Told,
}

/// The day to tell; none for what is due already, does not apply, or has none.
#[must_use]
pub fn due_day(forecast: &DueForecast) -> Option<DueDay> {
    match forecast.no_date_because {
        None => {
            let (earliest, latest) = (forecast.earliest, forecast.latest);
            forecast.middle.map(|on| DueDay { on, earliest, latest, told: Told::Likely })
        }
        Some(NoDate::TooFewWeeks | NoDate::TooFar) => forecast.by_calendar.map(|on| DueDay {
            on,
            earliest: None,
            latest: Some(on),
            told: Told::AtTheLatest,
        }),
        Some(NoDate::DueNow | NoDate::NotNow | NoDate::EndOfDay) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn forecast(no_date_because: Option<NoDate>, by_calendar: Option<Date>) -> DueForecast {
        let middle = Some(date(2026, 3, 9)).filter(|_| no_date_because.is_none());
        DueForecast {
            earliest: middle.map(|_| date(2026, 3, 5)),
            middle,
            latest: middle.map(|_| date(2026, 3, 20)),
            by_calendar,
            today: Some(date(2026, 3, 2)),
            no_date_because,
            whole_weeks: 2,
            least_whole_weeks: 4,
            prior_weeks: 0,
            range: 0.83,
            draws: 0,
            seed: 0,
        }
    }

    #[test]
    fn a_short_history_has_the_day_of_its_limit_in_days_and_no_other() {
        let limit = date(2027, 3, 2);
        let told = due_day(&forecast(Some(NoDate::TooFewWeeks), Some(limit)));
        let expected = DueDay { on: limit, earliest: None, latest: Some(limit), told: Told::AtTheLatest };
        assert_eq!(told, Some(expected));
        assert_eq!(due_day(&forecast(Some(NoDate::TooFewWeeks), None)), None);
        assert_eq!(due_day(&forecast(Some(NoDate::DueNow), Some(limit))), None);
        assert_eq!(due_day(&forecast(Some(NoDate::NotNow), Some(limit))), None);
    }

    #[test]
    fn a_forecast_is_told_with_its_range() {
        let told = due_day(&forecast(None, Some(date(2027, 3, 2)))).map(|told| (told.on, told.told));
        assert_eq!(told, Some((date(2026, 3, 9), Told::Likely)));
    }
}

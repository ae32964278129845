//! Reports that stay in memory until something is written. A page is written anew each time; what stands in it need not be
//! worked out anew.

use std::any::Any;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

use jiff::civil::Date;

use super::error::Refused;
use crate::store::StoreState;
use shared_types::UtcMillis;

/// What depends on the clock may be so old within a day. Milliseconds; five minutes.
const STAYS_MS: i64 = 5 * 60_000;
/// So many are held; more than a studio has pages.
const MOST: usize = 500;

/// Reports by what they are called.
#[derive(Default)]
pub struct Held {
    reports: RefCell<BTreeMap<String, Report>>,
    /// How the database stood when they were made, and on which local day that was.
    stands: RefCell<Option<Stands>>,
}

/// How the database stands, and the local day.
pub type Stands = (StoreState, Option<Date>);

struct Report {
    made_at: UtcMillis,
    report: Rc<dyn Any>,
}

impl Held {
    /// The report of that name; made where it is not held, something was written, another day has begun, or it is too old.
    ///
    /// # Errors
    /// As `make`; nothing is held then.
    pub fn get<T: 'static>(
        &self,
        what: String,
        stands: Stands,
        now: UtcMillis,
        make: impl FnOnce() -> Result<T, Refused>,
    ) -> Result<Rc<T>, Refused> {
        if self.stands.borrow().as_ref() != Some(&stands) {
            self.reports.borrow_mut().clear();
            self.stands.replace(Some(stands));
        }
        let held = self
            .reports
            .borrow()
            .get(&what)
            .filter(|held| is_fresh(held.made_at, now))
            .map(|held| Rc::clone(&held.report));
        if let Some(report) = held.and_then(|report| report.downcast().ok()) {
            return Ok(report);
        }
        let report = Rc::new(make()?);
        let mut reports = self.reports.borrow_mut();
        if reports.len() >= MOST {
            reports.clear();
        }
        reports.insert(what, Report { made_at: now, report: Rc::clone(&report) as Rc<dyn Any> });
        Ok(report)
    }
}

/// Whether what was made then still tells the time well enough. A clock that was set back makes nothing fresh.
pub fn is_fresh(made_at: UtcMillis, now: UtcMillis) -> bool {
    (0..STAYS_MS).contains(&now.0.saturating_sub(made_at.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::ports::Store as _;
    use crate::store::Database;
    use host_core::entries::{EntryBody, EntryId};

    #[test]
    fn a_report_is_made_anew_when_something_was_written_another_day_began_or_it_is_old() {
        let dir = tempfile::tempdir().unwrap();
        let mut store = Database::open(&dir.path().join("studio.db")).unwrap();
        let (held, made) = (Held::default(), std::cell::Cell::new(0));
        let day = |day: i8| Some(Date::constant(2026, 5, day));
        let look = |store: &Database, day, now| {
            let make = || {
                made.set(made.get() + 1);
                Ok(made.get())
            };
            *held.get("today".to_owned(), (store.state().unwrap(), day), UtcMillis(now), make).unwrap()
        };
        assert_eq!((look(&store, day(1), 0), look(&store, day(1), STAYS_MS - 1)), (1, 1));
        assert_eq!(look(&store, day(1), STAYS_MS), 2);
        assert_eq!(look(&store, day(1), STAYS_MS - 1), 3, "the clock was set back");
        assert_eq!(look(&store, day(2), STAYS_MS - 1), 4);
        let body = EntryBody::Withdrawn { entry: EntryId(1), reason: String::new() };
        store.add_entry(UtcMillis(0), &body).unwrap();
        assert_eq!(look(&store, day(2), STAYS_MS - 1), 5);
        Database::open(store.path()).unwrap().add_entry(UtcMillis(0), &body).unwrap();
        assert_eq!((look(&store, day(2), STAYS_MS - 1), look(&store, day(2), STAYS_MS - 1)), (6, 6));
    }
}

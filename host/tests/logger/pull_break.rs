//! A cable pulled at any moment of a pull.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::scripted::{CLOCK, Scripted};
use host::app::logger::pull::{PullWish, pull};
use host::app::logger::pull_report::PullError;
use host::app::ports::{self, Logger, LoggerError, Store};
use host::logger_link::simulated::{Loss, simulated};
use host::store::Database;
use shared_types::link::Live;
use shared_types::link::LoggerStatus;
use shared_types::log::Settings;
use shared_types::{LogId, MachineTag, RecordSeq};

/// A link that breaks for good after a number of requests.
struct Breaking<L> {
    logger: L,
    left: u32,
}

impl<L: Logger> Breaking<L> {
    fn count(&mut self) -> Result<(), LoggerError> {
        let lost = || LoggerError::Lost {
            place: "a cable".to_owned(),
            source: std::io::ErrorKind::BrokenPipe.into(),
        };
        self.left = self.left.checked_sub(1).ok_or_else(lost)?;
        Ok(())
    }
}

impl<L: Logger> Logger for Breaking<L> {
    fn status(&mut self) -> Result<LoggerStatus, LoggerError> {
        self.count()?;
        self.logger.status()
    }

    fn read_from(&mut self, log: LogId, from: RecordSeq) -> Result<ports::Batch, LoggerError> {
        self.count()?;
        self.logger.read_from(log, from)
    }

    fn acknowledge(&mut self, log: LogId, below: RecordSeq) -> Result<(), LoggerError> {
        self.count()?;
        self.logger.acknowledge(log, below)
    }

    fn set_clock(&mut self, utc: shared_types::UtcMillis) -> Result<(), LoggerError> {
        self.count()?;
        self.logger.set_clock(utc)
    }

    fn apply(&mut self, settings: Settings) -> Result<(), LoggerError> {
        self.count()?;
        self.logger.apply(settings)
    }

    fn fit(&mut self, machine: MachineTag) -> Result<(), LoggerError> {
        self.count()?;
        self.logger.fit(machine)
    }

    fn live(&mut self) -> Result<Live, LoggerError> {
        self.count()?;
        self.logger.live()
    }

    fn place(&self) -> String {
        self.logger.place()
    }
}

#[test]
fn a_cable_pulled_after_any_request_keeps_what_came_and_the_next_pull_goes_on() {
    for requests in 0..16 {
        let dir = tempfile::tempdir().unwrap();
        let mut script = Scripted { batch: 20, ..Scripted::with_segments(200) };
        let mut store = Database::open(&dir.path().join("studio.db")).unwrap();
        let link = simulated("a cable", |bytes: &[u8]| script.answer(bytes), Loss::default());
        let mut breaking = Breaking { logger: link, left: requests };
        let outcome = pull(&mut breaking, &mut store, &CLOCK, &PullWish::default(), &mut |_| {});
        // One greeting, then twenty records with each request.
        let expected = 200.min(20 * u64::from(requests.saturating_sub(1)));
        match outcome {
            Err(PullError::Logger(LoggerError::Lost { .. })) => assert_eq!(requests, 0),
            Err(PullError::BrokeOff { report, .. }) => {
                assert_eq!(report.new_records, expected, "after {requests} requests");
                assert!(!report.clock_set && report.acknowledged_below.is_none());
            }
            Ok(report) => assert_eq!((report.new_records, requests > 10), (200, true)),
            Err(other) => panic!("{other}"),
        }
        let mut link = breaking.logger;
        let held = run_kept(&store);
        let rest = pull(&mut link, &mut store, &CLOCK, &PullWish::default(), &mut |_| {}).unwrap();
        assert_eq!(held + rest.new_run_time_ms, 219_900, "200 runs of 1000 ms and 0 + ... + 199 ms more");
        assert_eq!(run_kept(&store), 219_900);
        assert_eq!((rest.conflicting_records, rest.known_records), (0, 0));
    }
}

fn run_kept(store: &Database) -> u64 {
    store.logs().unwrap().iter().flat_map(|log| &log.segments).map(|segment| segment.run.0).sum()
}

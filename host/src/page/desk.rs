//! The one thread that holds the open database. Work comes to it as closures, one after the other; answers go back over a
//! channel.

use std::collections::VecDeque;
use std::fmt;
use std::rc::Rc;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, TryRecvError, channel};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use tokio::sync::oneshot;

use super::error::Refused;
use super::held::{Held, Stands, is_fresh};
use crate::app::book::take_back;
use crate::app::ports::{Clock, Store as _};
use crate::store::{Database, KeptEntries, StoreState};
use host_core::cloth::HarmId;
use host_core::entries::EntryId;
use host_core::sessions::local_day;
use host_core::stats::MINUTE_MS;
use shared_types::UtcMillis;

/// So many taps are remembered, so that one that comes twice counts once.
const REMEMBERED: usize = 1_000;
/// Each try that fails means that another run has kept something meanwhile; so many in a row are no accident.
const MOST_TRIES: u32 = 50;

/// Pages that were shown within so long are kept ready. Milliseconds; ten minutes.
const KEPT_READY_MS: i64 = 10 * 60_000;
/// So many at most.
const MOST_KEPT_READY: usize = 16;
/// How often it is looked whether another run has written.
const LOOK_AGAIN: Duration = Duration::from_secs(2);

/// The clock of the page, which all its threads share.
#[derive(Clone)]
pub struct PageClock(pub Arc<dyn Clock + Send + Sync>);

impl fmt::Debug for PageClock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("PageClock")
    }
}

impl Clock for PageClock {
    fn now(&self) -> UtcMillis {
        self.0.now()
    }

    fn zone(&self) -> jiff::tz::TimeZone {
        self.0.zone()
    }
}

/// What a tap does; it returns the words that say so.
pub type Act = dyn Fn(&mut Database, &PageClock) -> Result<String, Refused>;

/// What was saved last.
#[derive(Clone, Debug)]
pub struct Saved {
    /// What it was.
    pub words: String,
    /// When.
    pub at: UtcMillis,
    /// Its entries, the first and the last; none where it cannot be taken back by a tap.
    pub entries: Option<(EntryId, EntryId)>,
}

impl Saved {
    /// Whether one tap still takes it back: for a minute.
    pub fn can_be_undone(&self, now: UtcMillis) -> bool {
        let age = now.0.saturating_sub(self.at.0);
        self.entries.is_some() && u64::try_from(age).is_ok_and(|age| age <= MINUTE_MS)
    }
}

/// What the thread holds.
pub struct Room {
    /// The database.
    pub store: Database,
    /// The clock.
    pub clock: PageClock,
    kept: KeptEntries,
    taps: VecDeque<String>,
    /// What was saved last.
    pub saved: Option<Saved>,
    held: Held,
    shown: Vec<Shown>,
    /// Told when another run has written.
    others_wrote: Box<dyn Fn()>,
    seen: Option<StoreState>,
}

/// A page that was shown.
struct Shown {
    what: String,
    again: Rc<dyn Fn(&mut Room)>,
    at: UtcMillis,
    /// How everything stood when it was made ready, and when.
    ready: Option<(Stands, UtcMillis)>,
}

impl Room {
    /// What `make` tells: from memory as long as nothing was written, by whomever, and for half a minute at most.
    ///
    /// # Errors
    /// As `make`, and when the database cannot be read.
    pub fn held<T: 'static, E>(
        &self,
        what: impl Into<String>,
        make: impl FnOnce(&Database, &PageClock) -> Result<T, E>,
    ) -> Result<Rc<T>, Refused>
    where
        Refused: From<E>,
    {
        let now = self.clock.now();
        self.held.get(what.into(), self.stands()?, now, || Ok(make(&self.store, &self.clock)?))
    }

    fn stands(&self) -> Result<Stands, Refused> {
        Ok((self.store.state()?, local_day(self.clock.now(), &self.clock.zone())))
    }

    /// Notes that a page was shown, so that it is kept ready.
    /// `again` makes it once more, and whatever it holds with it.
    pub fn was_shown(&mut self, what: String, again: impl Fn(&mut Self) + 'static) {
        let at = self.clock.now();
        self.shown.retain(|shown| shown.what != what && at.0.saturating_sub(shown.at.0) < KEPT_READY_MS);
        self.shown.truncate(MOST_KEPT_READY - 1);
        self.shown.insert(0, Shown { what, again: Rc::new(again), at, ready: None });
    }

    /// Makes one page that was shown lately and would be shown otherwise by now, the last one first; false when all are ready.
    fn make_ready(&mut self) -> bool {
        let now = self.clock.now();
        let Ok(stands) = self.stands() else { return false };
        if self.seen.replace(stands.0.clone()).is_some_and(|seen| seen != stands.0) {
            (self.others_wrote)();
        }
        let is_late = |shown: &Shown| {
            now.0.saturating_sub(shown.at.0) < KEPT_READY_MS
                && !shown.ready.as_ref().is_some_and(|(then, at)| *then == stands && is_fresh(*at, now))
        };
        let Some(shown) = self.shown.iter_mut().find(|shown| is_late(shown)) else { return false };
        shown.ready = Some((stands, now));
        let again = Rc::clone(&shown.again);
        again(self);
        true
    }

    /// Does what a tap says, once: the same number again changes nothing. Others may write meanwhile.
    ///
    /// # Errors
    /// When it is refused; nothing is kept then, and the same number may come again.
    pub fn tap(&mut self, number: &str, can_be_undone: bool, act: &Act) -> Result<(), Refused> {
        if self.taps.iter().any(|tap| tap == number) {
            return Ok(());
        }
        let mut tries = 1;
        let words = loop {
            self.store.read_anew();
            self.kept.set(None);
            match act(&mut self.store, &self.clock) {
                Err(refused) if refused.is_worth_another_try() && tries < MOST_TRIES => tries += 1,
                outcome => break outcome?,
            }
        };
        if self.taps.len() >= REMEMBERED {
            self.taps.pop_front();
        }
        self.taps.push_back(number.to_owned());
        // Everybody is told of a tap by itself.
        self.seen = self.store.state().ok();
        let entries = self.kept.get().filter(|_| can_be_undone);
        self.saved = Some(Saved { words, at: self.clock.now(), entries });
        Ok(())
    }

    /// Takes back what was saved last.
    ///
    /// # Errors
    /// When it is longer ago than a minute, or the database does not take it.
    pub fn undo(&mut self, number: &str) -> Result<(), Refused> {
        if self.taps.iter().any(|tap| tap == number) {
            return Ok(());
        }
        let now = self.clock.now();
        let last = self.saved.clone().filter(|saved| saved.can_be_undone(now));
        let Some((saved, (first, last))) = last.and_then(|saved| Some((saved.clone(), saved.entries?)))
        else {
            return Err(Refused::new(
                "the minute is over, or it was taken back before",
                "Every entry can still be taken back from the history of care, the list of tears, or a rug's page.",
            ));
        };
        self.tap(number, false, &move |store, clock| {
            let in_force = store.entries()?;
            let numbers = (first.0..=last.0).map(EntryId).filter(|entry| in_force.get(*entry).is_some());
            let numbers: Vec<HarmId> = numbers.map(HarmId::Entry).collect();
            take_back::take_back(store, clock, &numbers, "undone at once")?;
            Ok(format!("taken back: {}", saved.words))
        })
    }
}

type Job = Box<dyn FnOnce(&mut Room) + Send>;

/// The way to the thread.
#[derive(Clone)]
pub struct Desk {
    jobs: Sender<Job>,
}

impl Desk {
    /// Opens the database in a thread of its own; `others_wrote` is called when it was written to, by another run too.
    ///
    /// # Errors
    /// When it cannot be opened.
    pub fn start<E: Send + 'static>(
        open: impl FnOnce() -> Result<Database, E> + Send + 'static,
        clock: PageClock,
        others_wrote: impl Fn() + Send + 'static,
    ) -> Result<(Self, JoinHandle<()>), Option<E>> {
        let (jobs, waiting) = channel::<Job>();
        let (told, outcome) = channel();
        let thread = thread::Builder::new().name("database".to_owned()).spawn(move || match open() {
            Ok(store) => {
                let others_wrote = Box::new(others_wrote);
                let kept = store.kept_entries();
                // Whoever asked may be gone; then nothing comes any more either.
                told.send(Ok(())).unwrap_or_default();
                let (taps, held) = (VecDeque::new(), Held::default());
                work(
                    &waiting,
                    Room {
                        store,
                        clock,
                        kept,
                        taps,
                        saved: None,
                        held,
                        shown: Vec::new(),
                        others_wrote,
                        seen: None,
                    },
                );
            }
            Err(error) => told.send(Err(error)).unwrap_or_default(),
        });
        let thread = thread.map_err(|_| None)?;
        match outcome.recv() {
            Ok(Ok(())) => Ok((Self { jobs }, thread)),
            Ok(Err(error)) => Err(Some(error)),
            Err(_) => Err(None),
        }
    }

    fn hand_in<T: Send + 'static>(
        &self,
        job: impl FnOnce(&mut Room) -> T + Send + 'static,
    ) -> oneshot::Receiver<T> {
        let (answer, answered) = oneshot::channel();
        let job: Job = Box::new(move |room| {
            room.store.read_anew();
            // Whoever asked may be gone; the work was done all the same.
            answer.send(job(room)).unwrap_or_else(drop);
        });
        // When the thread has ended, the answer's other end is dropped with the job, and that is told.
        self.jobs.send(job).unwrap_or_else(drop);
        answered
    }

    /// Has something done, and waits for the answer.
    ///
    /// # Errors
    /// When the thread has ended.
    pub async fn ask<T: Send + 'static>(
        &self,
        job: impl FnOnce(&mut Room) -> T + Send + 'static,
    ) -> Result<T, Refused> {
        self.hand_in(job).await.map_err(|_| ended())
    }

    /// The same outside of the server's own thread.
    ///
    /// # Errors
    /// As [`Self::ask`].
    pub fn ask_and_wait<T: Send + 'static>(
        &self,
        job: impl FnOnce(&mut Room) -> T + Send + 'static,
    ) -> Result<T, Refused> {
        self.hand_in(job).blocking_recv().map_err(|_| ended())
    }
}

fn work(jobs: &Receiver<Job>, mut room: Room) {
    loop {
        // What somebody waits for goes first.
        match jobs.try_recv() {
            Ok(job) => job(&mut room),
            Err(TryRecvError::Disconnected) => break,
            Err(TryRecvError::Empty) if room.make_ready() => {}
            Err(TryRecvError::Empty) => match jobs.recv_timeout(LOOK_AGAIN) {
                Ok(job) => job(&mut room),
                Err(RecvTimeoutError::Disconnected) => break,
                Err(RecvTimeoutError::Timeout) => {}
            },
        }
    }
}

fn ended() -> Refused {
    Refused::new("the database is closed", "Start `needlehours page` again.")
}

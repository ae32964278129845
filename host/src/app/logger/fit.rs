//! On which machine a logger sits: what the maker's entries say, what the logger itself was last told, and what to do
//! when the two differ. Run time is never given to a machine silently.
//!
//! A fitting to machine number zero means: on no machine that is known here; what was recorded from there on waits for
//! the maker's word.

use shared_types::{LoggerId, MachineTag, RecordSeq, RunMillis, UtcMillis};

use crate::app::ports::logger_name::logger_name;
use crate::app::whole_book::Book;
use host_core::entries::{Drive, EntryBody, Fitting, InForce, MachineAdded, Pile};
use host_core::records::log_records::{LogKey, LogRecords, LoggedEvent};

/// No machine.
pub const NOWHERE: MachineTag = MachineTag(0);

/// What the entries say of machines and fittings, withdrawn ones left out.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Known {
    /// The machines.
    pub machines: Vec<MachineAdded>,
    /// The fittings in the order in which they were entered.
    pub fittings: Vec<Fitting>,
}

/// Picks machines and fittings out of the entries that count.
#[must_use]
pub fn known(entries: &InForce<'_>) -> Known {
    let mut known = Known::default();
    for entry in entries.iter() {
        match &entry.body {
            EntryBody::MachineAdded(machine) => known.machines.push(machine.clone()),
            EntryBody::LoggerFitted(fitting) => known.fittings.push(*fitting),
            _ => {}
        }
    }
    known
}

impl Known {
    /// Whether a machine of this number was added.
    #[must_use]
    pub fn has(&self, machine: MachineTag) -> bool {
        self.machines.iter().any(|known| known.machine == machine)
    }

    /// The fitting in force at the end of a log: the one that begins last, of equal ones the one entered last.
    #[must_use]
    pub fn of_log(&self, key: LogKey) -> Option<Fitting> {
        self.fittings
            .iter()
            .filter(|fitting| fitting.logger == key.logger && fitting.log == key.log)
            .max_by_key(|fitting| fitting.from)
            .copied()
    }

    /// The machine on which this logger was last said to sit, whatever its log.
    #[must_use]
    pub fn of_logger(&self, logger: LoggerId) -> Option<MachineTag> {
        self.fittings.iter().rev().find(|fitting| fitting.logger == logger).map(|fitting| fitting.machine)
    }
}

/// What to do about the fitting before records are read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Decision {
    /// It sits where it sat.
    Stays(MachineTag),
    /// It sits on this machine from this record on; the machine is added first where it is given.
    Fit {
        /// The machine to add.
        add: Option<MachineAdded>,
        /// The fitting to enter.
        fitting: Fitting,
    },
    /// The logger was told of another machine than the entries say; look where that began once the records are there.
    Moved {
        /// The machine in the entries.
        known: MachineTag,
        /// The machine in the logger.
        told: MachineTag,
    },
    /// It was seen before that the logger moved, and nobody said yet where it sits.
    Waiting {
        /// The machine in the logger.
        told: MachineTag,
    },
    /// The maker must say which machine it is.
    Ask,
    /// The maker named a machine that was never added.
    Unknown(MachineTag),
}

/// Everything that the decision looks at.
#[derive(Clone, Copy, Debug)]
pub struct Question {
    /// Which log.
    pub key: LogKey,
    /// The machine that the logger itself was last told; zero for none.
    pub told: MachineTag,
    /// The machine that the maker named for this pull.
    pub wish: Option<MachineTag>,
    /// The first record that was not pulled before.
    pub first_missing: RecordSeq,
    /// Now.
    pub now: UtcMillis,
}

/// Decides.
#[must_use]
pub fn decide(known: &Known, question: Question) -> Decision {
    let Question { key, told, wish, first_missing, now } = question;
    let fit = |machine, from, add| Decision::Fit {
        add,
        fitting: Fitting { machine, logger: key.logger, log: key.log, from },
    };
    let current = known.of_log(key);
    let added = |machine| (!known.has(machine)).then(|| new_machine(machine, now));
    if let Some(wish) = wish {
        // In an empty studio the maker may also name the first machine.
        if !known.has(wish) && (wish == NOWHERE || !known.machines.is_empty()) {
            return Decision::Unknown(wish);
        }
        return match current {
            Some(current) if current.machine == wish => Decision::Stays(wish),
            // The answer to an earlier "where does it sit?" holds from where the question arose.
            Some(current) if current.machine == NOWHERE => fit(wish, current.from, added(wish)),
            Some(_) => fit(wish, first_missing, added(wish)),
            None => fit(wish, RecordSeq(0), added(wish)),
        };
    }
    if let Some(current) = current {
        return match current.machine {
            NOWHERE => Decision::Waiting { told },
            machine if told == NOWHERE || told == machine => Decision::Stays(machine),
            machine => Decision::Moved { known: machine, told },
        };
    }
    if let Some(before) = known.of_logger(key.logger).filter(|&machine| machine != NOWHERE) {
        // A log formatted anew; the logger itself stays where it was.
        return if told == NOWHERE || told == before {
            fit(before, RecordSeq(0), None)
        } else {
            Decision::Ask
        };
    }
    match known.machines.as_slice() {
        [] => {
            let machine = if told == NOWHERE { MachineTag(1) } else { told };
            fit(machine, RecordSeq(0), added(machine))
        }
        [only] if told == NOWHERE || told == only.machine => fit(only.machine, RecordSeq(0), None),
        _ => Decision::Ask,
    }
}

fn new_machine(machine: MachineTag, since: UtcMillis) -> MachineAdded {
    MachineAdded {
        machine,
        name: MachineAdded::unsaid_name(machine),
        pile: Pile::CutAndLoop,
        before_logger: None::<RunMillis>,
        since,
        drive: Drive::Electric,
        has_logger: None,
        is_second_hand: None,
    }
}

/// The record with which a logger says that it was told of `told`, after the fitting that is known.
#[must_use]
pub fn moved_at(facts: &LogRecords, current: Fitting, told: MachineTag) -> Option<RecordSeq> {
    facts
        .events
        .iter()
        .rev()
        .take_while(|event| event.seq >= current.from)
        .find(|event| event.what == LoggedEvent::Fitted(told))
        .map(|event| event.seq)
}

/// The names of the loggers that sit on a machine now, or on none; each once, in the order in which they were first heard.
#[must_use]
pub fn loggers_on(book: &Book, machine: Option<MachineTag>) -> Vec<String> {
    let mut loggers: Vec<String> = Vec::new();
    for log in book.logs.iter().filter(|log| book.studio.fittings.machine_now(log.key) == machine) {
        let name = logger_name(log.key.logger);
        if !loggers.contains(&name) {
            loggers.push(name);
        }
    }
    loggers
}

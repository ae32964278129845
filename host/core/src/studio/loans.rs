//! What was said of machines lent out and back.

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use crate::entries::{EntryBody, EntryId, InForce, MachineLent, MachineReturned, MeterReading, PersonTag};

/// One time that a machine was lent.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Loan {
    /// The entry.
    pub entry: EntryId,
    /// The machine.
    pub machine: MachineTag,
    /// The borrower.
    pub to: PersonTag,
    /// When it left, in milliseconds UTC.
    pub out_utc_ms: UtcMillis,
    /// When it came back, in milliseconds UTC; none: it is still away.
    pub back_utc_ms: Option<UtcMillis>,
    /// The condition in which it left.
    pub condition_out: Option<String>,
    /// The condition in which it came back.
    pub condition_back: Option<String>,
    /// Its reading when it left, as it was entered.
    pub reading_out: MeterReading,
    /// Its reading when it came back, as it was entered.
    pub reading_back: Option<MeterReading>,
    /// What the records that are held now tell of when it left.
    pub counted_out: MeterReading,
    /// What the records that are held now tell of when it came back.
    pub counted_back: Option<MeterReading>,
    /// Recorded run time that was certainly while it was lent, in milliseconds.
    pub run_time_ms: u64,
    /// Recorded run time that may have been while it was lent, in milliseconds; not in the one above.
    pub perhaps_run_time_ms: u64,
    /// Run time written by hand for days in between, in milliseconds.
    pub by_hand_run_time_ms: u64,
}

impl Loan {
    fn of(entry: EntryId, lent: &MachineLent) -> Self {
        Self {
            entry,
            machine: lent.machine,
            to: lent.to,
            out_utc_ms: lent.at,
            back_utc_ms: None,
            condition_out: lent.condition.clone(),
            condition_back: None,
            reading_out: lent.reading,
            reading_back: None,
            counted_out: MeterReading::default(),
            counted_back: None,
            run_time_ms: 0,
            perhaps_run_time_ms: 0,
            by_hand_run_time_ms: 0,
        }
    }

    fn close(&mut self, returned: &MachineReturned) {
        self.back_utc_ms = Some(returned.at);
        self.condition_back.clone_from(&returned.condition);
        self.reading_back = Some(returned.reading);
    }

    /// Whether it is still away.
    #[must_use]
    pub const fn is_away(&self) -> bool {
        self.back_utc_ms.is_none()
    }

    /// Whether a moment is from when it left, included, until it came back, excluded.
    #[must_use]
    pub fn covers(&self, at: UtcMillis) -> bool {
        self.out_utc_ms <= at && self.back_utc_ms.is_none_or(|back| at < back)
    }

    /// Whether a span of moments may have been while it was lent.
    #[must_use]
    pub(crate) fn may_touch(&self, earliest: UtcMillis, latest: UtcMillis) -> bool {
        latest >= self.out_utc_ms && self.back_utc_ms.is_none_or(|back| earliest < back)
    }
}

/// The times that machines were lent, in the order of entry, without what ran meanwhile.
#[must_use]
pub fn loans(entries: &InForce<'_>) -> Vec<Loan> {
    let mut loans: Vec<Loan> = Vec::new();
    for entry in entries.iter() {
        match &entry.body {
            EntryBody::MachineLent(lent) => loans.push(Loan::of(entry.id, lent)),
            EntryBody::MachineReturned(returned) => {
                let open =
                    loans.iter_mut().rev().find(|loan| loan.machine == returned.machine && loan.is_away());
                if let Some(loan) = open {
                    loan.close(returned);
                }
            }
            _ => {}
        }
    }
    loans
}

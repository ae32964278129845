//! What the maker writes down at the computer, in the order in which it happened.

use shared_types::{RawAngle, UtcMillis};

use super::scenario::{Commission, PILE_HEIGHT_TENTHS_MM};
use host_core::entries::amount::Money;
use host_core::entries::{
    CareDone, CareTaskName, CostBasis, Drive, EntryBody, Finding, Hours, JobAdded, JobKind, KnobMarks,
    MachineAdded, MachineCosts, MaterialUsed, MoneyTerms, PartFitted, PartName, Pile, RugDescribed, RugName,
    RugOrdered, RugWork, Style, TearCosts, WorkChange,
};
use host_core::stats::MINUTE_MS;
use shared_types::MachineTag;

/// Entries that wait for the maker to sit down at the computer.
#[derive(Debug, Default)]
pub struct Notebook {
    waiting: Vec<(UtcMillis, EntryBody)>,
}

impl Notebook {
    /// The machine and its knob, as the maker enters them on the first day.
    pub fn machine(&mut self, (slow, fast): (RawAngle, RawAngle), at: UtcMillis) {
        let added = MachineAdded {
            machine: MACHINE,
            name: "Blue handle".to_owned(),
            pile: Pile::Cut,
            before_logger: None,
            since: at,
            drive: Drive::Electric,
            has_logger: None,
            is_second_hand: None,
        };
        self.write(at, EntryBody::MachineAdded(added));
        self.write(at, EntryBody::KnobMarked(KnobMarks { machine: MACHINE, slow, fast, rising: true }));
        let (part, serial) = (PartName::of("needle"), Some("A1".to_owned()));
        let needle =
            PartFitted { machine: MACHINE, part, serial, at, note: None, from_stock: None, off_entry: None };
        self.write(at, EntryBody::PartFitted(needle));
    }

    /// A commission is taken.
    pub fn order(&mut self, commission: &Commission, at: UtcMillis) {
        let ordered = RugOrdered {
            rug: RugName(commission.name.to_owned()),
            width_mm: Some(commission.width_mm),
            height_mm: Some(commission.height_mm),
            cloth_lot: Some(commission.cloth_lot.to_owned()),
            at,
        };
        self.write(at, EntryBody::RugOrdered(ordered));
        let described = RugDescribed {
            rug: RugName(commission.name.to_owned()),
            style: Some(Style::Cut),
            pile_height_tenths_mm: Some(PILE_HEIGHT_TENTHS_MM),
            colours: commission.colours.iter().map(|colour| (*colour).to_owned()).collect(),
        };
        self.write(at, EntryBody::RugDescribed(described));
    }

    /// What the maker's time, the machine and a tear cost in this studio. Invented, like all of it.
    pub fn prices(&mut self, at: UtcMillis) {
        let terms = MoneyTerms { wage_per_hour: Some(units(20)), currency: Some("EUR".to_owned()) };
        self.write(at, EntryBody::MoneyTerms(terms));
        let costs = TearCosts { tear: Some(units(35)), hour: Some(units(20)) };
        self.write(at, EntryBody::TearCosts(costs));
        let Some(life_hours) = Hours::new(600.0) else { return };
        let basis = CostBasis {
            price: units(260),
            resale: units(60),
            life_hours,
            period_hours: None,
            period_costs: Vec::new(),
            hour_costs: vec![units(1)],
        };
        self.write(at, EntryBody::MachineCosts(MachineCosts { machine: MACHINE, basis }));
    }

    /// The work around the frame before the first stroke.
    pub fn prepared(&mut self, commission: &Commission, at: UtcMillis) {
        self.job(commission, JobKind::Stretching, 40, at);
        self.job(commission, JobKind::Tracing, 55, at);
    }

    /// The work after the last stroke, and what it takes.
    pub fn made_up(&mut self, commission: &Commission, at: UtcMillis) {
        self.job(commission, JobKind::Gluing, 45, at);
        self.job(commission, JobKind::Drying, 24 * 60, at);
        self.job(commission, JobKind::Shearing, 100, at);
        self.job(commission, JobKind::Backing, 75, at);
        let used = MaterialUsed {
            rug: RugName(commission.name.to_owned()),
            what: "glue, backing and edge".to_owned(),
            amount: units(14),
            at,
        };
        self.write(at, EntryBody::MaterialUsed(used));
    }

    fn job(&mut self, commission: &Commission, job: JobKind, minutes: u64, at: UtcMillis) {
        let rug = Some(RugName(commission.name.to_owned()));
        let added = JobAdded { job, rug, lasted_ms: minutes * MINUTE_MS, at, note: None };
        self.write(at, EntryBody::JobAdded(added));
    }

    /// Work on a commission begins or ends.
    pub fn work(&mut self, commission: &Commission, change: WorkChange, at: UtcMillis) {
        let rug = RugName(commission.name.to_owned());
        self.write(at, EntryBody::RugWork(RugWork { rug, machine: Some(MACHINE), change, at }));
    }

    /// Care was given.
    pub fn care(&mut self, task: &str, finding: Option<Finding>, at: UtcMillis) {
        let task = CareTaskName(task.to_owned());
        self.write(at, EntryBody::CareDone(CareDone { machine: MACHINE, task, at, finding, note: None }));
    }

    fn write(&mut self, at: UtcMillis, body: EntryBody) {
        self.waiting.push((at, body));
    }

    /// Everything written since the last time, oldest first.
    pub fn take(&mut self) -> Vec<(UtcMillis, EntryBody)> {
        std::mem::take(&mut self.waiting)
    }
}

/// Whole units of the currency.
const fn units(units: u64) -> Money {
    Money(units * 1_000_000)
}

/// The one machine of the studio.
pub const MACHINE: MachineTag = MachineTag(1);

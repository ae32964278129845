//! Everything about one commission on one sheet for its maker, and the little of it that is for whoever ordered it.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::commission::{ColourYarn, Commissions, Told};
use super::job_time::{self, Clocks};
use super::own_rugs;
use super::price;
use super::quoted::QuotedAgainstActual;
use super::rug_work::RugTaken;
use super::stages::{self, StageUse};
use super::yarn::YarnReport;
use crate::entries::{InForce, MaterialUsed, Style, amount};
use crate::hours::report::HoursReport;
use crate::money::{self, Bill, BillItem, BillLack, BillLine};
use crate::sessions::holder::Holder;
use crate::sessions::ledger::Ledger;
use crate::sessions::typed;
use crate::stats;
use crate::studio::worked::Worked;
use crate::studio::{Rug, RugIndex, RugState, Studio};

/// What was ordered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ordered {
    /// Its name.
    pub rug: String,
    /// How it stands.
    pub state: RugState,
    /// When it was ordered, in milliseconds UTC.
    pub ordered_utc_ms: i64,
    /// Width in millimetres.
    pub width_mm: Option<u32>,
    /// Height in millimetres.
    pub height_mm: Option<u32>,
    /// Area in square metres.
    pub area_m2: Option<f64>,
    /// Cut, looped or both; by what was said, else by the machines that ran for it.
    pub style: Option<Style>,
    /// Height of the pile in tenths of a millimetre.
    pub pile_height_tenths_mm: Option<u32>,
    /// The colours of the design.
    pub colours: Vec<String>,
    /// The piece or roll of cloth.
    pub cloth_lot: Option<String>,
}

/// Running on one machine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct MachineLine {
    /// Its number.
    pub machine: Option<u32>,
    /// Its name.
    pub name: Option<String>,
    /// Counted by the calendar alone, in milliseconds.
    pub assumed_run_time_ms: u64,
    /// Counted because the maker said so, in milliseconds.
    pub confirmed_run_time_ms: u64,
    /// Whole strokes of both.
    pub strokes: u64,
}

/// Tears and near-misses, never added to each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct HarmCounts {
    /// The cloth tore.
    pub tears: u64,
    /// Pulled threads, snags, opened weave.
    pub near_misses: u64,
}

/// A commission's sheet for its maker.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JobSheet {
    /// What was ordered.
    #[serde(flatten)]
    pub ordered: Ordered,
    /// Running, tufting and the job, apart.
    pub clocks: Clocks,
    /// Each machine that ran for it.
    pub machines: Vec<MachineLine>,
    /// Whole strokes of all machines.
    pub strokes: u64,
    /// Sessions in which something was done for it.
    pub sessions: u64,
    /// The local day of its first dated session.
    #[serde(serialize_with = "crate::entries::day_as_text")]
    pub first_day: Option<Date>,
    /// The local day of its last dated session.
    #[serde(serialize_with = "crate::entries::day_as_text")]
    pub last_day: Option<Date>,
    /// Its stages, where they were said.
    pub stages: Vec<StageUse>,
    /// Its yarn.
    pub yarn: YarnReport,
    /// Tears and near-misses on it.
    pub harms: HarmCounts,
    /// What it costs its maker.
    pub bill: Bill,
    /// Its price as it was worked out, against that; none where no price was kept for it.
    pub quoted: Option<QuotedAgainstActual>,
}

/// The card for whoever ordered it. It has no hours: a few machine hours look cheap beside the work around them.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ClientCard {
    /// What was ordered.
    #[serde(flatten)]
    pub ordered: Ordered,
    /// Whole strokes.
    pub strokes: u64,
    /// Sessions in which it was made.
    pub sessions: u64,
    /// The local day of its first dated session.
    #[serde(serialize_with = "crate::entries::day_as_text")]
    pub first_day: Option<Date>,
    /// The local day of its last dated session.
    #[serde(serialize_with = "crate::entries::day_as_text")]
    pub last_day: Option<Date>,
    /// How to care for it.
    pub care_of_the_rug: [&'static str; 6],
}

/// How a tufted rug is kept; common practice, no source.
pub const CARE_OF_THE_RUG: [&str; 6] = [
    "New rugs shed fibre for some weeks; that stops by itself.",
    "Vacuum with suction only, without a turning brush, along the pile.",
    "A tuft that stands out is cut level with scissors, never pulled.",
    "Lift spills off at once with a dry white cloth, from the edge inwards; then dab with a little cool water. Do not soak it: the back is glued.",
    "Not into the washing machine and not wet on its back; large stains are for a rug cleaner, who must know that it is glued.",
    "Turn it now and then, keep it out of strong sun, lay it on an underlay, and roll it with the pile outwards instead of folding it.",
];

/// Inputs of a commission's sheet.
#[derive(Clone, Copy, Debug)]
pub struct Desk<'all> {
    /// All entries.
    pub entries: &'all InForce<'all>,
    /// What they say together.
    pub studio: &'all Studio,
    /// What was told about commissions.
    pub commissions: &'all Commissions,
    /// All running.
    pub ledger: &'all Ledger<'all>,
    /// Machine hours.
    pub hours: &'all HoursReport,
    /// Tears and near-misses on the commission.
    pub harms: HarmCounts,
    /// Now.
    pub now: UtcMillis,
}

impl JobSheet {
    /// The sheet of a commission.
    #[must_use]
    pub fn of(desk: Desk<'_>, place: RugIndex, rug: &Rug, taken: &RugTaken, yarn: YarnReport) -> Self {
        let machines = machine_lines(desk.hours, &rug.order.rug.0);
        let hand: Vec<&Worked> = by_hand(desk.studio, place);
        let clocks = clocks(desk, rug, &machines, &hand, taken);
        let of_rug = || {
            desk.hours.all().flat_map(|machine| &machine.rugs).filter(|hours| hours.rug == rug.order.rug.0)
        };
        let bill = bill(desk, rug, &clocks, &machines, &hand);
        let told = desk.commissions.told(&rug.order.rug);
        let priced = told.and_then(|told| told.priced.as_ref());
        Self {
            ordered: ordered(desk, rug, taken),
            strokes: sum(machines.iter().map(|line| line.strokes)),
            sessions: sum(of_rug().map(|hours| hours.total.sessions)),
            first_day: of_rug().filter_map(|hours| hours.first_day).min(),
            last_day: of_rug().filter_map(|hours| hours.last_day).max(),
            stages: stages::stages(desk.studio, desk.ledger, place, told),
            yarn,
            harms: desk.harms,
            quoted: priced.map(|priced| QuotedAgainstActual::of(priced, &clocks, &bill)),
            bill,
            clocks,
            machines,
        }
    }

    /// What of it is for whoever ordered it.
    #[must_use]
    pub fn card(&self) -> ClientCard {
        ClientCard {
            ordered: self.ordered.clone(),
            strokes: self.strokes,
            sessions: self.sessions,
            first_day: self.first_day,
            last_day: self.last_day,
            care_of_the_rug: CARE_OF_THE_RUG,
        }
    }
}

/// What each commission costs its maker, without the rest of its sheet, in the order in which they were taken.
#[must_use]
pub fn bills(desk: Desk<'_>, taken: &BTreeMap<RugIndex, RugTaken>) -> Vec<Bill> {
    let mut by_hand: BTreeMap<RugIndex, Vec<&Worked>> = BTreeMap::new();
    for session in &desk.studio.worked {
        if let Holder::Rug(rug) = typed::attribution(desk.studio, session).holder {
            by_hand.entry(rug).or_default().push(session);
        }
    }
    let nothing = RugTaken::default();
    let of_rug = |(place, rug): (RugIndex, &Rug)| {
        let machines = machine_lines(desk.hours, &rug.order.rug.0);
        let hand = by_hand.get(&place).map(Vec::as_slice).unwrap_or_default();
        let clocks = clocks(desk, rug, &machines, hand, taken.get(&place).unwrap_or(&nothing));
        bill(desk, rug, &clocks, &machines, hand)
    };
    (0..).map(RugIndex::of).zip(&desk.studio.rugs).map(of_rug).collect()
}

fn clocks(desk: Desk<'_>, rug: &Rug, machines: &[MachineLine], hand: &[&Worked], taken: &RugTaken) -> Clocks {
    job_time::with_jobs(
        Clocks {
            run_assumed_ms: sum(machines.iter().map(|line| line.assumed_run_time_ms)),
            run_confirmed_ms: sum(machines.iter().map(|line| line.confirmed_run_time_ms)),
            run_by_hand_ms: sum(hand.iter().map(|session| session.run_ms)),
            tufting_assumed_ms: taken.tufting_ms(false),
            tufting_confirmed_ms: taken.tufting_ms(true),
            run_by_hand_is_about: hand.iter().any(|session| session.is_about),
            tufting_by_hand_ms: sum(hand.iter().map(|session| session.frame_ms())),
            entered_without_frame_time: sum(hand
                .iter()
                .map(|session| u64::from(session.said.frame_ms.is_none()))),
            sessions_of_unknown_length: taken.unknown_lengths(),
            ..Clocks::default()
        },
        taken,
        desk.commissions.jobs_of(&rug.order.rug),
        desk.now,
    )
}

fn ordered(desk: Desk<'_>, rug: &Rug, taken: &RugTaken) -> Ordered {
    let described = desk.commissions.described(&rug.order.rug);
    Ordered {
        rug: rug.order.rug.0.clone(),
        state: rug.state(),
        ordered_utc_ms: rug.order.at.0,
        width_mm: rug.order.width_mm,
        height_mm: rug.order.height_mm,
        area_m2: own_rugs::area_mm2(rug).map(|area| stats::number(area) / 1e6),
        style: own_rugs::style(desk.studio, desk.commissions, rug, taken),
        pile_height_tenths_mm: described.and_then(|described| described.pile_height_tenths_mm),
        colours: described.map(|described| described.colours.clone()).unwrap_or_default(),
        cloth_lot: rug.order.cloth_lot.clone(),
    }
}

fn machine_lines(hours: &HoursReport, rug: &str) -> Vec<MachineLine> {
    let on = hours.all().flat_map(|machine| machine.rugs.iter().map(move |rug| (machine, rug)));
    on.filter(|(_, hours)| hours.rug == rug)
        .map(|(machine, hours)| MachineLine {
            machine: machine.machine,
            name: machine.name.clone(),
            assumed_run_time_ms: hours.assumed.run_time_ms,
            confirmed_run_time_ms: hours.confirmed.run_time_ms,
            strokes: hours.total.strokes,
        })
        .collect()
}

fn by_hand(studio: &Studio, place: RugIndex) -> Vec<&Worked> {
    let of_rug = |session: &&Worked| typed::attribution(studio, session).holder == Holder::Rug(place);
    studio.worked.iter().filter(of_rug).collect()
}

fn bill(desk: Desk<'_>, rug: &Rug, clocks: &Clocks, machines: &[MachineLine], hand: &[&Worked]) -> Bill {
    let rate = |machine: Option<u32>| {
        let basis = money::entered(desk.entries, MachineTag(machine?))?;
        basis.rate().ok().map(|rate| rate.machine_hour_rate)
    };
    let mut lines: Vec<BillLine> = machines
        .iter()
        .map(|line| {
            let run = line.assumed_run_time_ms.saturating_add(line.confirmed_run_time_ms);
            BillLine::hours(BillItem::MachineHours { machine: line.machine }, run, rate(line.machine))
        })
        .collect();
    let mut hand_machines: Vec<u32> = hand.iter().map(|session| session.said.machine.0).collect();
    hand_machines.sort_unstable();
    hand_machines.dedup();
    for machine in hand_machines {
        let here = hand.iter().filter(|session| session.said.machine.0 == machine);
        let run = sum(here.map(|session| session.run_ms));
        let item = BillItem::MachineHoursByHand { machine: Some(machine) };
        lines.push(BillLine::hours(item, run, rate(Some(machine))));
    }
    let wage = desk.commissions.terms.wage_per_hour.map(amount::Money::units);
    let tufting = clocks.tufting_assumed_ms.saturating_add(clocks.tufting_confirmed_ms);
    lines.push(BillLine::hours(BillItem::Tufting, tufting, wage));
    lines.push(BillLine::hours(BillItem::TuftingByHand, clocks.tufting_by_hand_ms, wage));
    let labour = clocks.jobs.iter().filter(|sum| sum.job.is_labour());
    lines.extend(labour.map(|sum| BillLine::hours(BillItem::Job { job: sum.job }, sum.lasted_ms, wage)));
    lines.push(BillLine::hours(BillItem::CountedTwice, clocks.counted_twice_ms, wage));
    let told = desk.commissions.told(&rug.order.rug);
    let bought = told.map(|told| told.materials.as_slice()).unwrap_or_default();
    lines.extend(bought.iter().map(|used| BillLine::bought(used.what.clone(), used.amount)));
    let is_bought = |words: &[&str]| {
        let is_it = |used: &MaterialUsed| {
            let what = used.what.to_lowercase();
            words.iter().any(|word| what.contains(word))
        };
        bought.iter().any(is_it)
    };
    let mut lacks = Vec::new();
    if !is_bought(&YARN_WORDS) {
        let (line, lack) = yarn_cost(desk, told);
        lines.extend(line);
        lacks.extend(lack);
    }
    lacks.extend((!is_bought(&CLOTH_WORDS)).then_some(BillLack::Cloth));
    Bill::of(desk.commissions.terms.currency.clone(), lines, lacks)
}

/// How makers call yarn and cloth among the materials.
const YARN_WORDS: [&str; 2] = ["yarn", "wool"];
const CLOTH_WORDS: [&str; 3] = ["cloth", "fabric", "canvas"];

/// Yarn that was weighed, where its price was not noted among the materials; and what is missing of it.
fn yarn_cost(desk: Desk<'_>, told: Option<&Told>) -> (Option<BillLine>, Option<BillLack>) {
    let colours = told.map(Told::yarn_by_colour).unwrap_or_default();
    let used: Vec<u64> = colours.iter().filter_map(ColourYarn::used_mg).collect();
    if colours.is_empty() {
        return (None, Some(BillLack::Yarn));
    }
    let is_all_weighed = used.len() == colours.len();
    let per_kg = price::terms(desk.entries).yarn_per_kg;
    let line = (!used.is_empty()).then(|| BillLine::yarn(sum(used.into_iter()), per_kg));
    let lack = match (is_all_weighed, per_kg) {
        (false, _) => Some(BillLack::YarnLeft),
        (true, None) => Some(BillLack::YarnPerKg),
        (true, Some(_)) => None,
    };
    (line, lack)
}

fn sum(parts: impl Iterator<Item = u64>) -> u64 {
    parts.fold(0, u64::saturating_add)
}

//! Commissions, what they cost their maker, and their tears as tables.

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::shape::{Cell, Shape, TableSink, boolean, integer, number, text};
use crate::app::keeping::error::ExportError;
use crate::app::whole_book::Book;
use host_core::cloth::{HarmRecord, harms};
use host_core::hours::report::HoursReport;
use host_core::money::{BillItem, BillLine};
use host_core::rugs::commission::Commissions;
use host_core::rugs::rug_work;
use host_core::rugs::sheet::{Desk, HarmCounts, bills};
use host_core::sessions::ledger::Ledger;
use host_core::studio::Rug;

/// Commissions.
pub const RUGS: Shape = Shape {
    name: "rugs",
    columns: &[
        text("rug"),
        text("state"),
        integer("ordered_utc_ms"),
        integer("width_mm").or_null(),
        integer("height_mm").or_null(),
        text("style").or_null(),
        integer("pile_height_tenths_mm").or_null(),
        text("cloth_lot").or_null(),
        integer("run_ms"),
        integer("run_typed_in_ms"),
    ],
    when: Some(["ordered_utc_ms", "ordered_utc_ms"]),
};

/// What commissions cost, a row for each line of their bills.
pub const COSTS: Shape = Shape {
    name: "costs",
    columns: &[
        integer("machine").or_null(),
        text("rug"),
        integer("line"),
        text("item"),
        text("job").or_null(),
        text("what").or_null(),
        integer("time_ms").or_null(),
        integer("yarn_mg").or_null(),
        number("price_per_hour").or_null(),
        integer("amount_cents").or_null(),
        text("currency").or_null(),
        integer("ordered_utc_ms"),
    ],
    when: Some(["ordered_utc_ms", "ordered_utc_ms"]),
};

/// Tears and near-misses.
pub const TEARS: Shape = Shape {
    name: "tears",
    columns: &[
        integer("machine").or_null(),
        text("tear"),
        text("harm"),
        integer("earliest_utc_ms").or_null(),
        integer("latest_utc_ms").or_null(),
        integer("knob_before_per_mille").or_null(),
        integer("rate_before_tenths_of_strokes_per_second").or_null(),
        text("rug").or_null(),
        boolean("rug_is_assumed"),
        text("cloth_lot").or_null(),
        text("stage").or_null(),
        boolean("second_pass").or_null(),
        boolean("pulled_out_before").or_null(),
        text("tension").or_null(),
        text("place").or_null(),
        text("needle").or_null(),
        text("repair").or_null(),
        text("travel").or_null(),
        integer("strands").or_null(),
        text("note").or_null(),
        boolean("counts"),
        text("taken_back_because").or_null(),
    ],
    when: Some(["earliest_utc_ms", "latest_utc_ms"]),
};

/// Writes the commissions, in the order in which they were taken.
pub fn rugs(book: &Book, hours: &HoursReport, sink: &mut impl TableSink) -> Result<(), ExportError> {
    let (run_times, commissions) = (hours.run_times(), Commissions::of(&book.entries));
    sink.begin(&RUGS)?;
    for rug in &book.studio.rugs {
        let order = &rug.order;
        let name = order.rug.0.as_str();
        let described = commissions.described(&order.rug);
        let of_rug = hours.all().flat_map(|machine| &machine.rugs).filter(|hours| hours.rug == name);
        let typed_in = of_rug.fold(0, |sum: u64, hours| sum.saturating_add(hours.entered.run_time_ms));
        sink.row(&[
            name.into(),
            Cell::word(&rug.state()),
            order.at.into(),
            order.width_mm.into(),
            order.height_mm.into(),
            Cell::word_or_null(described.and_then(|described| described.style.as_ref())),
            described.and_then(|described| described.pile_height_tenths_mm).into(),
            order.cloth_lot.as_deref().into(),
            run_times.get(name).copied().unwrap_or(0).into(),
            typed_in.into(),
        ])?;
    }
    sink.end()
}

/// Writes the bills of all commissions.
pub fn costs(
    book: &Book,
    ledger: &Ledger<'_>,
    hours: &HoursReport,
    (now, zone): (UtcMillis, &TimeZone),
    sink: &mut impl TableSink,
) -> Result<(), ExportError> {
    let commissions = Commissions::of(&book.entries);
    let taken = rug_work::taken(&book.studio, ledger, zone);
    let desk = Desk {
        entries: &book.entries,
        studio: &book.studio,
        commissions: &commissions,
        ledger,
        hours,
        harms: HarmCounts::default(),
        now,
    };
    sink.begin(&COSTS)?;
    for (rug, bill) in book.studio.rugs.iter().zip(bills(desk, &taken)) {
        for (number, line) in (1_u32..).zip(&bill.lines) {
            cost(rug, number, line, bill.currency.as_deref(), sink)?;
        }
    }
    sink.end()
}

fn cost(
    rug: &Rug,
    number: u32,
    line: &BillLine,
    currency: Option<&str>,
    sink: &mut impl TableSink,
) -> Result<(), ExportError> {
    let (item, machine) = match &line.item {
        BillItem::MachineHours { machine } => ("machine_hours", *machine),
        BillItem::MachineHoursByHand { machine } => ("machine_hours_by_hand", *machine),
        BillItem::Tufting => ("tufting", None),
        BillItem::TuftingByHand => ("tufting_by_hand", None),
        BillItem::Job { .. } => ("job", None),
        BillItem::CountedTwice => ("counted_twice", None),
        BillItem::Material { .. } => ("material", None),
        BillItem::Yarn { .. } => ("yarn", None),
    };
    let job = match &line.item {
        BillItem::Job { job } => Cell::word(job),
        _ => Cell::Null,
    };
    let what = match &line.item {
        BillItem::Material { what } => Some(what.as_str()),
        _ => None,
    };
    let yarn_mg = match &line.item {
        BillItem::Yarn { mg } => Some(*mg),
        _ => None,
    };
    sink.row(&[
        machine.into(),
        rug.order.rug.0.as_str().into(),
        number.into(),
        item.into(),
        job,
        what.into(),
        line.time_ms.into(),
        yarn_mg.into(),
        line.price_per_hour.into(),
        line.amount_cents.into(),
        currency.into(),
        rug.order.at.into(),
    ])
}

/// Writes every tear and near-miss, those taken back too.
pub fn tears(book: &Book, ledger: &Ledger<'_>, sink: &mut impl TableSink) -> Result<(), ExportError> {
    sink.begin(&TEARS)?;
    for harm in harms(&book.entries, &book.studio, ledger) {
        tear(&harm, sink)?;
    }
    sink.end()
}

fn tear(harm: &HarmRecord, sink: &mut impl TableSink) -> Result<(), ExportError> {
    let answers = &harm.answers;
    sink.row(&[
        harm.machine.into(),
        harm.id.to_string().into(),
        Cell::word(&harm.harm),
        harm.when.earliest().into(),
        harm.when.latest().into(),
        harm.knob_before.map(|place| place.get()).into(),
        harm.rate_before.into(),
        harm.rug.as_ref().map(|rug| rug.0.as_str()).into(),
        harm.rug_is_assumed.into(),
        harm.cloth_lot.as_deref().into(),
        Cell::word_or_null(answers.stage.as_ref()),
        answers.second_pass.into(),
        answers.pulled_out_before.into(),
        Cell::word_or_null(answers.tension.as_ref()),
        Cell::word_or_null(answers.place.as_ref()),
        Cell::word_or_null(answers.needle.as_ref()),
        Cell::word_or_null(answers.repair.as_ref()),
        Cell::word_or_null(answers.travel.as_ref()),
        answers.strands.into(),
        harm.note.as_deref().into(),
        harm.counts().into(),
        harm.withdrawn.as_deref().into(),
    ])
}

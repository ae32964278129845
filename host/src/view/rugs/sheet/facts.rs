//! What stands on a sheet, in words; and as comma-separated values.
//!
//! The values are a list of their own, one fact a row, numbers as plain numbers with their unit beside them: hours are
//! decimal minutes, a machine has a row for each kind of its running, and some facts stand in no table of the sheet.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use crate::app::rugs::timer_name;
use crate::view::rugs::rug_book::{pile, stage_name, style, weight};
use crate::view::rugs::{job, price};
use crate::view::words::values::{self, safe};
use crate::view::words::{self, all_of, argument, clock, count, days, rug_state, run_time, size, thousands};
use host_core::money::{Bill, BillItem, BillLack, BillLine};
use host_core::rugs::sheet::{ClientCard, JobSheet, Ordered};

/// What was ordered, as pairs of a word and what it is; with the maker's own marks where `for_maker`.
pub(super) fn ordered(ordered: &Ordered, for_maker: bool, zone: &TimeZone) -> Vec<(&'static str, String)> {
    let mut facts = Vec::new();
    if for_maker {
        facts.push(("state", rug_state(ordered.state).to_owned()));
        facts.push(("ordered", clock(UtcMillis(ordered.ordered_utc_ms), zone)));
    }
    if let Some((width, height)) = ordered.width_mm.zip(ordered.height_mm) {
        let area = ordered.area_m2.map_or_else(String::new, |area| format!(" ({area:.2} m²)"));
        facts.push(("size", format!("{}{area}", size(width, height))));
    }
    facts.extend(ordered.style.map(|said| ("pile", style(said).to_owned())));
    facts.extend(ordered.pile_height_tenths_mm.map(|tenths| ("pile height", pile(tenths))));
    if !ordered.colours.is_empty() {
        facts.push(("colours", all_of(&ordered.colours)));
    }
    if for_maker {
        facts.extend(ordered.cloth_lot.clone().map(|lot| ("cloth", lot)));
    }
    facts
}

/// The three clocks: what, how long, and what there is to say about it.
pub(super) fn clocks(sheet: &JobSheet) -> Vec<(&'static str, u64, &'static str)> {
    let clocks = &sheet.clocks;
    let session = "from the first stroke of a session to its last";
    let typed = if clocks.run_by_hand_is_about {
        "about: it follows from the time at the frame"
    } else {
        "as you noted it"
    };
    let mut rows = vec![
        ("machine running, confirmed", clocks.run_confirmed_ms, "logged; you said that it is this rug's"),
        ("machine running, assumed", clocks.run_assumed_ms, "logged; by which rug was on the frame"),
        ("machine running, typed in", clocks.run_by_hand_ms, typed),
        ("at the frame, confirmed", clocks.tufting_confirmed_ms, session),
        ("at the frame, assumed", clocks.tufting_assumed_ms, session),
        ("at the frame, typed in", clocks.tufting_by_hand_ms, "as you noted it"),
    ];
    for sum in &clocks.jobs {
        let what = if sum.job.is_labour() { "job time" } else { "waiting, no labour" };
        rows.push((timer_name::word(sum.job), sum.lasted_ms, what));
    }
    rows.retain(|(_, ms, _)| *ms > 0);
    rows
}

/// What there is to add to the clocks.
pub(super) fn clock_notes(sheet: &JobSheet, zone: &TimeZone) -> Vec<String> {
    let clocks = &sheet.clocks;
    let mut notes = vec![format!(
        "Labour: {}. That is time at the frame and job time together, without waiting.",
        run_time(clocks.labour_ms)
    )];
    if clocks.counted_twice_ms > 0 {
        notes.push(format!(
            "A timer ran on during a session for {}; that is counted once, as time at the frame.",
            run_time(clocks.counted_twice_ms)
        ));
    }
    if clocks.entered_without_frame_time > 0 {
        notes.push(format!(
            "Of {} no time at the frame was noted; its running counts as the least.",
            count(clocks.entered_without_frame_time, "session", "sessions")
        ));
    }
    if clocks.sessions_of_unknown_length > 0 {
        notes.push(format!(
            "It is not known how long {} lasted; that time at the frame is missing here.",
            words::count(clocks.sessions_of_unknown_length, "session", "sessions")
        ));
    }
    notes.extend(clocks.running.iter().map(|timer| job::running(timer, zone)));
    notes
}

/// What a line of the bill is for.
pub(super) fn item(line: &BillLine) -> String {
    let on = |machine: &Option<u32>| {
        machine.map_or_else(|| "machine not known".to_owned(), |machine| format!("machine {machine}"))
    };
    match &line.item {
        BillItem::MachineHours { machine } => format!("{}, running", on(machine)),
        BillItem::MachineHoursByHand { machine } => format!("{}, running, typed in", on(machine)),
        BillItem::Tufting => "at the frame".to_owned(),
        BillItem::TuftingByHand => "at the frame, typed in".to_owned(),
        BillItem::Job { job } => timer_name::word(*job).to_owned(),
        BillItem::CountedTwice => "counted twice, taken off".to_owned(),
        BillItem::Material { what } => what.clone(),
        BillItem::Yarn { mg } => format!("yarn, {}", weight(*mg)),
    }
}

/// Whole cents as "12.50" or "-3.00".
pub(super) fn cents(cents: i64) -> String {
    let sign = if cents < 0 { "-" } else { "" };
    let cents = cents.unsigned_abs();
    format!("{sign}{}.{:02}", cents / 100, cents % 100)
}

fn currency(bill: &Bill) -> &str {
    words::currency(bill.currency.as_deref())
}

/// What there is to add to the bill.
pub(super) fn bill_notes(bill: &Bill, rug: &str) -> Vec<String> {
    let mut notes = vec![format!("All amounts in {}. {}", currency(bill), bill.rounding)];
    notes.extend(bill.lacks.iter().map(|of| lack(*of, rug)));
    notes
}

fn lack(lack: BillLack, rug: &str) -> String {
    let rug = argument(rug);
    match lack {
        BillLack::Prices => {
            "Some time has no price, so the total is too low: `needlehours rate set` prices a machine's \
                             hours, `needlehours rate wage` an hour of labour."
                .to_owned()
        }
        BillLack::Yarn => format!(
            "No yarn noted: incomplete. `needlehours rug material {rug} yarn AMOUNT` says what it cost, `needlehours rug \
             yarn {rug} COLOUR --out 500g` weighs it."
        ),
        BillLack::YarnLeft => format!(
            "Yarn that was not weighed after the work is missing: incomplete. `needlehours rug yarn {rug} COLOUR --left 80g`"
        ),
        BillLack::YarnPerKg => {
            "The yarn has no price: incomplete. `needlehours rate price --yarn-per-kg AMOUNT`".to_owned()
        }
        BillLack::Cloth => {
            format!(
                "No cloth noted: incomplete. `needlehours rug material {rug} cloth AMOUNT` says what it cost."
            )
        }
    }
}

/// "3 sessions, 12,345 strokes, 2 Mar to 9 Mar 2026".
pub(super) fn made_in(strokes: u64, sessions: u64, first: Option<Date>, last: Option<Date>) -> String {
    if sessions == 0 {
        return "nothing was logged for it yet".to_owned();
    }
    let (sessions, days) = (words::count(sessions, "session", "sessions"), days(first, last));
    match strokes {
        0 => format!("{sessions}, {days}, no strokes counted"),
        strokes => format!("{} strokes in {sessions}, {days}", thousands(strokes)),
    }
}

/// What was made, as the client reads it: where no logger counted, there is nothing to tell of counting.
pub(super) fn made_by_hand(card: &ClientCard) -> String {
    if card.sessions == 0 || card.strokes == 0 {
        return "Made by hand.".to_owned();
    }
    format!("Made by hand: {}.", made_in(card.strokes, card.sessions, card.first_day, card.last_day))
}

pub(super) fn is_any_priced(bill: &Bill) -> bool {
    bill.lines.iter().any(|line| line.amount_cents.is_some())
}

/// The columns of the table.
const COLUMNS: [&str; 5] = ["section", "what", "value", "unit", "note"];

/// The sheet as comma-separated values.
///
/// # Errors
/// When it cannot be written, which it has no reason to.
pub fn csv(sheet: &JobSheet, zone: &TimeZone) -> Result<String, csv::Error> {
    let mut rows = Vec::new();
    let mut fact = |section: &str, what: &str, value: String, unit: &str, note: &str| {
        rows.push([section.to_owned(), safe(what), value, safe(unit), safe(note)]);
    };
    fact("rug", "name", safe(&sheet.ordered.rug), "", "");
    for (what, is) in ordered(&sheet.ordered, true, zone) {
        fact("rug", what, safe(&is), "", "");
    }
    for (what, number) in [("strokes", sheet.strokes), ("sessions", sheet.sessions)]
        .into_iter()
        .chain([("tears", sheet.harms.tears), ("near-misses", sheet.harms.near_misses)])
    {
        fact("made", what, number.to_string(), what, "");
    }
    for (what, ms, note) in clocks(sheet) {
        fact("time", what, minutes(ms), "minutes", note);
    }
    let labour = minutes(sheet.clocks.labour_ms);
    fact("time", "labour", labour, "minutes", "frame and job, without waiting");
    for line in &sheet.machines {
        let name = line.name.as_deref().unwrap_or_default();
        fact("machine", name, minutes(line.confirmed_run_time_ms), "minutes", "confirmed");
        fact("machine", name, minutes(line.assumed_run_time_ms), "minutes", "assumed");
    }
    for stage in &sheet.stages {
        let name = stage.stage.map_or("no stage said", stage_name);
        fact("stage", name, minutes(stage.run_time_ms), "minutes", "running");
        fact("stage", name, stage.strokes.to_string(), "strokes", "");
    }
    for line in &sheet.yarn.colours {
        let yarn = &line.weighed;
        let mut weighed = vec![("taken", yarn.out_mg), ("brought back", yarn.back_mg)];
        weighed.extend(line.used_mg.map(|mg| ("used", mg)));
        for (note, mg) in weighed {
            fact("yarn", &yarn.colour, format!("{}.{:03}", mg / 1_000, mg % 1_000), "g", note);
        }
    }
    let bill = &sheet.bill;
    for line in &bill.lines {
        let note = if line.amount_cents.is_some() { "" } else { "no price" };
        fact("cost", &item(line), line.amount_cents.map_or_else(String::new, cents), currency(bill), note);
    }
    let total = if is_any_priced(bill) { cents(bill.total_cents) } else { String::new() };
    fact("cost", "together", total, currency(bill), &bill_notes(bill, &sheet.ordered.rug).join(" "));
    if let Some(quoted) = &sheet.quoted {
        for line in &quoted.lines {
            let what = price::item(line.item);
            fact("quoted", what, price::cents(line.quoted_cents), currency(bill), "quoted");
            fact("quoted", what, line.actual_cents.map_or_else(String::new, cents), currency(bill), "actual");
        }
        fact("quoted", "price", price::cents(quoted.price_cents), currency(bill), "quoted");
        fact("quoted", "left of the price", cents(quoted.left_cents), currency(bill), "");
    }
    values::csv(COLUMNS, &rows)
}

/// Milliseconds as minutes, exactly enough to add up again.
fn minutes(ms: u64) -> String {
    let hundred_thousandths = (u128::from(ms) * 10 + 3) / 6;
    format!("{}.{:05}", hundred_thousandths / 100_000, hundred_thousandths % 100_000)
}

#[cfg(test)]
mod tests {
    use super::{cents, minutes};

    #[test]
    fn cents_are_written_as_amounts() {
        assert_eq!([0, 5, 1_250, -300, -5].map(cents), ["0.00", "0.05", "12.50", "-3.00", "-0.05"]);
    }
    #[test]
    fn minutes_are_decimal() {
        assert_eq!(
            [0, 60_000, 90_000, 1, 100].map(minutes),
            ["0.00000", "1.00000", "1.50000", "0.00002", "0.00167"]
        );
    }
}

//! The sheet and the card as pages that print well.

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::{bill_notes, cents, clock_notes, clocks, item, made_by_hand, made_in, ordered, total};
use crate::view::money;
use crate::view::rugs::rug_book::{grams, stage_name};
use crate::view::words::html::{add, document, escaped};
use crate::view::words::{clock, run_time, thousands};
use host_core::rugs::sheet::{ClientCard, JobSheet};

const STYLE: &str = "
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 14mm; max-width: 190mm; background: #fff; color: #26262c;
  font: 11pt/1.4 'Noto Sans', 'DejaVu Sans', 'Helvetica Neue', Arial, sans-serif; }
h1 { margin: 0; font-size: 20pt; overflow-wrap: anywhere; }
h2 { margin: 6mm 0 1.5mm; font-size: 12pt; border-bottom: 0.4mm solid #a35276; padding-bottom: 0.6mm; }
.kind { margin: 0 0 4mm; color: #60606a; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 0.6mm 5mm; margin: 0; }
dt { color: #60606a; }
dd { margin: 0; overflow-wrap: anywhere; }
table { width: 100%; border-collapse: collapse; }
th, td { padding: 0.8mm 1.5mm; border-bottom: 0.2mm solid #dedee2; text-align: left; vertical-align: top;
  overflow-wrap: anywhere; }
th { color: #60606a; font-weight: normal; }
td.number, th.number { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
tr.total td { border-bottom: 0; border-top: 0.4mm solid #26262c; font-weight: bold; }
p { margin: 1.5mm 0; }
dl + p { margin-top: 4mm; }
.small { color: #60606a; font-size: 9pt; }
ul { margin: 0; padding-left: 5mm; }
li { margin: 0 0 1.2mm; }
footer { margin-top: 7mm; }
section { break-inside: avoid; }
@media print { body { padding: 0; max-width: none; } }
";

/// A4 with margins that every printer can do.
pub(in crate::view) const A4: &str = "@page { size: A4; margin: 14mm; }";
/// A5, half of it: a card to lay beside the rug.
const A5: &str =
    "@page { size: A5; margin: 11mm; } body { max-width: 126mm; font-size: 10pt; } h1 { font-size: 17pt; }";

/// The sheet for the maker.
#[must_use]
pub fn maker(sheet: &JobSheet, now: UtcMillis, zone: &TimeZone) -> String {
    let mut body = String::new();
    heading(&mut body, &sheet.ordered.rug, "Job sheet");
    facts(&mut body, &ordered(&sheet.ordered, true, zone));
    add(
        &mut body,
        format_args!("<p>Made: {}.", made_in(sheet.strokes, sheet.sessions, sheet.first_day, sheet.last_day)),
    );
    add(
        &mut body,
        format_args!(" Tears: {}. Near-misses: {}.</p>", sheet.harms.tears, sheet.harms.near_misses),
    );
    let times: Vec<[String; 3]> =
        clocks(sheet).into_iter().map(|(what, ms, note)| [what, run_time(ms), note.to_owned()]).collect();
    section(&mut body, "Time", ["what", "how long", ""], &[1], &times, None, &clock_notes(sheet, zone));
    if sheet.machines.len() > 1 {
        let rows: Vec<[String; 4]> = sheet
            .machines
            .iter()
            .map(|line| {
                let name = line.name.clone().unwrap_or_else(|| "not known".to_owned());
                let (confirmed, assumed) = (line.confirmed_run_time_ms, line.assumed_run_time_ms);
                [name, run_time(confirmed), run_time(assumed), thousands(line.strokes)]
            })
            .collect();
        let head = ["machine", "confirmed", "assumed", "strokes"];
        section(&mut body, "Machines", head, &[1, 2, 3], &rows, None, &[]);
    }
    if !sheet.stages.is_empty() {
        let rows: Vec<[String; 3]> = sheet
            .stages
            .iter()
            .map(|stage| {
                let name = stage.stage.map_or("no stage said", stage_name);
                [name.to_owned(), run_time(stage.run_time_ms), thousands(stage.strokes)]
            })
            .collect();
        section(&mut body, "Stages", ["stage", "running", "strokes"], &[1, 2], &rows, None, &[]);
    }
    yarn(&mut body, sheet);
    bill(&mut body, sheet);
    let footer = format!("Written {} from what the logger counted and what was entered.", clock(now, zone));
    add(&mut body, format_args!("<footer class=\"small\">{}</footer>", escaped(&footer)));
    page(&format!("{}, job sheet", sheet.ordered.rug), A4, &body)
}

fn yarn(body: &mut String, sheet: &JobSheet) {
    if sheet.yarn.colours.is_empty() {
        return;
    }
    let rows: Vec<[String; 5]> = sheet
        .yarn
        .colours
        .iter()
        .map(|line| {
            let per_1000 =
                line.grams_per_1000_strokes.map_or_else(String::new, |grams| format!("{grams:.1}"));
            [
                line.weighed.colour.clone(),
                grams(line.weighed.out_mg),
                grams(line.weighed.back_mg),
                line.used_mg.map_or_else(String::new, grams),
                per_1000,
            ]
        })
        .collect();
    let head = ["colour", "taken", "brought back", "used", "g per 1,000 strokes"];
    section(body, "Yarn", head, &[1, 2, 3, 4], &rows, None, &[]);
}

fn bill(body: &mut String, sheet: &JobSheet) {
    let rows: Vec<[String; 4]> = sheet
        .bill
        .lines
        .iter()
        .map(|line| {
            [
                item(line),
                line.time_ms.map_or_else(String::new, run_time),
                line.price_per_hour.map_or_else(String::new, money::money),
                line.amount_cents.map_or_else(|| "no price".to_owned(), cents),
            ]
        })
        .collect();
    if rows.is_empty() {
        return;
    }
    let total = ["together".to_owned(), String::new(), String::new(), total(&sheet.bill)];
    let head = ["for", "time", "an hour", "amount"];
    section(body, "Cost", head, &[1, 2, 3], &rows, Some(&total), &bill_notes(&sheet.bill));
}

/// The card for whoever ordered it.
#[must_use]
pub fn client(card: &ClientCard, zone: &TimeZone) -> String {
    let mut body = String::new();
    heading(&mut body, &card.ordered.rug, "A rug tufted by hand");
    facts(&mut body, &ordered(&card.ordered, false, zone));
    add(&mut body, format_args!("<p>{}</p>", escaped(&made_by_hand(card))));
    body.push_str("<section><h2>Care of the rug</h2><ul>");
    for line in card.care_of_the_rug {
        add(&mut body, format_args!("<li>{}</li>", escaped(line)));
    }
    body.push_str("</ul></section>");
    page(&card.ordered.rug, A5, &body)
}

/// A whole page on paper of a size.
pub(in crate::view) fn page(title: &str, paper: &str, body: &str) -> String {
    document(title, &format!("{STYLE}{paper}\n"), &format!("{body}\n"))
}

/// The name of what it is about, and what kind of sheet it is.
pub(in crate::view) fn heading(body: &mut String, rug: &str, kind: &str) {
    add(body, format_args!("<h1>{}</h1><p class=\"kind\">{}</p>", escaped(rug), escaped(kind)));
}

/// Pairs of a word and what it is.
pub(in crate::view) fn facts(body: &mut String, facts: &[(&str, String)]) {
    body.push_str("<dl>");
    for (what, is) in facts {
        add(body, format_args!("<dt>{}</dt><dd>{}</dd>", escaped(what), escaped(is)));
    }
    body.push_str("</dl>");
}

/// A heading, a table whose columns in `numbers` stand to the right, and what there is to add.
pub(in crate::view) fn section<const N: usize>(
    body: &mut String,
    title: &str,
    heads: [&str; N],
    numbers: &[usize],
    rows: &[[String; N]],
    total: Option<&[String; N]>,
    notes: &[String],
) {
    add(body, format_args!("<section><h2>{}</h2>", escaped(title)));
    let class = |column: usize| if numbers.contains(&column) { " class=\"number\"" } else { "" };
    if rows.is_empty() {
        body.push_str("<p>Nothing yet.</p>");
    } else {
        body.push_str("<table><thead><tr>");
        for (column, head) in heads.iter().enumerate() {
            add(body, format_args!("<th{}>{}</th>", class(column), escaped(head)));
        }
        body.push_str("</tr></thead><tbody>");
        for (row, is_total) in rows.iter().map(|row| (row, false)).chain(total.map(|row| (row, true))) {
            body.push_str(if is_total { "<tr class=\"total\">" } else { "<tr>" });
            for (column, cell) in row.iter().enumerate() {
                add(body, format_args!("<td{}>{}</td>", class(column), escaped(cell)));
            }
            body.push_str("</tr>");
        }
        body.push_str("</tbody></table>");
    }
    for note in notes {
        add(body, format_args!("<p class=\"small\">{}</p>", escaped(note)));
    }
    body.push_str("</section>");
}

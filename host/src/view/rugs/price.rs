//! One price for a rug: for its maker, line by line, with how each came about.

use crate::app::rugs::price::PriceAnswer;
use crate::view::money::{centimetres, money, share};
use crate::view::words::table::Column::{Numbers, Words};
use crate::view::words::table::Table;
use crate::view::words::{argument, count, currency, size};
use host_core::rugs::price::{MeanFrom, PartBasis, PriceItem, PriceLack};
use host_core::stats::number;

/// Whole cents as an amount.
pub(super) fn cents(cents: u64) -> String {
    format!("{}.{:02}", cents / 100, cents % 100)
}

/// The price for its maker.
#[must_use]
pub fn text(answer: &PriceAnswer) -> String {
    let (quote, price) = (&answer.quote.quote, &answer.price);
    let mut table = Table::new(&[Words("for"), Numbers("amount"), Words("how it comes about")]);
    for line in &price.lines {
        table.row([item(line.item).to_owned(), cents(line.amount_cents), String::new()]);
        for part in &line.parts {
            let (what, how) = basis(part.basis);
            table.row([format!("  {what}"), cents(part.amount_cents), how]);
        }
    }
    table.row(["together".to_owned(), cents(price.sum_cents), String::new()]);
    let name = answer.quote.currency.as_deref();
    let unit = name.map_or_else(String::new, |name| format!(" {name}"));
    let mut lines = vec![
        format!(
            "{}: {}{unit}{}.",
            size(quote.width_mm, quote.height_mm),
            cents(price.price_cents),
            if price.lacks_a_number() { ", incomplete: too low, do not tell it to a client" } else { "" }
        ),
        table.text(),
    ];
    lines.extend(price.least_cents.map(|least| format!("The least price is {}.", cents(least))));
    lines.extend(price.step_cents.map(|step| format!("Rounded up to a multiple of {}.", cents(step))));
    lines.extend(price.lacks.iter().map(|of| {
        let what = if of.is_on_top() { "Counted as nothing" } else { "Missing" };
        format!("{what}: {}", lack(*of))
    }));
    if quote.is_outside_own_sizes {
        lines.push("Careful: none of your rugs is near this size, so its hours may be far off.".to_owned());
    }
    lines.push(format!("All amounts in {}. Taxes and terms are yours: no tax is in it.", currency(name)));
    lines.join("\n")
}

/// Where a price was kept.
#[must_use]
pub fn kept_for(rug: &str) -> String {
    format!("\nKept for {rug}. Quoted against actual: needlehours rug sheet {}", argument(rug))
}

/// A line of a price in words.
pub(super) const fn item(item: PriceItem) -> &'static str {
    match item {
        PriceItem::Materials => "materials",
        PriceItem::Frame => "time at the frame",
        PriceItem::Bench => "bench time",
        PriceItem::Extras => "extras",
        PriceItem::Margin => "margin",
    }
}

fn from(from: MeanFrom) -> String {
    match from {
        MeanFrom::Typed => "as typed".to_owned(),
        MeanFrom::OwnRugs(rugs) => format!("from {}", count(rugs, "own rug", "own rugs")),
        MeanFrom::Terms => "from your terms".to_owned(),
    }
}

fn basis(basis: PartBasis) -> (&'static str, String) {
    match basis {
        PartBasis::Yarn { kg, kg_per_m2, from: source, spare, per_kg } => {
            let spare = spare.map_or_else(String::new, |spare| format!(" with {} spare", share(spare)));
            let source = from(source);
            let per_kg = money(per_kg.units());
            ("yarn", format!("{kg:.2} kg{spare} at {per_kg} a kg; {kg_per_m2:.2} kg a m², {source}"))
        }
        PartBasis::Cloth { strip_mm, roll_mm, offcut_mm, margin_mm, per_m } => {
            let [roll, offcut, margin] =
                [u64::from(roll_mm), offcut_mm, u64::from(margin_mm)].map(centimetres);
            let metres = number(strip_mm) / 1_000.0;
            let per_m = money(per_m.units());
            let how = format!(
                "{metres:.2} m of the roll of {roll} at {per_m} a m; margin {margin} a side, offcut {offcut} wide included"
            );
            ("cloth", how)
        }
        PartBasis::Frame { hours, wage } => ("at the frame", an_hour(hours, wage)),
        PartBasis::Running { hours, rate } => ("machine running", an_hour(hours, rate)),
        PartBasis::BenchPerRug { hours, from: source, wage } => {
            ("for the rug", format!("{}, {}", an_hour(hours, wage), from(source)))
        }
        PartBasis::BenchPerM2 { hours, per_m2, from: source, wage } => {
            ("for its area", format!("{}; {per_m2:.2} h a m², {}", an_hour(hours, wage), from(source)))
        }
        PartBasis::Mending { share: of, of_cents } => {
            ("mending", format!("{} of the work, {}", share(of), cents(of_cents)))
        }
        PartBasis::Overhead { share: of, of_cents } => {
            ("overhead", format!("{} of materials, work and mending, {}", share(of), cents(of_cents)))
        }
        PartBasis::Shipping => ("shipping", "at cost".to_owned()),
        PartBasis::Margin { share: of, of_cents } => {
            ("margin", format!("{} of all costs but shipping, {}", share(of), cents(of_cents)))
        }
    }
}

fn an_hour(hours: f64, price: f64) -> String {
    format!("{hours:.2} h at {} an hour", money(price))
}

/// What is missing, and what to try.
#[must_use]
pub fn lack(lack: PriceLack) -> String {
    let said = match lack {
        PriceLack::YarnPerKg => "no yarn price, materials are incomplete: rate price --yarn-per-kg",
        PriceLack::YarnPerM2 => {
            "no yarn for a square metre, materials are incomplete: weigh the yarn of a rug, or rate price --yarn-kg-per-m2"
        }
        PriceLack::YarnSpare => "no share of spare yarn: rate price --yarn-spare",
        PriceLack::ClothPerM => "no cloth price, materials are incomplete: rate price --cloth-per-m",
        PriceLack::RollWidth => "no roll width, materials are incomplete: rate price --roll-width",
        PriceLack::RollTooNarrow { piece_mm, roll_mm } => {
            return format!(
                "no cloth that is wide enough, materials are incomplete: the piece with its margins is {} wide, the roll {}: \
                 rate price --roll-width with a wider roll, or a smaller --cloth-margin",
                centimetres(piece_mm),
                centimetres(u64::from(roll_mm))
            );
        }
        PriceLack::Wage => "no price of an hour of work, all work is left out: rate wage",
        PriceLack::FrameHours => {
            "no hours at the frame: quote sample --tufting-minutes, or finished rugs with a size"
        }
        PriceLack::RunHours => "no hours of running: quote sample, or finished rugs with a size",
        PriceLack::MachineHourRate => {
            "no price of a machine hour: rate set, and --machine where there are several"
        }
        PriceLack::BenchPerRug => "no bench time for a rug: rate price --bench-per-rug",
        PriceLack::BenchPerM2 => "no bench time for a square metre: rate price --bench-per-m2",
        PriceLack::Mending => "no share for mending: rate price --mending",
        PriceLack::Overhead => "no share for overhead: rate price --overhead",
        PriceLack::Shipping => "no shipping: rate price --shipping, 0 if fetched",
        PriceLack::Margin => "no margin: rate price --margin",
    };
    said.to_owned()
}

//! One price for a rug, in five lines: materials, time at the frame, bench time, extras, margin.
//!
//! Each part is rounded to the cent, half a cent up, and added as rounded. What cannot be worked out is named and left out of
//! the sum; the price is then incomplete, that is, too low. Mending is a share of the work (time at the frame and bench
//! time), overhead one of materials, work and mending, margin one of all of these; shipping is at cost. Common practice, no
//! source.

use serde::Serialize;

use super::own_bench::{OwnBench, OwnMean};
use crate::entries::amount::Money;
use crate::entries::{BasisPoints, EntryBody, InForce, PriceTerms};
use crate::money::bill::{cents_of, rounded_cents};
use crate::stats::{HOUR_MS, LEAST_VALUES, number};

const MG_PER_KG: f64 = 1_000_000.0;
const MM_PER_M: f64 = 1_000.0;

/// Inputs of a price.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PriceBasis {
    /// Width in millimetres.
    pub width_mm: u32,
    /// Height in millimetres.
    pub height_mm: u32,
    /// Expected hours of running.
    pub run_hours: Option<f64>,
    /// Expected hours at the frame.
    pub frame_hours: Option<f64>,
    /// An hour of running, in currency units.
    pub machine_hour_rate: Option<f64>,
    /// An hour of work, in currency units.
    pub wage_per_hour: Option<f64>,
    /// Yarn per square metre in kilograms, for this price alone.
    pub yarn_kg_per_m2: Option<f64>,
    /// The maker's terms.
    pub terms: PriceTerms,
    /// What own rugs took.
    pub own: OwnBench,
}

/// Where a mean comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum MeanFrom {
    /// Typed for this price.
    Typed,
    /// So many own finished rugs.
    OwnRugs(u64),
    /// The terms.
    Terms,
}

/// Derivation of a part of a price.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "part", rename_all = "snake_case")]
pub enum PartBasis {
    /// Yarn.
    Yarn {
        /// Kilograms with the spare.
        kg: f64,
        /// Kilograms per square metre without it.
        kg_per_m2: f64,
        /// From what that follows.
        from: MeanFrom,
        /// The spare; none: not said.
        spare: Option<BasisPoints>,
        /// A kilogram.
        per_kg: Money,
    },
    /// Cloth: a strip of the roll's full width, offcut included.
    Cloth {
        /// Length of the strip in millimetres.
        strip_mm: u64,
        /// Width of the roll in millimetres.
        roll_mm: u32,
        /// Width of the offcut in millimetres.
        offcut_mm: u64,
        /// Cloth beyond the rug on each side, in millimetres.
        margin_mm: u32,
        /// A metre of the roll.
        per_m: Money,
    },
    /// Work at the frame.
    Frame {
        /// Hours.
        hours: f64,
        /// An hour, in currency units.
        wage: f64,
    },
    /// Running of the machine.
    Running {
        /// Hours.
        hours: f64,
        /// An hour, in currency units.
        rate: f64,
    },
    /// Bench time of a rug.
    BenchPerRug {
        /// Hours.
        hours: f64,
        /// From what they follow.
        from: MeanFrom,
        /// An hour, in currency units.
        wage: f64,
    },
    /// Bench time of its area.
    BenchPerM2 {
        /// Hours in all.
        hours: f64,
        /// Hours per square metre.
        per_m2: f64,
        /// From what they follow.
        from: MeanFrom,
        /// An hour, in currency units.
        wage: f64,
    },
    /// Mending.
    Mending {
        /// The share.
        share: BasisPoints,
        /// Of so many cents: the work.
        of_cents: u64,
    },
    /// Overhead.
    Overhead {
        /// The share.
        share: BasisPoints,
        /// Of so many cents: materials, work, mending.
        of_cents: u64,
    },
    /// Shipping, at cost.
    Shipping,
    /// Margin.
    Margin {
        /// The share.
        share: BasisPoints,
        /// Of so many cents: all costs but shipping.
        of_cents: u64,
    },
}

/// A part of a line.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PricePart {
    /// How it comes about.
    #[serde(flatten)]
    pub basis: PartBasis,
    /// Its amount in whole cents.
    pub amount_cents: u64,
}

/// A line of a price.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PriceItem {
    /// Yarn and cloth.
    Materials,
    /// Work at the frame and running.
    Frame,
    /// Work away from the frame.
    Bench,
    /// Mending, overhead, shipping.
    Extras,
    /// Margin.
    Margin,
}

/// A line of a price, with its parts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PriceLine {
    /// Which.
    pub item: PriceItem,
    /// Its parts.
    pub parts: Vec<PricePart>,
    /// The sum of its parts, in whole cents.
    pub amount_cents: u64,
}

/// Missing inputs of a price.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PriceLack {
    /// A kilogram of yarn has no price.
    YarnPerKg,
    /// Yarn per square metre is not known.
    YarnPerM2,
    /// The spare of yarn was not said.
    YarnSpare,
    /// A metre of the roll has no price.
    ClothPerM,
    /// The width of the roll was not said.
    RollWidth,
    /// The roll is narrower than the piece.
    RollTooNarrow {
        /// The shorter side of the piece with its margins, in millimetres.
        piece_mm: u64,
        /// Width of the roll in millimetres.
        roll_mm: u32,
    },
    /// An hour of work has no price.
    Wage,
    /// Hours at the frame are not known.
    FrameHours,
    /// Hours of running are not known.
    RunHours,
    /// An hour of running has no price.
    MachineHourRate,
    /// Bench time of a rug is not known.
    BenchPerRug,
    /// Bench time of a square metre is not known.
    BenchPerM2,
    /// The share for mending was not said.
    Mending,
    /// The share for overhead was not said.
    Overhead,
    /// Shipping was not said.
    Shipping,
    /// The margin was not said.
    Margin,
}

impl PriceLack {
    /// Whether it is a share or a charge on top, which counts as nothing where it was not said.
    #[must_use]
    pub const fn is_on_top(self) -> bool {
        matches!(self, Self::YarnSpare | Self::Mending | Self::Overhead | Self::Shipping | Self::Margin)
    }
}

/// One price.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Price {
    /// Its lines.
    pub lines: Vec<PriceLine>,
    /// The sum of its lines in whole cents.
    pub sum_cents: u64,
    /// The least price in whole cents, where one was said.
    pub least_cents: Option<u64>,
    /// The step to which it is rounded up in whole cents, where one was said.
    pub step_cents: Option<u64>,
    /// The price in whole cents: the sum, at least the least price, rounded up to the step.
    pub price_cents: u64,
    /// What it lacks.
    pub lacks: Vec<PriceLack>,
    /// Whether it lacks something, so that it is too low.
    pub is_incomplete: bool,
    /// Hours of bench time in it.
    pub bench_hours: f64,
}

impl Price {
    /// Whether a number is missing without which it is too low, whatever the maker's shares are.
    #[must_use]
    pub fn lacks_a_number(&self) -> bool {
        self.lacks.iter().any(|lack| !lack.is_on_top())
    }

    /// The amount of a line in whole cents.
    #[must_use]
    pub fn cents_of(&self, item: PriceItem) -> u64 {
        self.lines
            .iter()
            .filter(|line| line.item == item)
            .fold(0, |sum, line| sum.saturating_add(line.amount_cents))
    }
}

/// Cloth beyond the rug on each side where nothing was said, in millimetres: two inches, as makers' pricing guides have it.
pub const USUAL_CLOTH_MARGIN_MM: u32 = 51;

/// The terms in force.
#[must_use]
pub fn terms(entries: &InForce<'_>) -> PriceTerms {
    let mut terms = PriceTerms::default();
    for entry in entries.iter() {
        if let EntryBody::PriceTerms(said) = &entry.body {
            terms.take(said);
        }
    }
    terms
}

/// Works a price out.
#[must_use]
pub fn price(basis: &PriceBasis) -> Price {
    let mut lacks = Vec::new();
    let materials = line(PriceItem::Materials, [yarn(basis, &mut lacks), cloth(basis, &mut lacks)]);
    let frame = line(PriceItem::Frame, frame(basis, &mut lacks));
    let (bench, bench_hours) = bench(basis, &mut lacks);
    let bench = line(PriceItem::Bench, bench);
    let terms = &basis.terms;
    let work = frame.amount_cents.saturating_add(bench.amount_cents);
    let mending = share(terms.mending, work, PriceLack::Mending, &mut lacks, |share, of_cents| {
        PartBasis::Mending { share, of_cents }
    });
    let costs = materials.amount_cents.saturating_add(work).saturating_add(amount(mending));
    let overhead = share(terms.overhead, costs, PriceLack::Overhead, &mut lacks, |share, of_cents| {
        PartBasis::Overhead { share, of_cents }
    });
    let shipping = known(terms.shipping, PriceLack::Shipping, &mut lacks)
        .map(|cost| PricePart { basis: PartBasis::Shipping, amount_cents: cents_of(cost) });
    let costs = costs.saturating_add(amount(overhead));
    let margin = share(terms.margin, costs, PriceLack::Margin, &mut lacks, |share, of_cents| {
        PartBasis::Margin { share, of_cents }
    });
    let extras = line(PriceItem::Extras, [mending, overhead, shipping]);
    let lines = vec![materials, frame, bench, extras, line(PriceItem::Margin, [margin])];
    let sum_cents = lines.iter().fold(0, |sum: u64, line| sum.saturating_add(line.amount_cents));
    let least_cents = terms.least.map(cents_of);
    let step_cents = terms.round_to.map(cents_of).filter(|step| *step > 0);
    let least = sum_cents.max(least_cents.unwrap_or(0));
    Price {
        price_cents: step_cents
            .map_or(least, |step| least.checked_next_multiple_of(step).unwrap_or(u64::MAX)),
        lines,
        sum_cents,
        least_cents,
        step_cents,
        is_incomplete: !lacks.is_empty(),
        lacks,
        bench_hours,
    }
}

fn line(item: PriceItem, parts: impl IntoIterator<Item = Option<PricePart>>) -> PriceLine {
    let parts: Vec<PricePart> = parts.into_iter().flatten().collect();
    let amount_cents = parts.iter().fold(0, |sum: u64, part| sum.saturating_add(part.amount_cents));
    PriceLine { item, parts, amount_cents }
}

fn amount(part: Option<PricePart>) -> u64 {
    part.map_or(0, |part| part.amount_cents)
}

/// Notes a lack where there is no value.
fn known<T>(value: Option<T>, lack: PriceLack, lacks: &mut Vec<PriceLack>) -> Option<T> {
    if value.is_none() && !lacks.contains(&lack) {
        lacks.push(lack);
    }
    value
}

fn share(
    share: Option<BasisPoints>,
    of_cents: u64,
    lack: PriceLack,
    lacks: &mut Vec<PriceLack>,
    basis: impl Fn(BasisPoints, u64) -> PartBasis,
) -> Option<PricePart> {
    let share = known(share, lack, lacks)?;
    Some(PricePart { basis: basis(share, of_cents), amount_cents: share.of_cents(of_cents) })
}

/// Area in square metres.
fn area_m2(basis: &PriceBasis) -> f64 {
    number(u64::from(basis.width_mm) * u64::from(basis.height_mm)) / (MM_PER_M * MM_PER_M)
}

fn yarn(basis: &PriceBasis, lacks: &mut Vec<PriceLack>) -> Option<PricePart> {
    let terms = &basis.terms;
    let own = |least: usize| {
        let own = basis.own.yarn_kg_per_m2;
        let own = own.filter(|own| own.rugs >= u64::try_from(least).unwrap_or(u64::MAX));
        own.map(|own| (own.mean, MeanFrom::OwnRugs(own.rugs)))
    };
    let from_terms = || terms.yarn_mg_per_m2.map(|mg| (number(mg) / MG_PER_KG, MeanFrom::Terms));
    let typed = basis.yarn_kg_per_m2.map(|kg| (kg, MeanFrom::Typed));
    let per_m2 = typed.or_else(|| own(LEAST_VALUES)).or_else(from_terms).or_else(|| own(1));
    let per_kg = known(terms.yarn_per_kg, PriceLack::YarnPerKg, lacks);
    let per_m2 = known(per_m2, PriceLack::YarnPerM2, lacks);
    let spare = known(terms.yarn_spare, PriceLack::YarnSpare, lacks);
    let (per_kg, (kg_per_m2, from)) = (per_kg?, per_m2?);
    let whole = number(u64::from(BasisPoints::WHOLE.0));
    let with_spare = (whole + number(u64::from(spare.unwrap_or_default().0))) / whole;
    let kg = kg_per_m2 * area_m2(basis) * with_spare;
    let basis = PartBasis::Yarn { kg, kg_per_m2, from, spare, per_kg };
    Some(PricePart { basis, amount_cents: rounded_cents(kg * per_kg.units()) })
}

/// Of the two ways to lay the piece on the roll, the shorter strip.
fn cloth(basis: &PriceBasis, lacks: &mut Vec<PriceLack>) -> Option<PricePart> {
    let terms = &basis.terms;
    let per_m = known(terms.cloth_per_m, PriceLack::ClothPerM, lacks);
    let roll_mm = known(terms.roll_width_mm, PriceLack::RollWidth, lacks)?;
    let margin_mm = terms.cloth_margin_mm.unwrap_or(USUAL_CLOTH_MARGIN_MM);
    let side = |side: u32| u64::from(side) + 2 * u64::from(margin_mm);
    let (width, height) = (side(basis.width_mm), side(basis.height_mm));
    let fits =
        [(width, height), (height, width)].into_iter().filter(|(across, _)| *across <= u64::from(roll_mm));
    let Some((across, strip_mm)) = fits.min_by_key(|(_, along)| *along) else {
        lacks.push(PriceLack::RollTooNarrow { piece_mm: width.min(height), roll_mm });
        return None;
    };
    let per_m = per_m?;
    let offcut_mm = u64::from(roll_mm).saturating_sub(across);
    Some(PricePart {
        basis: PartBasis::Cloth { strip_mm, roll_mm, offcut_mm, margin_mm, per_m },
        amount_cents: rounded_cents(number(strip_mm) / MM_PER_M * per_m.units()),
    })
}

fn frame(basis: &PriceBasis, lacks: &mut Vec<PriceLack>) -> [Option<PricePart>; 2] {
    let frame = known(basis.frame_hours, PriceLack::FrameHours, lacks);
    let wage = known(basis.wage_per_hour, PriceLack::Wage, lacks);
    let run = known(basis.run_hours, PriceLack::RunHours, lacks);
    let rate = known(basis.machine_hour_rate, PriceLack::MachineHourRate, lacks);
    let part = |basis, units| PricePart { basis, amount_cents: rounded_cents(units) };
    [
        frame.zip(wage).map(|(hours, wage)| part(PartBasis::Frame { hours, wage }, hours * wage)),
        run.zip(rate).map(|(hours, rate)| part(PartBasis::Running { hours, rate }, hours * rate)),
    ]
}

fn bench(basis: &PriceBasis, lacks: &mut Vec<PriceLack>) -> ([Option<PricePart>; 2], f64) {
    let mean = |own: Option<OwnMean>, terms_ms: Option<u64>| {
        let own = own.map(|own| (own.mean, MeanFrom::OwnRugs(own.rugs)));
        own.or_else(|| terms_ms.map(|ms| (number(ms) / number(HOUR_MS), MeanFrom::Terms)))
    };
    let per_rug = mean(basis.own.hours_per_rug, basis.terms.bench_per_rug_ms);
    let per_m2 = mean(basis.own.hours_per_m2, basis.terms.bench_per_m2_ms);
    let per_rug = known(per_rug, PriceLack::BenchPerRug, lacks);
    let per_m2 = known(per_m2, PriceLack::BenchPerM2, lacks);
    let per_area = per_m2.map(|(per_m2, from)| (per_m2, per_m2 * area_m2(basis), from));
    let hours = per_rug.map_or(0.0, |(hours, _)| hours) + per_area.map_or(0.0, |(_, hours, _)| hours);
    let part = |basis, units| PricePart { basis, amount_cents: rounded_cents(units) };
    let parts = [
        per_rug
            .zip(basis.wage_per_hour)
            .map(|((hours, from), wage)| part(PartBasis::BenchPerRug { hours, from, wage }, hours * wage)),
        per_area.zip(basis.wage_per_hour).map(|((per_m2, hours, from), wage)| {
            part(PartBasis::BenchPerM2 { hours, per_m2, from, wage }, hours * wage)
        }),
    ];
    (parts, hours)
}

#[cfg(test)]
#[path = "price_tests.rs"]
mod tests;

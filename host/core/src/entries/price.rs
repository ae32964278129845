//! What the maker says of how a rug is priced.

use serde::{Deserialize, Serialize};
use shared_types::UtcMillis;

use super::RugName;
use super::amount::Money;

/// Hundredths of a per cent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct BasisPoints(pub u32);

impl BasisPoints {
    /// The whole.
    pub const WHOLE: Self = Self(10_000);

    /// So much of an amount in whole cents, rounded to the cent, half a cent up.
    #[must_use]
    pub fn of_cents(self, cents: u64) -> u64 {
        let whole = u128::from(Self::WHOLE.0);
        let part = (u128::from(cents) * u128::from(self.0) + whole / 2) / whole;
        u64::try_from(part).unwrap_or(u64::MAX)
    }
}

/// What a price is worked out from, and what its client is told. The last entry counts, each part for itself.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct PriceTerms {
    /// A kilogram of yarn.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub yarn_per_kg: Option<Money>,
    /// Yarn of a square metre, in milligrams; own weighed rugs come before it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub yarn_mg_per_m2: Option<u64>,
    /// Spare yarn, a share of the yarn.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub yarn_spare: Option<BasisPoints>,
    /// A metre of the cloth's roll, over its full width.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cloth_per_m: Option<Money>,
    /// Width of the cloth's roll, in millimetres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub roll_width_mm: Option<u32>,
    /// Cloth beyond the rug, on each side, in millimetres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cloth_margin_mm: Option<u32>,
    /// Work away from the frame for every rug, in milliseconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bench_per_rug_ms: Option<u64>,
    /// Work away from the frame for every square metre, in milliseconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bench_per_m2_ms: Option<u64>,
    /// Mending, a share of the work.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mending: Option<BasisPoints>,
    /// Overhead, a share of materials, work and mending.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub overhead: Option<BasisPoints>,
    /// Shipping of a rug.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shipping: Option<Money>,
    /// Margin, a share of all costs but shipping.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub margin: Option<BasisPoints>,
    /// The least price of a rug.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least: Option<Money>,
    /// The step to which a price is rounded up; zero: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub round_to: Option<Money>,
    /// Deposit, a share of the price.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub deposit: Option<BasisPoints>,
    /// Changes of the design that the price includes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub changes_included: Option<u32>,
    /// Days for which a quote holds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub holds_days: Option<u32>,
    /// The maker's name, as clients read it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub maker: Option<String>,
    /// How clients reach the maker.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub contact: Option<String>,
    /// What a price includes, as clients read it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub included: Option<String>,
}

/// A price was worked out for a commission; of several the last one counts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RugPriced {
    /// Which.
    pub rug: RugName,
    /// When.
    pub at: UtcMillis,
    /// The currency of all amounts, as the maker writes it.
    pub currency: Option<String>,
    /// Time at the frame in milliseconds; none: it could not be told.
    pub frame_ms: Option<u64>,
    /// Bench time in milliseconds.
    pub bench_ms: u64,
    /// Materials, in whole cents.
    pub materials_cents: u64,
    /// Time at the frame and running, in whole cents.
    pub frame_cents: u64,
    /// Bench time, in whole cents.
    pub bench_cents: u64,
    /// Mending, overhead and shipping, in whole cents.
    pub extras_cents: u64,
    /// Margin, in whole cents.
    pub margin_cents: u64,
    /// The price, in whole cents.
    pub price_cents: u64,
    /// Whether something was missing in it.
    pub is_incomplete: bool,
}

/// A part of the terms of a price.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PriceTerm {
    /// A kilogram of yarn.
    YarnPerKg,
    /// Yarn of a square metre.
    YarnPerM2,
    /// Spare yarn.
    YarnSpare,
    /// A metre of the roll.
    ClothPerM,
    /// The roll's width.
    RollWidth,
    /// Cloth beyond the rug.
    ClothMargin,
    /// Bench time of a rug.
    BenchPerRug,
    /// Bench time of a square metre.
    BenchPerM2,
    /// Mending.
    Mending,
    /// Overhead.
    Overhead,
    /// Shipping.
    Shipping,
    /// Margin.
    Margin,
    /// The least price.
    Least,
    /// The step of rounding.
    RoundTo,
    /// Deposit.
    Deposit,
    /// Changes of the design.
    ChangesIncluded,
    /// How long a quote holds.
    HoldsDays,
    /// The maker's name.
    Maker,
    /// How clients reach the maker.
    Contact,
    /// What a price includes.
    Included,
}

impl PriceTerms {
    /// These, with what a later entry names.
    pub fn take(&mut self, later: &Self) {
        macro_rules! take {
            ($($field:ident),+) => { $(if later.$field.is_some() { self.$field.clone_from(&later.$field); })+ };
        }
        take!(yarn_per_kg, yarn_mg_per_m2, yarn_spare, cloth_per_m, roll_width_mm, cloth_margin_mm);
        take!(bench_per_rug_ms, bench_per_m2_ms, mending, overhead, shipping, margin, least, round_to);
        take!(deposit, changes_included, holds_days, maker, contact, included);
    }

    /// The parts that are said.
    #[must_use]
    pub fn said(&self) -> Vec<PriceTerm> {
        use PriceTerm as Term;
        let all = [
            (Term::YarnPerKg, self.yarn_per_kg.is_some()),
            (Term::YarnPerM2, self.yarn_mg_per_m2.is_some()),
            (Term::YarnSpare, self.yarn_spare.is_some()),
            (Term::ClothPerM, self.cloth_per_m.is_some()),
            (Term::RollWidth, self.roll_width_mm.is_some()),
            (Term::ClothMargin, self.cloth_margin_mm.is_some()),
            (Term::BenchPerRug, self.bench_per_rug_ms.is_some()),
            (Term::BenchPerM2, self.bench_per_m2_ms.is_some()),
            (Term::Mending, self.mending.is_some()),
            (Term::Overhead, self.overhead.is_some()),
            (Term::Shipping, self.shipping.is_some()),
            (Term::Margin, self.margin.is_some()),
            (Term::Least, self.least.is_some()),
            (Term::RoundTo, self.round_to.is_some()),
            (Term::Deposit, self.deposit.is_some()),
            (Term::ChangesIncluded, self.changes_included.is_some()),
            (Term::HoldsDays, self.holds_days.is_some()),
            (Term::Maker, self.maker.is_some()),
            (Term::Contact, self.contact.is_some()),
            (Term::Included, self.included.is_some()),
        ];
        all.into_iter().filter_map(|(term, is_said)| is_said.then_some(term)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::EntryBody;

    #[test]
    fn they_are_kept_under_names_that_never_change_and_only_what_was_said() {
        let body = EntryBody::PriceTerms(PriceTerms {
            yarn_per_kg: Some(Money(18_500_000)),
            margin: Some(BasisPoints(1_250)),
            ..PriceTerms::default()
        });
        let kept = r#"{"kind":"price_terms","yarn_per_kg":18500000,"margin":1250}"#;
        assert_eq!(serde_json::to_string(&body).unwrap(), kept);
        assert_eq!(serde_json::from_str::<EntryBody>(kept).unwrap(), body);
    }

    #[test]
    fn a_price_of_a_commission_is_kept_line_by_line() {
        let kept = r#"{"kind":"rug_priced","rug":"Fox","at":7,"currency":null,"frame_ms":3600000,"bench_ms":0,"materials_cents":100,"frame_cents":2500,"bench_cents":0,"extras_cents":5,"margin_cents":6,"price_cents":2611,"is_incomplete":true}"#;
        let body: EntryBody = serde_json::from_str(kept).unwrap();
        assert!(matches!(&body, EntryBody::RugPriced(of) if of.price_cents == 2_611));
        assert_eq!(serde_json::to_string(&body).unwrap(), kept);
    }

    #[test]
    fn a_later_entry_changes_only_what_it_names() {
        let mut terms =
            PriceTerms { yarn_per_kg: Some(Money(1)), maker: Some("A".to_owned()), ..PriceTerms::default() };
        terms.take(&PriceTerms {
            yarn_per_kg: Some(Money(2)),
            holds_days: Some(30),
            ..PriceTerms::default()
        });
        assert_eq!(
            (terms.yarn_per_kg, terms.maker.as_deref(), terms.holds_days),
            (Some(Money(2)), Some("A"), Some(30))
        );
        assert_eq!(terms.said(), [PriceTerm::YarnPerKg, PriceTerm::HoldsDays, PriceTerm::Maker]);
    }

    #[test]
    fn a_share_of_cents_is_rounded_half_up_and_never_overflows() {
        // By hand: 3 % of 350.59 are 10.5177; 12.5 % of 0.04 are half a cent.
        assert_eq!(BasisPoints(300).of_cents(35_059), 1_052);
        assert_eq!(BasisPoints(1_250).of_cents(4), 1);
        assert_eq!(BasisPoints(0).of_cents(u64::MAX), 0);
        assert_eq!(BasisPoints::WHOLE.of_cents(u64::MAX), u64::MAX);
    }
}

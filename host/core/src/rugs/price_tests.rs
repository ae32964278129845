use super::*;

const fn units(units: u64) -> Option<Money> {
    Some(Money(units * 1_000_000))
}

fn whole() -> PriceBasis {
    PriceBasis {
        width_mm: 800,
        height_mm: 1_200,
        run_hours: Some(3.25),
        frame_hours: Some(8.5),
        machine_hour_rate: Some(0.95),
        wage_per_hour: Some(25.0),
        yarn_kg_per_m2: Some(2.5),
        terms: PriceTerms {
            yarn_per_kg: Some(Money(18_500_000)),
            yarn_spare: Some(BasisPoints(1_000)),
            cloth_per_m: units(9),
            roll_width_mm: Some(1_500),
            cloth_margin_mm: Some(100),
            bench_per_rug_ms: Some(3 * HOUR_MS),
            bench_per_m2_ms: Some(2 * HOUR_MS + HOUR_MS / 2),
            mending: Some(BasisPoints(300)),
            overhead: Some(BasisPoints(800)),
            shipping: units(25),
            margin: Some(BasisPoints(1_500)),
            least: units(180),
            round_to: units(10),
            ..PriceTerms::default()
        },
        own: OwnBench::default(),
    }
}

#[test]
fn a_price_is_that_worked_out_on_paper_to_the_cent() {
    // 80 x 120 cm are 0.96 m².
    // Materials: 0.96 m² at 2.5 kg are 2.4 kg, with a tenth spare 2.64 kg at 18.50: 48.84. The piece is 100 x 140 cm; 140 cm
    // lie across the roll of 150 cm, so the strip is 1 m at 9: 9.00. Together 57.84.
    // Frame: 8.5 h at 25 are 212.50; 3.25 h at 0.95 are 3.0875, so 3.09. Together 215.59.
    // Bench: 3 h at 25 are 75.00; 0.96 m² at 2.5 h are 2.4 h at 25: 60.00. Together 135.00.
    // Extras: 3 % of 350.59 are 10.5177, so 10.52; 8 % of 57.84 + 215.59 + 135 + 10.52 = 418.95 are 33.516, so 33.52;
    // shipping 25.00. Together 69.04.
    // Margin: 15 % of 418.95 + 33.52 = 452.47 are 67.8705, so 67.87.
    // Sum: 57.84 + 215.59 + 135.00 + 69.04 + 67.87 = 545.34; rounded up to tens 550.
    let price = price(&whole());
    let lines: Vec<u64> = price.lines.iter().map(|line| line.amount_cents).collect();
    assert_eq!(lines, [5_784, 21_559, 13_500, 6_904, 6_787]);
    assert_eq!((price.sum_cents, price.price_cents), (54_534, 55_000));
    assert_eq!((price.is_incomplete, price.lacks.len()), (false, 0));
    assert!((price.bench_hours - 5.4).abs() < 1e-12);
}

#[test]
fn the_cloth_is_laid_the_shorter_way_and_a_roll_that_is_too_narrow_is_named() {
    let strip = |roll_mm: u32| {
        let mut basis = whole();
        basis.terms.roll_width_mm = Some(roll_mm);
        let price = price(&basis);
        let cloth = price.lines.iter().flat_map(|line| &line.parts).find_map(|part| match part.basis {
            PartBasis::Cloth { strip_mm, offcut_mm, .. } => Some((strip_mm, offcut_mm, part.amount_cents)),
            _ => None,
        });
        (cloth, price.lacks)
    };
    // By hand: the piece is 1,000 x 1,400 mm.
    assert_eq!(strip(1_400), (Some((1_000, 0, 900)), vec![]));
    assert_eq!(strip(1_399), (Some((1_400, 399, 1_260)), vec![]));
    assert_eq!(strip(1_000), (Some((1_400, 0, 1_260)), vec![]));
    assert_eq!(strip(999), (None, vec![PriceLack::RollTooNarrow { piece_mm: 1_000, roll_mm: 999 }]));
}

#[test]
fn what_is_missing_is_named_and_makes_the_price_incomplete() {
    let nothing = price(&PriceBasis { width_mm: 800, height_mm: 1_200, ..PriceBasis::default() });
    assert_eq!((nothing.sum_cents, nothing.is_incomplete), (0, true));
    assert_eq!(nothing.lacks.len(), 15);
    let lacking = |change: fn(&mut PriceBasis)| {
        let mut basis = whole();
        change(&mut basis);
        price(&basis).lacks
    };
    assert_eq!(lacking(|basis| basis.terms.yarn_per_kg = None), [PriceLack::YarnPerKg]);
    assert_eq!(lacking(|basis| basis.yarn_kg_per_m2 = None), [PriceLack::YarnPerM2]);
    assert_eq!(lacking(|basis| basis.wage_per_hour = None), [PriceLack::Wage]);
    assert_eq!(lacking(|basis| basis.machine_hour_rate = None), [PriceLack::MachineHourRate]);
    assert_eq!(lacking(|basis| basis.terms.shipping = None), [PriceLack::Shipping]);
    assert_eq!(lacking(|basis| basis.terms.least = None), []);
    assert_eq!(lacking(|basis| basis.terms.round_to = None), []);
    // Nought is said, not missing.
    assert_eq!(lacking(|basis| basis.terms.shipping = Some(Money(0))), []);
}

#[test]
fn own_rugs_come_before_the_terms_from_four_on() {
    let from = |own: Option<u64>, terms: Option<u64>| {
        let mut basis = whole();
        basis.yarn_kg_per_m2 = None;
        basis.own.yarn_kg_per_m2 = own.map(|rugs| OwnMean { mean: 3.0, rugs });
        basis.terms.yarn_mg_per_m2 = terms;
        let price = price(&basis);
        price.lines.iter().flat_map(|line| &line.parts).find_map(|part| match part.basis {
            PartBasis::Yarn { from, kg_per_m2, .. } => Some((from, kg_per_m2)),
            _ => None,
        })
    };
    assert_eq!(from(Some(4), Some(2_000_000)), Some((MeanFrom::OwnRugs(4), 3.0)));
    assert_eq!(from(Some(3), Some(2_000_000)), Some((MeanFrom::Terms, 2.0)));
    assert_eq!(from(Some(1), None), Some((MeanFrom::OwnRugs(1), 3.0)));
    assert_eq!(from(None, None), None);
}

#[test]
fn a_small_rug_costs_the_least_price_and_a_huge_one_stops_at_the_end() {
    let mut tiny = whole();
    (tiny.width_mm, tiny.height_mm) = (0, 0);
    (tiny.run_hours, tiny.frame_hours) = (Some(0.0), Some(0.0));
    tiny.terms.least = Some(Money(181_000_000));
    // By hand: nothing but the margin's cloth, 0.2 m at 9 = 1.80, and 3 h of bench: 75; mending 2.25; overhead 8 % of 79.05 =
    // 6.324, so 6.32; shipping 25; margin 15 % of 85.37 = 12.8055, so 12.81: 123.18. At least 181, rounded up to 190.
    let price_of_tiny = price(&tiny);
    assert_eq!((price_of_tiny.sum_cents, price_of_tiny.price_cents), (12_318, 19_000));
    let mut huge = whole();
    (huge.width_mm, huge.height_mm) = (u32::MAX, u32::MAX);
    huge.frame_hours = Some(f64::MAX);
    huge.terms.roll_width_mm = Some(u32::MAX);
    let price = price(&huge);
    // A part stops at the largest whole number of 64 bits with a sign.
    assert!(price.price_cents >= i64::MAX.unsigned_abs());
    assert!(price.lacks.iter().any(|lack| matches!(lack, PriceLack::RollTooNarrow { .. })));
}

//! Strokes for each square metre, rug by rug.

use std::collections::BTreeMap;

use serde::Serialize;

use super::commission::Commissions;
use super::own_rugs::{self, OwnRugs};
use super::rug_work::RugTaken;
use crate::entries::Style;
use crate::stats::number;
use crate::studio::{RugIndex, RugState, Studio};

const MM2_PER_M2: f64 = 1_000_000.0;

/// One commission.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DensityBar {
    /// Its name.
    pub rug: String,
    /// How it stands; before its tufting is done the number still grows.
    pub state: RugState,
    /// Its style.
    pub style: Option<Style>,
    /// Its area in square metres.
    pub area_m2: f64,
    /// Whole strokes.
    pub strokes: u64,
    /// Strokes for each square metre.
    pub strokes_per_m2: f64,
}

/// The series of the picture `density`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DensityReport {
    /// Commissions with a size and strokes, in the order in which they were taken.
    pub rugs: Vec<DensityBar>,
    /// Strokes for each square metre of the finished ones, in the geometric mean.
    pub usual_strokes_per_m2: Option<f64>,
    /// Commissions with strokes but without a size.
    pub without_size: u64,
    /// Commissions with sessions that were typed in: strokes exist only where they were counted.
    pub partly_typed: u64,
}

impl DensityReport {
    /// All commissions.
    #[must_use]
    pub fn of(
        studio: &Studio,
        commissions: &Commissions,
        taken: &BTreeMap<RugIndex, RugTaken>,
        own: &OwnRugs,
    ) -> Self {
        let mut report =
            Self { rugs: Vec::new(), usual_strokes_per_m2: None, without_size: 0, partly_typed: 0 };
        for (place, taken) in taken {
            let Some(rug) = studio.rug_at(*place) else { continue };
            if taken.has_typed() {
                report.partly_typed += 1;
                continue;
            }
            let strokes = taken.strokes(studio);
            if strokes == 0 {
                continue;
            }
            let Some(area) = own_rugs::area_mm2(rug) else {
                report.without_size += 1;
                continue;
            };
            let area_m2 = number(area) / MM2_PER_M2;
            report.rugs.push(DensityBar {
                rug: rug.order.rug.0.clone(),
                state: rug.state(),
                style: own_rugs::style(studio, commissions, rug, taken),
                area_m2,
                strokes,
                strokes_per_m2: number(strokes) / area_m2,
            });
        }
        let logs: Vec<f64> = own
            .rugs
            .iter()
            .filter_map(|rug| Some((rug.strokes.filter(|strokes| *strokes > 0)?, rug.area_mm2)))
            .map(|(strokes, area)| (number(strokes) / number(area) * MM2_PER_M2).ln())
            .collect();
        if let Ok(count @ 1..) = u64::try_from(logs.len()) {
            report.usual_strokes_per_m2 = Some((logs.iter().sum::<f64>() / number(count)).exp());
        }
        report
    }
}

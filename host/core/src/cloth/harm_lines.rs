//! Tears and near-misses as they are listed: by a short number, with how long the cloth had been tight.

use std::collections::BTreeMap;

use serde::Serialize;

use super::harms::{HarmId, HarmRecord, sort_by_time};

/// A tear or near-miss in a list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct HarmLine {
    /// What commands take for it: its name, without the log's mark where that tells it from all others.
    pub number: String,
    /// What is known of it.
    #[serde(flatten)]
    pub harm: HarmRecord,
    /// Run time since the cloth was tensioned or put on the frame, in milliseconds; null where that is not known.
    pub run_since_tensioning_ms: Option<u64>,
}

/// Those of `all` that are `wanted`, in the order of time, what cannot be dated first.
#[must_use]
pub fn harm_lines(
    all: &[HarmRecord],
    since_ms: &BTreeMap<HarmId, u64>,
    wanted: impl Fn(&HarmRecord) -> bool,
) -> Vec<HarmLine> {
    let mut same_number: BTreeMap<u32, u32> = BTreeMap::new();
    for harm in all {
        if let HarmId::Press(_, seq) = harm.id {
            *same_number.entry(seq.0).or_default() += 1;
        }
    }
    let mut harms: Vec<HarmRecord> = all.iter().filter(|harm| wanted(harm)).cloned().collect();
    sort_by_time(&mut harms);
    let line = |harm: HarmRecord| HarmLine {
        number: match harm.id {
            HarmId::Press(_, seq) if same_number.get(&seq.0) == Some(&1) => format!("p{}", seq.0),
            id => id.to_string(),
        },
        run_since_tensioning_ms: since_ms.get(&harm.id).copied(),
        harm,
    };
    harms.into_iter().map(line).collect()
}

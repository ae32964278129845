//! What was written into a calendar, so that a later file can correct it.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use shared_types::MachineTag;

use super::CareTaskName;

/// A care task's due date went into a calendar file. A file that shows another date needs a higher sequence number.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct DuePublished {
    /// The machine.
    pub machine: MachineTag,
    /// The task.
    pub task: CareTaskName,
    /// The day.
    #[serde(with = "day_text")]
    pub due_on: Date,
    /// The first day of the range that was told with it.
    #[serde(with = "day_text_or_none", default)]
    pub earliest: Option<Date>,
    /// The last day of the range that was told with it.
    #[serde(with = "day_text_or_none", default)]
    pub latest: Option<Date>,
    /// 0 for the first date, one more for each other date since, and for each time that it was taken out.
    pub sequence: u32,
    /// Whether the day was taken out of the calendar.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub cancelled: bool,
}

/// A day as "2026-03-09".
mod day_text {
    use jiff::civil::Date;
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub fn serialize<S: Serializer>(day: &Date, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(day)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Date, D::Error> {
        String::deserialize(from)?.parse().map_err(D::Error::custom)
    }
}

/// A day as text, or null.
mod day_text_or_none {
    use jiff::civil::Date;
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub fn serialize<S: Serializer>(day: &Option<Date>, out: S) -> Result<S::Ok, S::Error> {
        super::day_as_text(day, out)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Date>, D::Error> {
        Option::<String>::deserialize(from)?.map(|text| text.parse()).transpose().map_err(D::Error::custom)
    }
}

/// Writes a day as `2026-03-04`, or null.
///
/// # Errors
/// Those of the serializer.
pub fn day_as_text<S: serde::Serializer>(day: &Option<Date>, out: S) -> Result<S::Ok, S::Error> {
    match day {
        Some(day) => out.collect_str(day),
        None => out.serialize_none(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::EntryBody;
    use jiff::civil::date;

    #[test]
    fn it_is_kept_under_names_and_in_a_form_that_never_change() {
        let body = EntryBody::DuePublished(DuePublished {
            machine: MachineTag(1),
            task: CareTaskName("oiling".to_owned()),
            due_on: date(2026, 3, 9),
            earliest: Some(date(2026, 3, 5)),
            latest: None,
            sequence: 2,
            cancelled: false,
        });
        let kept = r#"{"kind":"due_published","machine":1,"task":"oiling","due_on":"2026-03-09","earliest":"2026-03-05","latest":null,"sequence":2}"#;
        assert_eq!(serde_json::to_string(&body).unwrap(), kept);
        assert_eq!(serde_json::from_str::<EntryBody>(kept).unwrap(), body);
        let cancelled = kept.replace("\"sequence\":2", "\"sequence\":3,\"cancelled\":true");
        let EntryBody::DuePublished(told) = serde_json::from_str(&cancelled).unwrap() else { unreachable!() };
        assert_eq!((told.sequence, told.cancelled), (3, true));
        assert_eq!(serde_json::to_string(&EntryBody::DuePublished(told)).unwrap(), cancelled);
        let bad = kept.replace("2026-03-09", "2026-02-30");
        assert!(serde_json::from_str::<EntryBody>(&bad).unwrap_err().to_string().contains("day"));
    }
}

use jiff::tz::TimeZone;
use serde_json::{Value, json};
use shared_types::{MachineTag, UtcMillis};

use super::{Reader, describe};
use crate::app::hand::people::Person;
use host_core::book::lines::{BookLine, Chapter};
use host_core::entries::{EntryBody, EntryId, PersonTag};

/// The words of an entry as it is stored, in the book of machine 1.
fn said(stored: Value) -> String {
    let kind = stored["kind"].clone();
    let body: EntryBody = serde_json::from_value(stored).unwrap();
    assert_eq!(body.kind(), kind, "as it is kept");
    let line = BookLine {
        entry: EntryId(1),
        entered_utc_ms: UtcMillis(0),
        at_utc_ms: None,
        chapter: Chapter::Machine,
        kind: body.kind(),
        says: body,
        withdrawn: None,
    };
    let people = [Person { person: PersonTag(3), name: Some("Ana".to_owned()) }];
    describe(&line, &Reader { machine: MachineTag(1), people: &people, zone: &TimeZone::UTC })
}

fn of_the_machine() -> Vec<(Value, &'static str)> {
    vec![
        (
            json!({"kind": "machine_added", "machine": 1, "name": "Rosie", "pile": "cut", "before_logger": 144_000_000, "since": 0}),
            "Entered as “Rosie”: cut pile, moved by a motor; ran about 40 h before, by its owner's estimate",
        ),
        (
            json!({"kind": "machine_added", "machine": 1, "name": "Rosie", "pile": "cut", "before_logger": null, "since": 0, "has_logger": false, "is_second_hand": true}),
            "Entered as “Rosie”: cut pile, moved by a motor; without a logger; second-hand, its parts of unknown age",
        ),
        (
            json!({"kind": "machine_rested", "machine": 1, "at": 0, "rests": true, "reason": "gear broken"}),
            "Taken out of use; because: “gear broken”",
        ),
        (
            json!({"kind": "machine_rested", "machine": 1, "at": 0, "rests": false, "reason": null}),
            "Taken back into use",
        ),
        (
            json!({"kind": "knob_marked", "machine": 1, "slow": 3450, "fast": 1850, "rising": true}),
            "The knob's ends were read: 3450 at the slow end, 1850 at the fast end, rising in between",
        ),
        (
            json!({"kind": "edge_ratio_set", "machine": 1, "edges": 2, "strokes": 1}),
            "2 passes of a magnet make 1 stroke",
        ),
        (
            json!({"kind": "logger_fitted", "machine": 1, "logger": 161, "log": 178, "from": 0}),
            "Logger 00000000000000a1 sits on it, from its first record on",
        ),
        (
            json!({"kind": "logger_fitted", "machine": 2, "logger": 161, "log": 178, "from": 9}),
            "Logger 00000000000000a1 sits on machine 2 instead, from its record 9 on",
        ),
        (
            json!({"kind": "rug_work", "rug": "Fox", "machine": 1, "change": "finished", "at": 0}),
            "Fox: tufting finished",
        ),
        (
            json!({"kind": "bursts_assigned", "logger": 161, "log": 178, "from": 5, "to": 9, "owner": {"rug": "Fox"}, "certainty": "explicit"}),
            "Running of records 5 to 9 moved to Fox",
        ),
    ]
}

fn of_care() -> Vec<(Value, &'static str)> {
    vec![
        (
            json!({"kind": "care_done", "machine": 1, "task": "oiling", "at": 0, "finding": "grey_black_oil", "note": "two drops"}),
            "Oiling done; found: grey-black oil on the wipe; “two drops”",
        ),
        (
            json!({"kind": "care_limit_set", "machine": 1, "task": "oiling", "every_run": 7_200_000, "every_days": 0, "more": {"every_strokes": 90000}}),
            "Limits of oiling changed: every 2 h of running, no limit by days, every 90,000 strokes",
        ),
        (
            json!({"kind": "care_snoozed", "machine": 1, "task": "oiling", "at": 0, "for_run": 3_600_000, "until": null, "reason": "in a hurry"}),
            "Oiling put off for 1 h of running; because: “in a hurry”",
        ),
        (
            json!({"kind": "care_skipped", "machine": 1, "task": "oiling", "at": 0, "reason": null}),
            "Oiling left out this time",
        ),
        (
            json!({"kind": "care_task_added", "machine": 1, "task": "foot", "what": "look at it", "caution": "unplug", "lubricant": null, "every_run": null, "every_days": 7}),
            "Task foot added: “look at it”; mind: “unplug”; every 7 days",
        ),
        (
            json!({"kind": "care_task_switched", "machine": 1, "task": "belt", "on": false, "reason": "has none"}),
            "Belt switched off; because: “has none”",
        ),
        (
            json!({"kind": "oil_point_changed", "machine": 1, "point": "crank pin", "change": {"gets": "grease"}}),
            "Point “crank pin” gets gear grease, not oil now",
        ),
        (
            json!({"kind": "pile_height_set", "machine": 1, "tenths_mm": 125, "at": 0}),
            "Pile height set to 12.5 mm",
        ),
    ]
}

fn of_cloth_and_limits() -> Vec<(Value, &'static str)> {
    vec![
        (
            json!({"kind": "tear_noted", "harm": "tear", "machine": 1, "at": 0, "knob_per_mille": 620, "details": {"rug": "Fox", "cloth_lot": null, "note": "edge", "answers": {"tension": "slack"}}}),
            "Tear; knob at 62 %; on Fox, “edge”, cloth felt slack",
        ),
        (
            json!({"kind": "press_withdrawn", "logger": 161, "log": 178, "seq": 7, "reason": "leant on it"}),
            "The press of the button that is record 7 was a mistake; because: “leant on it”",
        ),
        (
            json!({"kind": "ceiling_set", "machine": 1, "knob_per_mille": 705, "was_proposed": true}),
            "Ceiling of the knob set to 70.5 % of its travel, as it was proposed",
        ),
        (
            json!({"kind": "hand_hours", "machine": 1, "rug": "Fox", "at": 0, "run": 1_800_000, "tufting_ms": 3_600_000, "knob_per_mille": null}),
            "Written by hand: 30 min of running and 1 h at the frame for Fox",
        ),
        (
            json!({"kind": "machine_costs", "machine": 1, "basis": {"price": 260_500_000, "resale": 60_000_000, "life_hours": 600.0, "period_hours": 20.0, "period_costs": [5_000_000], "hour_costs": [1_000_000, 250_000]}}),
            "Costs: price 260.50, worth 60 at the end of its 600 h of life; 5 in 20 h; 1 + 0.25 for each hour",
        ),
        (
            json!({"kind": "vibration_figure", "machine": 1, "a_hv_mm_s2": 4500, "source": "declared"}),
            "Vibration figure 4.5 m/s², declared by its manufacturer",
        ),
        (json!({"kind": "duty_rated", "machine": 1, "rating": null}), "Duty rating taken away"),
        (
            json!({"kind": "heavy_limit_set", "machine": 1, "limit": "day_hours", "thousandths": 4500}),
            "Limit of heavy use: longest day: 4.5 h",
        ),
        (
            json!({"kind": "heavy_limit_set", "machine": 1, "limit": "sag_percent", "thousandths": 10000}),
            "Limit of heavy use: strokes may fall at the same place by: 10 %",
        ),
    ]
}

fn of_parts_people_and_loans() -> Vec<(Value, &'static str)> {
    vec![
        (
            json!({"kind": "part_fitted", "machine": 1, "part": "needle", "serial": "A1", "at": 0, "note": null}),
            "Needle A1 fitted",
        ),
        (
            json!({"kind": "part_taken_off", "machine": 1, "part": "needle", "serial": null, "at": 0, "why": "worn_out", "note": "a burr"}),
            "Needle taken off: worn out; “a burr”",
        ),
        (
            json!({"kind": "machine_fault", "machine": 1, "what": "belt slipped", "at": 0, "mended": "tightened"}),
            "Failed: “belt slipped”; mended: “tightened”",
        ),
        (
            json!({"kind": "hands_at_work", "machine": null, "person": 3, "from": 0}),
            "From then on Ana works with every machine",
        ),
        (
            json!({"kind": "hands_of_bursts", "logger": 161, "log": 178, "first": 5, "last": 9, "person": 4}),
            "Running of records 5 to 9 was worked by person 4",
        ),
        (
            json!({"kind": "machine_lent", "machine": 1, "to": 3, "at": 0, "condition": "clean", "reading": {"run": 7_200_000, "strokes": 1234}}),
            "Lent to Ana; condition: “clean”; reading: 2 h of running, 1,234 strokes",
        ),
        (
            json!({"kind": "machine_returned", "machine": 1, "at": 0, "condition": null, "reading": {"run": 7_200_000, "strokes": 90, "run_at_most": 7_260_000, "strokes_at_most": 99, "source": "log"}}),
            "Came back; reading: 2 h to 2 h 1 min of running, 90 to 99 strokes",
        ),
        (
            json!({"kind": "due_published", "machine": 1, "task": "oiling", "due_on": "2026-03-09", "earliest": "2026-03-05", "latest": null, "sequence": 2}),
            "Oiling on Mon 9 Mar 2026; not before Thu 5 Mar 2026",
        ),
        (
            json!({"kind": "due_published", "machine": 1, "task": "oiling", "due_on": "2026-03-09", "earliest": null, "latest": null, "sequence": 3, "cancelled": true}),
            "Oiling on Mon 9 Mar 2026 holds no more: taken out",
        ),
    ]
}

#[test]
fn an_entry_of_every_kind_that_names_a_machine_has_plain_words() {
    // One of each kind that names a machine, as it is stored, and its words.
    let kinds = [of_the_machine(), of_care(), of_cloth_and_limits(), of_parts_people_and_loans()];
    for (stored, words) in kinds.into_iter().flatten() {
        let kind = stored["kind"].clone();
        let found = said(stored);
        assert_eq!(found, words, "{kind}");
        assert!(!found.contains('_') && !found.contains("per mille"), "{found}");
    }
}

#[test]
fn a_kind_that_stands_in_no_machines_book_is_called_by_its_name() {
    let told =
        said(json!({"kind": "stock_moved", "item": "needle", "change": {"in": 3}, "at": 0, "note": null}));
    assert_eq!(told, "stock moved");
}

//! The table of one day as spreadsheets and slips of the pen write it, held against the formula by hand: points are
//! (a / 2.5)² × (T / 8 h) × 100, as the Health and Safety Executive (hse.gov.uk) explains them; the action value of 2.5 m/s²
//! over eight hours is 100 points, the limit value of 5 m/s² is 400.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::Studio;
use crate::bench_studio::program::Told;
use serde_json::Value;

fn asked(studio: &Studio, table: &[u8]) -> Told {
    std::fs::write(studio.path().with_file_name("day.csv"), table).unwrap();
    studio.ask(&["exposure", "--table", "day.csv", "--json"])
}

fn answer(studio: &Studio, table: &str) -> Value {
    let told = asked(studio, table.as_bytes());
    assert_eq!(told.code(), 0, "{table:?}: {told:?}");
    told.json()
}

/// By hand, from rows of vibration and minutes.
fn points(rows: &[(f64, f64)]) -> f64 {
    rows.iter().map(|(a, minutes)| (a / 2.5).powi(2) * (minutes / 480.0) * 100.0).sum()
}

fn assert_near(found: &Value, right: f64, what: &str) {
    let found = found.as_f64().unwrap();
    assert!((found - right).abs() <= 1e-9 * right.abs().max(1e-300), "{what}: {found} is not {right}");
}

#[test]
fn a_table_is_read_however_a_spreadsheet_writes_it() {
    let studio = Studio::empty();
    let rows = [(4.5, 90.0), (7.0, 30.0)];
    for table in [
        "a_hv_m_s2,minutes\n4.5,90\n7,30\n",
        "a_hv_m_s2,minutes\n4.5,90\n7,30",
        "\u{feff}a_hv_m_s2,minutes\r\n4.5,90\r\n7,30\r\n",
        "\u{feff}\"a_hv_m_s2\",\"minutes\"\r\n\"4.5\",\"90\"\r\n\"7\",\"30\"\r\n",
        "a_hv_m_s2,minutes\n\n4.5,90\n\n,\n7,30\n\n",
        " a_hv_m_s2 , minutes \n 4.5 , 90 \n\t7,30\n",
        "minutes,a_hv_m_s2\n90,4.5\n30,7\n",
        "tool,minutes,note,a_hv_m_s2\nRosie,90,\"two, or more\",4.5\nNelly,30,,7\n",
        "A_HV_M_S2,Minutes\n4.50,9e1\n7.0,30.0\n",
    ] {
        let found = answer(&studio, table);
        assert_near(&found["points"], points(&rows), table);
        assert_near(&found["a8_m_s2"], (points(&rows) / 100.0).sqrt() * 2.5, table);
        let tools = found["tools"].as_array().unwrap();
        assert_eq!(tools.len(), 2, "{table:?}");
        for (tool, (a, _)) in tools.iter().zip(rows) {
            assert_near(&tool["minutes_to_action_value"], 480.0 * (2.5 / a).powi(2), table);
            assert_near(&tool["minutes_to_limit_value"], 480.0 * (5.0 / a).powi(2), table);
        }
    }
}

#[test]
fn a_value_counts_as_reached_within_a_thousand_millionth_of_it_and_not_beyond() {
    let studio = Studio::empty();
    let of = |a: &str, minutes: &str| {
        let found = answer(&studio, &format!("a_hv_m_s2,minutes\n{a},{minutes}\n"));
        (
            found["action_value"].as_str().unwrap().to_owned(),
            found["limit_value"].as_str().unwrap().to_owned(),
        )
    };
    let pair = |action: &str, limit: &str| (action.to_owned(), limit.to_owned());
    assert_eq!(of("2.5", "480"), pair("reached", "below"));
    assert_eq!(of("5", "480"), pair("exceeded", "reached"));
    assert_eq!(of("5", "120"), pair("reached", "below"));
    assert_eq!(of("10", "120"), pair("exceeded", "reached"));
    // A(8) is proportional to the vibration: 1e-10 of it is within, 1e-8 is not.
    assert_eq!(of("2.50000000025", "480"), pair("reached", "below"));
    assert_eq!(of("2.49999999975", "480"), pair("reached", "below"));
    assert_eq!(of("2.500000025", "480"), pair("exceeded", "below"));
    assert_eq!(of("2.499999975", "480"), pair("below", "below"));
    assert_eq!(of("5.00000005", "480"), pair("exceeded", "exceeded"));
    assert_eq!(of("4.99999995", "480"), pair("exceeded", "below"));
}

#[test]
fn a_tool_that_does_not_vibrate_never_reaches_a_value_and_one_not_used_adds_nothing() {
    let studio = Studio::empty();
    let found = answer(&studio, "a_hv_m_s2,minutes\n0,60\n4,0\n");
    assert_eq!((&found["points"], &found["a8_m_s2"]), (&0.0.into(), &0.0.into()));
    assert_eq!((&found["action_value"], &found["limit_value"]), (&"below".into(), &"below".into()));
    assert_eq!(found["tools"][0]["minutes_to_action_value"], Value::Null);
    assert_eq!(found["tools"][0]["minutes_to_limit_value"], Value::Null);
    assert_near(&found["tools"][1]["minutes_to_action_value"], 187.5, "480 × (2.5 / 4)²");
}

#[test]
fn a_table_that_cannot_be_is_refused_with_its_line_and_no_number() {
    let studio = Studio::empty();
    for (rows, line) in [
        ("-1,60", "line 2"),
        ("4,-1", "minutes"),
        ("NaN,60", "line 2"),
        ("4,NaN", "line 2"),
        ("inf,60", "line 2"),
        ("4,inf", "line 2"),
        ("-inf,60", "line 2"),
        ("1e308,60", "line 2"),
        ("4,1e308", "minutes"),
        ("4,1e999", "line 2"),
        ("four,60", "line 2"),
        // A decimal comma makes three cells of two.
        ("4,5,60", "line 2: this row has more cells"),
        ("0x4,60", "line 2"),
        ("=4,60", "line 2"),
        ("4,", "minutes is missing"),
        (",60", "a_hv_m_s2 is missing"),
        ("4", "minutes is missing"),
        ("4,1440.1", "minutes"),
        ("4,800\n4,700", "1500 minutes"),
        ("", "no rows"),
    ] {
        let told = asked(&studio, format!("a_hv_m_s2,minutes\n{rows}\n").as_bytes());
        assert_eq!(told.code(), 6, "{rows:?}: {told:?}");
        assert!(told.err().contains(line) && told.out().is_empty(), "{rows:?}: {told:?}");
    }
    for table in [
        &b"a_hv_m_s2\n4\n"[..],
        b"minutes\n60\n",
        b"",
        b"\n\n",
        b"a,b\n1,2\n",
        b"a_hv_m_s2,minutes\n\xff,60\n",
    ] {
        let told = asked(&studio, table);
        assert_eq!(told.code(), 6, "{table:?}: {told:?}");
    }
    // A whole day in two halves is a day.
    let day = answer(&studio, "a_hv_m_s2,minutes\n1,720\n1,720\n");
    assert_near(&day["points"], points(&[(1.0, 1440.0)]), "a whole day");
}

//! The record book as a maker makes it: what stands in it, that corrections stay visible, and that its head proves it later.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio;
use crate::bench_studio::program::place;
use crate::bench_studio::{Log, MONDAY_8, Studio, reading, running};
use rusqlite::Connection;
use shared_types::log::PressKind;
use shared_types::{Edges, RunMillis, Totals, UtcMillis};

/// Machine 1 with forty hours before its logger, ten minutes measured (6,000 strokes) with one care press, half an hour by hand.
fn studio() -> Studio {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run(10, 10, 300);
    log.press(30, PressKind::CareDone, 300);
    studio.pulled(&log);
    studio.ok(&["hours", "add", "--run-minutes", "30", "--tufting-minutes", "90", "--when", "2026-03-04"]);
    studio
}

fn page(studio: &Studio, more: &[&str]) -> String {
    let words = [&["book", "--out", "book.html"], more].concat();
    studio.ok(&words);
    std::fs::read_to_string(studio.path().with_file_name("book.html")).unwrap()
}

/// The text of a page, without tags.
fn text(html: &str) -> String {
    let mut text = String::new();
    let mut inside = false;
    for letter in html.chars() {
        match letter {
            '<' => inside = true,
            '>' => {
                inside = false;
                text.push(' ');
            }
            letter if !inside => text.push(letter),
            _ => {}
        }
    }
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn three_kinds_of_hours_stand_apart() {
    let (_folder, path) = place();
    let run = |words: &[&str]| bench_studio::program::run(&path, words).ok();
    run(&["machine", "add", "Old Faithful", "--hours-before", "40", "--since", "2026-01-05"]);
    let book: serde_json::Value = serde_json::from_str(&run(&["book", "--json"])).unwrap();
    assert_eq!(book["hours"]["before_logger_run_time_ms"], 40 * 3_600_000);
    assert_eq!(book["hours"]["measured"]["run_time_ms"], 0);

    let studio = studio();
    let book = studio.json(&["book", "--json"]);
    let hours = &book["hours"];
    assert_eq!(hours["before_logger_run_time_ms"], serde_json::Value::Null);
    assert_eq!(
        (&hours["measured"]["run_time_ms"], &hours["measured"]["strokes"]),
        (&600_000.into(), &6_000.into())
    );
    assert_eq!(hours["by_hand"][0]["run_time_ms"], 30 * 60_000);
    assert_eq!(hours["by_hand"][0]["tufting_time_ms"], 90 * 60_000);
    let said = text(&page(&studio, &[]));
    assert!(said.contains("Measured 10 min 6,000 counted by loggers on it"), "{said}");
    assert!(said.contains("Typed in 30 min and 1 h 30 min at the frame"), "{said}");
    assert!(said.contains("1 care press,"), "{said}");
}

/// Milliseconds of a time on the page, such as `1:02:03.004`.
fn exact_ms(text: &str) -> Option<u64> {
    let (whole, thousandths) = text.split_once('.')?;
    let mut parts = whole.split(':').map(|part| part.replace(',', "").parse::<u64>().ok());
    let (hours, minutes, seconds) = (parts.next()??, parts.next()??, parts.next()??);
    let thousandths = Some(thousandths).filter(|digits| digits.len() == 3)?;
    Some(((hours * 60 + minutes) * 60 + seconds) * 1_000 + thousandths.parse::<u64>().ok()?)
}

#[test]
fn the_lines_of_the_hours_add_up_on_paper_to_what_was_measured() {
    // Rug, care, lent out, nobody, undated (boot 2 lies between the clock readings of boots 1 and 3) and lost: one of each.
    let studio = Studio::new();
    studio.rug("Fox", "roll 1");
    let records = [
        reading(1, MONDAY_8),
        running(1, 5, 61_001, 601, 300),
        running(1, 70, 62_002, 602, 300),
        running(1, 130, 63_003, 603, 300),
        running(2, 0, 64_004, 604, 300),
        reading(3, MONDAY_8 + 5 * 3_600_000),
        running(3, 5, 65_005, 605, 300),
    ];
    let lost = Totals { run: RunMillis(66_006), edges: Edges(606) };
    studio.pulled_with_loss(UtcMillis(MONDAY_8 + 6 * 3_600_000), &records, lost);
    studio.ok(&["rug", "pause", "Fox", "--when", "2026-03-02 09:00"]);
    studio.ok(&["rug", "assign", "--care", "--session", "8"]);
    studio.ok(&["machine", "lend", "--to", "Ana", "--when", "2026-03-02 10:05"]);
    studio.ok(&["machine", "back", "--when", "2026-03-02 11:00"]);
    // Off the frame all the while, but one run is of no certain date: it may have been before or after this.
    studio.ok(&["rug", "start", "Fox", "--when", "2026-03-02 12:00"]);
    studio.ok(&["rug", "pause", "Fox", "--when", "2026-03-02 12:30"]);
    studio.ok(&["rug", "assign", "Fox", "--session", "1"]);

    let hours = &studio.json(&["book", "--json"])["hours"];
    let run = |part: &str| hours[part]["run_time_ms"].as_u64().unwrap();
    assert_eq!(hours["rugs"][0]["total"]["run_time_ms"], 61_001);
    let parts = ["care", "unassigned_while_lent", "undated", "unassigned_here", "not_recorded"].map(run);
    assert_eq!(parts, [62_002, 63_003, 64_004, 65_005, 66_006]);
    assert_eq!(run("measured"), 61_001 + parts.iter().sum::<u64>());
    assert_eq!(run("unassigned"), 63_003 + 65_005);

    let html = page(&studio, &[]);
    let times: Vec<u64> = html
        .split("<td class=\"number\">")
        .filter_map(|cell| exact_ms(cell.split('<').next().unwrap()))
        .collect();
    let (all, parts) = times.split_last().unwrap();
    assert_eq!((parts.len(), parts.iter().sum::<u64>()), (6, *all), "{times:?}");
    assert_eq!(*all, run("measured"));
    let said = text(&html);
    for line in [
        "no rug yet: lent out 1 min 0:01:03.003",
        "no rug yet 1 min 0:01:05.005",
        "date not known 1 min 0:01:04.004",
    ] {
        assert!(said.contains(line), "{line} in {said}");
    }
}

#[test]
fn a_withdrawn_entry_is_struck_with_its_reason_and_the_entry_that_withdrew_it() {
    let studio = studio();
    studio.ok(&["done", "oiling", "--when", "2026-03-04", "--note", "two drops"]);
    studio.ok(&["done", "--withdraw", "5", "--reason", "it was the other machine"]);
    let html = page(&studio, &[]);
    let row = html.lines().find(|line| line.contains("two drops")).unwrap();
    assert!(row.contains("<del>Oiling done; “two drops”</del>"), "{row}");
    assert!(row.contains("Taken back by entry 6 on"), "{row}");
    assert!(row.contains("it was the other machine"), "{row}");
    let line = studio.json(&["book", "--json"])["entries"]
        .as_array()
        .unwrap()
        .iter()
        .find(|line| line["entry"] == 5)
        .cloned()
        .unwrap();
    assert_eq!(line["withdrawn"]["entry"], 6);
    assert_eq!(line["withdrawn"]["reason"], "it was the other machine");
    assert_eq!(line["chapter"], "care");
    let due = studio.json(&["book", "--json"])["care_due"]
        .as_array()
        .unwrap()
        .iter()
        .find(|task| task["task"] == "oiling")
        .cloned()
        .unwrap();
    assert_eq!(due["last_done_by"], "never", "it counts no more");
}

#[test]
fn nothing_that_was_entered_becomes_markup_and_nothing_comes_from_elsewhere() {
    let studio = studio();
    let nasty = "</td></table><script src=//evil.example></script><img src=x onerror=alert(1)>\" ' & &amp;";
    studio.ok(&["done", "oiling", "--when", "2026-03-04", "--note", nasty]);
    studio.ok(&["done", "--withdraw", "5", "--reason", nasty]);
    studio.ok(&["machine", "lend", "--to", "<b>Ana</b>", "--condition", nasty, "--when", "2026-03-05"]);
    let html = page(&studio, &[]);
    assert!(!html.contains("<script") && !html.contains("<img") && !html.contains("<b>"), "{html}");
    assert_eq!(html.matches("&#60;script src=//evil.example&#62;").count(), 5);
    // The page's own markup opens and closes in pairs, whatever was entered.
    for tag in ["table", "tr", "td", "th", "del", "body", "html", "style"] {
        let count = |what: &str| html.matches(what).count();
        let opened = count(&format!("<{tag}>")) + count(&format!("<{tag} "));
        assert_eq!(opened, count(&format!("</{tag}>")), "{tag}");
    }
    for from_elsewhere in ["http://", "https://", "url(", "@import", "<link", "src=\""] {
        assert!(!html.contains(from_elsewhere), "{from_elsewhere}");
    }
    assert!(html.contains("@page { size: A4;"));
}

#[test]
fn the_head_on_the_page_proves_the_book_as_it_is_printed() {
    let studio = studio();
    let html = page(&studio, &[]);
    let (_, after) = html.split_once("class=\"head\">").unwrap();
    let (printed, _) = after.split_once('<').unwrap();
    assert!(printed.starts_with("6-") && printed.matches(' ').count() == 7, "{printed}");
    assert_eq!(studio.json(&["book", "--json"])["chain"]["head"], printed.replace(' ', "").as_str());
    studio.ok(&["done", "oiling", "--when", "2026-03-04"]);
    // As typed from paper, where the shell takes each group for a word of its own.
    let typed: Vec<&str> = ["verify", "--against"].into_iter().chain(printed.split(' ')).collect();
    let holds = studio.ask(&typed);
    assert_eq!(holds.code(), 0, "{holds:?}");

    let past = Connection::open(studio.path()).unwrap();
    past.execute_batch(
        "DROP TRIGGER entry_is_never_changed; UPDATE entry SET body = replace(body, 'Rosie', 'Rosa')",
    )
    .unwrap();
    assert_eq!(studio.ask(&["verify", "--against", printed]).code(), 7);
    let told = studio.ask(&["book", "--out", "book.html"]);
    assert_eq!(told.code(), 5, "what does not read as it was written is no book");
    // Somebody who makes the sum anew as well: only the chain tells it then, and the book itself says so.
    let (mut rows, mut sum) = (0, 0_i64);
    let mut entries = past.prepare("SELECT id, entered_at, kind, body FROM entry").unwrap();
    let texts = |row: &rusqlite::Row<'_>| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?));
    for entry in entries.query_map((), texts).unwrap() {
        let (id, at, kind, body): (i64, i64, String, String) = entry.unwrap();
        let mut bytes = Vec::new();
        for number in [id, at] {
            bytes.push(1);
            bytes.extend(number.to_le_bytes());
        }
        for text in [kind, body] {
            bytes.push(3);
            bytes.extend((text.len() as u64).to_le_bytes());
            bytes.extend(text.into_bytes());
        }
        rows += 1;
        sum = sum.wrapping_add(crc::Crc::<u64>::new(&crc::CRC_64_XZ).checksum(&bytes).cast_signed());
    }
    let changed = "UPDATE content_sum SET row_sum = ?1 WHERE content = 'entry' AND row_count = ?2";
    assert_eq!(past.execute(changed, (sum, rows)).unwrap(), 1);
    assert!(page(&studio, &[]).contains("class=\"warning\""), "the book itself says so");
}

#[test]
fn each_machine_has_a_book_of_its_own() {
    let studio = studio();
    studio.ok(&["machine", "add", "Nelly"]);
    assert_eq!(studio.ask(&["book"]).code(), 6);
    assert_eq!(studio.ask(&["book", "--machine", "9"]).code(), 6);
    assert_eq!(studio.ask(&["book", "--machine", "1", "--out", "no/such/folder.html"]).code(), 6);
    let numbers = |machine: &str| {
        let book = studio.json(&["book", "--machine", machine, "--json"]);
        book["entries"]
            .as_array()
            .unwrap()
            .iter()
            .map(|line| line["entry"].as_i64().unwrap())
            .collect::<Vec<_>>()
    };
    assert_eq!(numbers("1"), [1, 2, 3, 4]);
    assert_eq!(numbers("2"), [5]);
    assert!(page(&studio, &["--machine", "2"]).contains("Record book of Nelly"));
}

#[test]
fn a_loan_stands_in_the_book_and_an_erased_name_becomes_a_number() {
    let studio = studio();
    studio.ok(&[
        "machine",
        "lend",
        "1",
        "--to",
        "Ana Ruvo",
        "--condition",
        "clean",
        "--when",
        "2026-03-02 08:15",
    ]);
    studio.ok(&["machine", "back", "1", "--condition", "full of lint", "--when", "2026-03-02 09:00"]);
    let head = studio.json(&["verify", "--json"])["head"].as_str().unwrap().to_owned();
    let said = text(&page(&studio, &[]));
    // The run was from 8:10 to 8:20, in 75 segments of eight seconds and 80 strokes: lent in the middle of the 38th.
    assert!(
        said.contains("Ana Ruvo Mon 2 Mar 2026 08:15; “clean”; 5 min of running, 2,960 to 3,040 strokes"),
        "{said}"
    );
    assert!(
        said.contains("Mon 2 Mar 2026 09:00; “full of lint”; 10 min of running, 6,000 strokes"),
        "{said}"
    );
    studio.ok(&["person", "erase", "Ana Ruvo"]);
    let said = text(&page(&studio, &[]));
    assert!(said.contains("person 1 Mon 2 Mar 2026 08:15;") && !said.contains("Ana"), "{said}");
    assert_eq!(studio.ask(&["verify", "--against", &head]).code(), 0);
}

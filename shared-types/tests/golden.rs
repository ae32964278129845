//! One file of bytes and one of words for every kind of record and message. Once a format is released its files never
//! change; a new version gets files of its own.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]

use std::collections::BTreeSet;
use std::fmt::Debug;
use std::path::{Path, PathBuf};

use shared_types::limits::{MAX_MESSAGE, MAX_RECORD_BODY};
use shared_types::link::{Reply, Request, decode_message, encode_message};
use shared_types::log::{Event, decode_body, encode_body};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden")
}

/// `{:#?}` of a message in the words of the golden files, which use the type names of their time.
fn in_golden_words(message: &impl Debug) -> String {
    format!("{message:#?}\n").replace("LoggerStatus", "Hello").replace("Formatting", "Making")
}

/// Every golden file: name without ending, its bytes, and the words beside it.
fn golden(prefix: &str) -> Vec<(String, Vec<u8>, String)> {
    let mut found = Vec::new();
    for file in std::fs::read_dir(folder()).unwrap() {
        let path = file.unwrap().path();
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        if name.starts_with(prefix) && path.extension().is_some_and(|end| end == "bin") {
            let words = std::fs::read_to_string(path.with_extension("txt")).unwrap();
            found.push((name, std::fs::read(&path).unwrap(), words));
        }
    }
    found.sort();
    found
}

#[test]
fn every_kind_of_record_still_reads_and_writes_its_golden_bytes() {
    let mut kinds = BTreeSet::new();
    for (name, bytes, words) in golden("record-v1-") {
        let record = decode_body(&bytes).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert_eq!(format!("{record:#?}\n"), words, "{name}");
        let mut out = [0; MAX_RECORD_BODY];
        assert_eq!(encode_body(&record, &mut out).unwrap(), bytes, "{name}");
        kinds.insert(match record.event {
            Event::Started(_) => 0,
            Event::Segment(_) => 1,
            Event::Press(_) => 2,
            Event::Control(_) => 3,
            Event::Anchor(_) => 4,
            Event::Settings(_) => 5,
            Event::Fault(_) => 6,
            Event::Fitted(_) => 7,
        });
    }
    assert_eq!(
        kinds.into_iter().collect::<Vec<_>>(),
        (0..8).collect::<Vec<_>>(),
        "a kind without a golden file"
    );
}

#[test]
fn every_request_still_reads_and_writes_its_golden_bytes() {
    let requests = golden("request-v1-");
    assert_eq!(requests.len(), 9);
    for (name, bytes, words) in requests {
        let request: Request = decode_message(&bytes).unwrap();
        assert_eq!(in_golden_words(&request), words, "{name}");
        let mut out = [0; MAX_MESSAGE];
        assert_eq!(encode_message(&request, &mut out).unwrap(), bytes, "{name}");
    }
}

#[test]
fn every_reply_still_reads_and_writes_its_golden_bytes() {
    let replies = golden("reply-v1-");
    assert_eq!(replies.len(), 8);
    for (name, bytes, words) in replies {
        let reply: Reply<'_> = decode_message(&bytes).unwrap();
        assert_eq!(in_golden_words(&reply), words, "{name}");
        let mut out = [0; MAX_MESSAGE];
        assert_eq!(encode_message(&reply, &mut out).unwrap(), bytes, "{name}");
    }
}

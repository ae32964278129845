//! What comes from outside, spoiled in every way that bytes can be: it is read or refused, never a panic, and it takes no more
//! memory than its size allows. Corpora: the golden files of the contract, and tables in `corpora/`.

use std::fs;
use std::path::Path;

use firmware::split_mix::SplitMix64;
use host::app::cloth::table;
use host::app::hand::day_table;
use host::app::ports::Logger;
use host::logger_link::saved::SavedLog;
use shared_types::limits::{MAX_FRAME, MAX_MESSAGE, MAX_RECORD_BODY};
use shared_types::link::frame::{FrameReader, decode_frame, encode_frame};
use shared_types::link::{
    LogState, RecordBatch, Reply, Request, decode_message, encode_message, link_records,
};
use shared_types::log::{decode_body, encode_body};
use shared_types::{LogId, RecordSeq};

const SEED: u64 = 20_261_130;

/// Every file of a folder whose name begins and ends so, in order.
fn corpus(folder: &str, begins: &str, ends: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut files: Vec<_> = fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()).collect();
    files.retain(|file| {
        let name = file.file_name().unwrap().to_str().unwrap();
        name.starts_with(begins) && name.ends_with(ends)
    });
    files.sort();
    assert!(files.len() > 1, "{begins}: the corpus has moved");
    files.iter().map(|file| fs::read(file).unwrap()).collect()
}

fn pick(rng: &mut SplitMix64, below: usize) -> usize {
    usize::try_from(rng.below(u64::try_from(below.max(1)).unwrap())).unwrap()
}

/// One to four changes: a byte, a number at its limits, a piece taken out, doubled, or put in from elsewhere, or the end cut off.
fn spoil(rng: &mut SplitMix64, bytes: &[u8], other: &[u8]) -> Vec<u8> {
    let mut spoilt = bytes.to_vec();
    for _ in 0..=rng.below(4) {
        let at = pick(rng, spoilt.len());
        let end = at + pick(rng, (spoilt.len() - at).min(40));
        match rng.below(6) {
            0 => spoilt.iter_mut().skip(at).take(1).for_each(|byte| *byte ^= 1 << rng.below(8)),
            1 => spoilt.iter_mut().skip(at).take(1 + pick(rng, 10)).for_each(|byte| *byte = 0xFF),
            2 => drop(spoilt.drain(at..end)),
            3 => {
                let piece = spoilt[at..end].to_vec();
                spoilt.splice(at..at, piece);
            }
            4 => {
                let from = pick(rng, other.len());
                let to = from + pick(rng, (other.len() - from).min(40));
                spoilt.splice(at..at, other[from..to].iter().copied());
            }
            _ => spoilt.truncate(at),
        }
    }
    spoilt
}

/// Spoils each of a corpus's members so many times.
fn spoilt_members(purpose: u64, corpus: &[Vec<u8>], times: u32, mut read: impl FnMut(&[u8])) {
    let mut rng = SplitMix64::new(SEED ^ purpose);
    for _ in 0..times {
        for member in corpus {
            let other = &corpus[pick(&mut rng, corpus.len())];
            read(&spoil(&mut rng, member, other));
        }
    }
}

#[test]
fn a_spoilt_record_is_read_or_refused_and_what_is_read_can_be_written() {
    let (mut read, mut refused) = (0, 0);
    spoilt_members(1, &corpus("../shared-types/tests/golden", "record-", ".bin"), 20_000, |bytes| {
        match decode_body(bytes) {
            Ok(record) => {
                let mut out = [0; MAX_RECORD_BODY];
                let again = encode_body(&record, &mut out).unwrap().to_vec();
                assert_eq!(decode_body(&again), Ok(record), "{bytes:02x?}");
                read += 1;
            }
            Err(_) => refused += 1,
        }
    });
    assert!(read > 10_000 && refused > 10_000, "{read} {refused}");
}

#[test]
fn a_spoilt_message_or_frame_is_read_or_refused() {
    let (mut read, mut refused) = (0, 0);
    for names in ["reply-", "request-"] {
        spoilt_members(2, &corpus("../shared-types/tests/golden", names, ".bin"), 5_000, |bytes| {
            let outcomes =
                [decode_message::<Reply<'_>>(bytes).is_ok(), decode_message::<Request>(bytes).is_ok()];
            read += outcomes.iter().filter(|is_read| **is_read).count();
            refused += outcomes.iter().filter(|is_read| !**is_read).count();
            // No run of records takes more than its bytes.
            assert!(link_records(bytes).count() <= bytes.len());
            if bytes.len() <= MAX_MESSAGE {
                let mut frame = [0; MAX_FRAME + 1];
                let length = encode_frame(bytes, &mut frame).unwrap().len();
                let mut spoilt = spoil(&mut SplitMix64::new(bytes.len() as u64), &frame[..length], bytes);
                let mut reader = FrameReader::new();
                let whole = spoilt.iter().filter(|byte| matches!(reader.push(**byte), Some(Ok(_)))).count();
                assert!(whole <= spoilt.len());
                // With another length or another byte the sum over it does not fit; unspoilt it does.
                if let Ok(message) = decode_frame(&mut spoilt) {
                    assert_eq!(message, bytes);
                }
            }
        });
    }
    assert!(read > 1_000 && refused > 1_000, "{read} {refused}");
}

fn framed(reply: &Reply<'_>) -> Vec<u8> {
    let mut message = [0; MAX_MESSAGE];
    let mut frame = [0; MAX_FRAME + 1];
    encode_frame(encode_message(reply, &mut message).unwrap(), &mut frame).unwrap().to_vec()
}

/// A greeting with a log and batches of records of it, as bytes of a file.
fn saved_logs() -> Vec<Vec<u8>> {
    let greetings = corpus("../shared-types/tests/golden", "reply-v1-hello", ".bin");
    let records = corpus("../shared-types/tests/golden", "record-", ".bin");
    let mut logs = Vec::new();
    for greeting in &greetings {
        let reply: Reply<'_> = decode_message(greeting).unwrap();
        let Reply::LoggerStatus(status) = &reply else { continue };
        let log = if let LogState::Ready { log, .. } = status.log { log } else { LogId(1) };
        let mut bytes = framed(&reply);
        for batch in 0..5_u32 {
            let mut run = Vec::new();
            for (seq, body) in (batch * 10..).zip(records.iter().cycle().skip(batch as usize).take(8)) {
                let mut out = [0; 300];
                let record = shared_types::link::LinkRecord { seq: RecordSeq(seq), body };
                run.extend_from_slice(postcard::to_slice(&record, &mut out).unwrap());
            }
            let end = batch == 4;
            bytes.extend(framed(&Reply::Records(RecordBatch {
                log,
                next: RecordSeq(batch * 10 + 8),
                end,
                records: &run,
            })));
        }
        logs.push(bytes);
    }
    assert!(logs.len() > 1);
    logs
}

#[test]
fn a_spoilt_saved_log_is_read_to_its_end_or_refused() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("saved.log");
    let (mut opened, mut refused) = (0, 0);
    spoilt_members(3, &saved_logs(), 700, |bytes| {
        fs::write(&file, bytes).unwrap();
        let Ok(mut saved) = SavedLog::open(&file) else {
            refused += 1;
            return;
        };
        opened += 1;
        let status = saved.status().unwrap();
        let LogState::Ready { log, .. } = status.log else { return };
        let mut held = 0;
        // Each batch takes bytes of the file, so there are no more of them than bytes.
        for _ in 0..=bytes.len() {
            let Ok(batch) = saved.read_from(log, RecordSeq(0)) else { break };
            held += batch.records.iter().map(|record| record.body.len()).sum::<usize>();
            if batch.end {
                break;
            }
        }
        assert!(held <= bytes.len(), "more came out than went in");
    });
    assert!(opened > 300 && refused > 100, "{opened} {refused}");
}

#[test]
fn a_spoilt_table_is_read_or_refused_with_its_line() {
    let (mut read, mut refused) = (0, 0);
    spoilt_members(4, &corpus("corpora", "", ".csv"), 8_000, |bytes| {
        for told in [
            table::read(bytes).map(|rows| rows.len()).map_err(|error| error.to_string()),
            day_table::read(bytes).map(|rows| rows.len()).map_err(|error| error.to_string()),
        ] {
            match told {
                Ok(rows) => {
                    assert!(rows <= bytes.len());
                    read += 1;
                }
                Err(words) => {
                    assert!(words.starts_with("line "), "{words}");
                    refused += 1;
                }
            }
        }
    });
    assert!(read > 500 && refused > 5_000, "{read} {refused}");
}

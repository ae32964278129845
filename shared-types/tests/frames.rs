//! Frames and messages: round trips, noise, limits.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]

use proptest::prelude::*;
use shared_types::limits::{MAX_FRAME, MAX_MESSAGE};
use shared_types::link::frame::{FrameError, FrameReader, decode_frame, encode_frame};
use shared_types::link::{
    LinkRecord, MessageError, RecordBatch, Refusal, Reply, Request, decode_message, encode_message,
    link_records,
};
use shared_types::{LogId, RecordSeq, UtcMillis};

fn framed(message: &[u8]) -> Vec<u8> {
    let mut out = [0; MAX_FRAME + 1];
    encode_frame(message, &mut out).unwrap().to_vec()
}

fn read_all(bytes: &[u8]) -> Vec<Result<Vec<u8>, FrameError>> {
    let mut reader = FrameReader::new();
    bytes.iter().filter_map(|byte| reader.push(*byte).map(|frame| frame.map(<[u8]>::to_vec))).collect()
}

#[test]
fn the_longest_message_fits_and_one_byte_more_does_not() {
    let longest = [0xAA; MAX_MESSAGE];
    assert_eq!(read_all(&framed(&longest)), [Ok(longest.to_vec())]);
    let mut out = [0; 2 * MAX_FRAME];
    assert_eq!(encode_frame(&[0xAA; MAX_MESSAGE + 1], &mut out), Err(FrameError::TooLong));
}

#[test]
fn a_small_buffer_is_an_error() {
    assert_eq!(encode_frame(b"word", &mut [0; 5]), Err(FrameError::TooLong));
}

#[test]
fn an_endless_frame_is_dropped_at_its_limit_and_the_next_one_is_read() {
    let mut bytes = vec![0x55; 5 * MAX_FRAME];
    bytes.push(0);
    bytes.extend(framed(b"after"));
    assert_eq!(read_all(&bytes), [Err(FrameError::TooLong), Ok(b"after".to_vec())]);
}

#[test]
fn zeros_between_frames_are_no_frames() {
    let bytes = [&[0, 0][..], &framed(b"one"), &[0, 0, 0], &framed(b"two")].concat();
    assert_eq!(read_all(&bytes), [Ok(b"one".to_vec()), Ok(b"two".to_vec())]);
}

#[test]
fn every_single_flipped_bit_is_caught() {
    let whole = framed(b"needle edges");
    for place in 0..whole.len() - 1 {
        for bit in 0..8 {
            let mut noisy = whole.clone();
            noisy[place] ^= 1 << bit;
            let read = read_all(&noisy);
            assert!(read.iter().all(Result::is_err), "byte {place} bit {bit}: {read:?}");
        }
    }
}

#[test]
fn a_message_of_another_version_is_named() {
    assert_eq!(decode_message::<Request>(&[9, 0]), Err(MessageError::UnknownVersion(9)));
    assert_eq!(decode_message::<Request>(&[]), Err(MessageError::Empty));
    assert_eq!(decode_message::<Request>(&[1, 0xEE]), Err(MessageError::Malformed));
}

#[test]
fn fields_appended_by_a_newer_end_are_passed_over() {
    let mut out = [0; 32];
    let request = Request::SetClock { utc: UtcMillis(1_772_000_000_000) };
    let longer = [encode_message(&request, &mut out).unwrap(), &[1, 2, 3]].concat();
    assert_eq!(decode_message::<Request>(&longer), Ok(request));
}

#[test]
fn a_batch_gives_its_records_back_and_names_a_torn_rest() {
    let mut bytes = Vec::new();
    for (seq, body) in [(4, &b"first"[..]), (9, b"")] {
        let mut out = [0; 32];
        bytes.extend_from_slice(
            postcard::to_slice(&LinkRecord { seq: RecordSeq(seq), body }, &mut out).unwrap(),
        );
    }
    let whole = bytes.len();
    bytes.extend_from_slice(&[0x0A, 0x05, 0x01]);
    let batch =
        Reply::Records(RecordBatch { log: LogId(3), next: RecordSeq(10), end: true, records: &bytes });
    let mut out = [0; 64];
    let message = encode_message(&batch, &mut out).unwrap().to_vec();
    let Reply::Records(batch) = decode_message(&message).unwrap() else {
        panic!("not the batch that went in")
    };
    let read: Vec<_> = link_records(batch.records).collect();
    assert_eq!(read.len(), 3);
    assert_eq!(read[0], Ok(LinkRecord { seq: RecordSeq(4), body: b"first" }));
    assert_eq!(read[1], Ok(LinkRecord { seq: RecordSeq(9), body: b"" }));
    assert_eq!(read[2], Err(bytes.len() - whole));
}

#[test]
fn a_refusal_survives_the_way() {
    let mut out = [0; 8];
    let bytes = encode_message(&Reply::Refused(Refusal::OtherLog), &mut out).unwrap();
    assert_eq!(decode_message::<Reply<'_>>(bytes), Ok(Reply::Refused(Refusal::OtherLog)));
}

proptest! {
    #[test]
    fn every_message_comes_back(message in proptest::collection::vec(any::<u8>(), 0..=MAX_MESSAGE)) {
        prop_assert_eq!(read_all(&framed(&message)), [Ok(message)]);
    }

    #[test]
    fn noise_before_a_frame_costs_no_more_than_that_frame(
        noise in proptest::collection::vec(any::<u8>(), 0..600),
        message in proptest::collection::vec(any::<u8>(), 1..50),
    ) {
        let bytes = [&noise[..], &framed(&message), &framed(&message)].concat();
        let read = read_all(&bytes);
        prop_assert_eq!(read.last(), Some(&Ok(message)));
    }

    #[test]
    fn any_bytes_are_a_frame_or_an_error_but_never_a_panic(mut bytes in proptest::collection::vec(any::<u8>(), 0..2500)) {
        for read in read_all(&bytes).into_iter().flatten() {
            prop_assert!(read.len() <= MAX_MESSAGE);
            if let Ok(request) = decode_message::<Request>(&read) {
                let mut out = [0; MAX_MESSAGE];
                prop_assert_eq!(decode_message::<Request>(encode_message(&request, &mut out).unwrap()), Ok(request));
            }
        }
        if let Ok(message) = decode_frame(&mut bytes) {
            prop_assert!(message.len() <= MAX_MESSAGE);
        }
    }

    #[test]
    fn any_bytes_of_a_batch_end(bytes in proptest::collection::vec(any::<u8>(), 0..1000)) {
        let read: Vec<_> = link_records(&bytes).collect();
        prop_assert!(read.len() <= bytes.len());
        prop_assert!(read.iter().rev().skip(1).all(Result::is_ok));
    }
}

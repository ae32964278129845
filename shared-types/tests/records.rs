//! Records: round trips, refusals, sizes, and bytes worked by hand.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]

mod arbitrary;

use arbitrary::any_record;
use proptest::prelude::*;
use shared_types::limits::MAX_RECORD_BODY;
use shared_types::log::{Event, Fault, Record, RecordError, Segment, decode_body, encode_body};
use shared_types::{BootId, RawAngle, RunMillis, UptimeMillis};

fn ordinary_segment() -> Record {
    Record {
        boot: BootId(7),
        at: UptimeMillis(61_000),
        event: Event::Segment(Segment {
            run: RunMillis(6_000),
            edges: 73,
            angle: Some(RawAngle::new(2_048)),
            continues: false,
        }),
    }
}

/// Worked with the LEB128 rule: 61000 = c8 dc 03, 6000 = f0 2e, 73 = 49, 2048 = 80 10; the same bytes stand in FORMAT.md.
const ORDINARY_SEGMENT: [u8; 13] =
    [0x01, 0x07, 0xC8, 0xDC, 0x03, 0x01, 0xF0, 0x2E, 0x49, 0x01, 0x80, 0x10, 0x00];

#[test]
fn a_segment_has_the_bytes_that_were_worked_by_hand() {
    let mut out = [0; MAX_RECORD_BODY];
    assert_eq!(encode_body(&ordinary_segment(), &mut out).unwrap(), ORDINARY_SEGMENT);
    assert_eq!(decode_body(&ORDINARY_SEGMENT).unwrap(), ordinary_segment());
}

#[test]
fn the_format_page_shows_the_bytes_that_the_test_works_with() {
    let page = include_str!("../FORMAT.md");
    let shown: Vec<String> = ORDINARY_SEGMENT.iter().map(|byte| format!("{byte:02x}")).collect();
    assert!(page.contains(&shown.join(" ")), "FORMAT.md lacks {}", shown.join(" "));
}

#[test]
fn nothing_is_not_a_record() {
    assert_eq!(decode_body(&[]), Err(RecordError::Empty));
}

#[test]
fn a_later_version_is_named_not_guessed() {
    assert_eq!(decode_body(&[2, 7, 1]), Err(RecordError::UnknownVersion(2)));
}

#[test]
fn a_kind_added_later_is_malformed_to_this_program() {
    let mut bytes = ORDINARY_SEGMENT;
    bytes[5] = 0x63;
    assert_eq!(decode_body(&bytes), Err(RecordError::Malformed));
}

#[test]
fn a_cut_record_is_malformed_at_every_length() {
    for length in 1..ORDINARY_SEGMENT.len() {
        assert_eq!(decode_body(&ORDINARY_SEGMENT[..length]), Err(RecordError::Malformed), "{length} bytes");
    }
}

#[test]
fn bytes_after_a_record_are_noticed() {
    let longer = [&ORDINARY_SEGMENT[..], &[0xAA, 0xBB]].concat();
    assert_eq!(decode_body(&longer), Err(RecordError::TrailingBytes(2)));
}

#[test]
fn a_body_over_the_limit_is_refused_unread() {
    assert_eq!(decode_body(&[1; MAX_RECORD_BODY + 1]), Err(RecordError::TooLong));
}

#[test]
fn a_buffer_too_small_is_an_error() {
    let mut out = [0; ORDINARY_SEGMENT.len() - 1];
    assert_eq!(encode_body(&ordinary_segment(), &mut out), Err(RecordError::TooLong));
    assert_eq!(encode_body(&ordinary_segment(), &mut []), Err(RecordError::TooLong));
}

proptest! {
    #[test]
    fn every_record_comes_back_as_it_went(record in any_record()) {
        let mut out = [0; MAX_RECORD_BODY];
        let body = encode_body(&record, &mut out).unwrap();
        prop_assert_eq!(decode_body(body).unwrap(), record);
    }

    #[test]
    fn any_bytes_are_a_record_or_an_error_but_never_a_panic(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        if let Ok(record) = decode_body(&bytes) {
            let mut out = [0; MAX_RECORD_BODY];
            prop_assert_eq!(decode_body(encode_body(&record, &mut out).unwrap()).unwrap(), record);
        }
    }
}

#[test]
fn the_bit_of_a_fault_is_the_number_that_a_record_writes_for_it() {
    // postcard writes an enum as the number of its variant: the outside account of the order.
    for fault in Fault::ALL {
        let mut bytes = [0; 4];
        let number = postcard::to_slice(&fault, &mut bytes).unwrap()[0];
        assert_eq!(fault.bit(), 1 << number, "{fault:?}");
        assert_eq!(Fault::of_bits(1 << number).collect::<Vec<_>>(), [fault]);
    }
    let one_more = u8::try_from(Fault::ALL.len()).unwrap();
    assert!(postcard::from_bytes::<Fault>(&[one_more]).is_err(), "a fault that is not listed");
    assert_eq!(Fault::of_bits(u16::MAX).count(), Fault::ALL.len(), "unknown bits are passed over");
}

//! The encodings that the contract stands on, against vectors published by others.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]

use rstest::rstest;
use serde::{Deserialize, Serialize};
use shared_types::link::frame::encode_frame;

/// S. Cheshire, M. Baker: "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on Networking 7 (1999), and the
/// examples of the reference packages `cobs` on PyPI and crates.io. The closing zero is not part of the vectors.
#[rstest]
#[case::one_zero(&[0x00], &[0x01, 0x01])]
#[case::two_zeros(&[0x00, 0x00], &[0x01, 0x01, 0x01])]
#[case::zero_around(&[0x00, 0x11, 0x00], &[0x01, 0x02, 0x11, 0x01])]
#[case::zero_inside(&[0x11, 0x22, 0x00, 0x33], &[0x03, 0x11, 0x22, 0x02, 0x33])]
#[case::no_zero(&[0x11, 0x22, 0x33, 0x44], &[0x05, 0x11, 0x22, 0x33, 0x44])]
#[case::zeros_behind(&[0x11, 0x00, 0x00, 0x00], &[0x02, 0x11, 0x01, 0x01, 0x01])]
#[case::nothing(&[], &[0x01])]
fn byte_stuffing_follows_the_published_examples(#[case] plain: &[u8], #[case] stuffed: &[u8]) {
    let mut out = [0; 16];
    let used = cobs::encode(plain, &mut out);
    assert_eq!(&out[..used], stuffed);
    let used = cobs::decode_in_place(&mut out[..used]).unwrap();
    assert_eq!(&out[..used], plain);
}

/// Same source: the cases around the longest run of 254 bytes without a zero.
#[rstest]
#[case::just_fits((1..=0xFE).collect(), [vec![0xFF], (1..=0xFE).collect()].concat())]
#[case::zero_before((0..=0xFE).collect(), [vec![0x01, 0xFF], (1..=0xFE).collect()].concat())]
#[case::one_more((1..=0xFF).collect(), [vec![0xFF], (1..=0xFE).collect(), vec![0x02, 0xFF]].concat())]
#[case::zero_behind((2..=0xFF).chain([0]).collect(), [vec![0xFF], (2..=0xFF).collect(), vec![0x01, 0x01]].concat())]
fn byte_stuffing_follows_the_published_examples_at_the_longest_run(
    #[case] plain: Vec<u8>,
    #[case] stuffed: Vec<u8>,
) {
    let mut out = vec![0; cobs::max_encoding_length(plain.len())];
    let used = cobs::encode(&plain, &mut out);
    assert_eq!(&out[..used], stuffed);
}

/// Catalogue of parametrised CRC algorithms (reveng): check value of the ASCII digits 123456789.
#[test]
fn the_frame_check_gives_the_catalogues_check_value() {
    let check = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(b"123456789");
    assert_eq!(check, 0xCBF4_3926);
}

/// A frame of those digits, built by hand: twelve bytes and four of check, none of them zero, so one run of thirteen.
#[test]
fn a_frame_is_the_message_and_its_check_stuffed_and_closed() {
    let mut out = [0; 32];
    let frame = encode_frame(b"123456789", &mut out).unwrap();
    let by_hand = [&[14][..], b"123456789", &[0x26, 0x39, 0xF4, 0xCB], &[0]].concat();
    assert_eq!(frame, by_hand);
}

/// DWARF Debugging Information Format, appendix on LEB128 (unsigned), and the usual 624485 example; postcard's variable
/// length integers are the same code.
#[rstest]
#[case(2, &[0x02])]
#[case(127, &[0x7F])]
#[case(128, &[0x80, 0x01])]
#[case(129, &[0x81, 0x01])]
#[case(130, &[0x82, 0x01])]
#[case(12857, &[0xB9, 0x64])]
#[case(300, &[0xAC, 0x02])]
#[case(624_485, &[0xE5, 0x8E, 0x26])]
fn whole_numbers_are_leb128(#[case] number: u32, #[case] bytes: &[u8]) {
    let mut out = [0; 5];
    assert_eq!(postcard::to_slice(&number, &mut out).unwrap(), bytes);
}

/// Postcard wire format specification, tables of u16 and i16. The page's entry for i16 32767 is a misprint; the bytes
/// here are the zigzag rule applied by hand: 65534 as a variable length integer.
#[rstest]
#[case(-1, &[0x01])]
#[case(1, &[0x02])]
#[case(63, &[0x7E])]
#[case(-64, &[0x7F])]
#[case(64, &[0x80, 0x01])]
#[case(-65, &[0x81, 0x01])]
#[case(32767, &[0xFE, 0xFF, 0x03])]
#[case(-32768, &[0xFF, 0xFF, 0x03])]
fn signed_numbers_are_zigzag(#[case] number: i16, #[case] bytes: &[u8]) {
    let mut out = [0; 3];
    assert_eq!(postcard::to_slice(&number, &mut out).unwrap(), bytes);
}

/// Postcard wire format specification: padded zeros are accepted, too long or too large numbers are not.
#[rstest]
#[case(&[0x80, 0x00], Some(0))]
#[case(&[0x80, 0x80, 0x00], Some(0))]
#[case(&[0xFF, 0xFF, 0x03], Some(65535))]
#[case(&[0x80, 0x80, 0x80, 0x00], None)]
#[case(&[0xFF, 0xFF, 0x07], None)]
fn reading_u16_keeps_to_its_range(#[case] bytes: &[u8], #[case] number: Option<u16>) {
    assert_eq!(postcard::from_bytes::<u16>(bytes).ok(), number);
}

#[derive(Debug, PartialEq, Serialize, Deserialize)]
struct Mixed {
    a: u8,
    b: u16,
    c: i32,
    d: Option<u8>,
    e: bool,
    f: f32,
}

/// Worked from the postcard wire format specification field by field: raw byte, LEB128, zigzag, tag and value, 01, IEEE 754.
#[test]
fn a_struct_is_its_fields_and_nothing_else() {
    let mixed = Mixed { a: 200, b: 300, c: -129, d: Some(7), e: true, f: 1.5 };
    let mut out = [0; 32];
    let bytes = postcard::to_slice(&mixed, &mut out).unwrap();
    assert_eq!(bytes, [0xC8, 0xAC, 0x02, 0x81, 0x02, 0x01, 0x07, 0x01, 0x00, 0x00, 0xC0, 0x3F]);
}

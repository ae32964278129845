//! UF2, the open file format with which a board in its boot loader shows up as a drive and takes an image by copying.
//!
//! The format: <https://github.com/microsoft/uf2>, "File format" and, for the family number of the RP2040,
//! `utils/uf2families.json` there. Blocks of 512 bytes, each with 256 bytes for one page of flash.

use crate::board_image::FlashPiece;

/// Bytes of one block of the file.
pub const BLOCK_BYTES: usize = 512;
/// Bytes of flash in one block.
pub const PAGE_BYTES: usize = 256;
const MAGIC_START: [u32; 2] = [0x0A32_4655, 0x9E5D_5157];
const MAGIC_END: u32 = 0x0AB1_6F30;
const FAMILY_ID_PRESENT: u32 = 0x0000_2000;
const RP2040: u32 = 0xE48B_FF56;
const DATA_ROOM: usize = 476;

/// Writes pieces of flash as a UF2 file. Pages that no piece touches are left out, and stay as they are on the board.
///
/// `flash_start` is the address at which the boot loader knows the first byte of flash.
#[must_use]
pub fn to_uf2(pieces: &[FlashPiece], flash_start: u32) -> Vec<u8> {
    let pages = pages(pieces);
    let count = u32::try_from(pages.len()).unwrap_or(u32::MAX);
    let mut file = Vec::with_capacity(pages.len() * BLOCK_BYTES);
    for (number, (offset, page)) in (0_u32..).zip(&pages) {
        let address = flash_start + offset;
        let header = [FAMILY_ID_PRESENT, address, 256, number, count, RP2040];
        for word in MAGIC_START.iter().chain(&header) {
            file.extend_from_slice(&word.to_le_bytes());
        }
        file.extend_from_slice(page);
        file.extend(std::iter::repeat_n(0, DATA_ROOM - PAGE_BYTES));
        file.extend_from_slice(&MAGIC_END.to_le_bytes());
    }
    file
}

fn pages(pieces: &[FlashPiece]) -> Vec<(u32, [u8; PAGE_BYTES])> {
    let mut pages = std::collections::BTreeMap::new();
    for piece in pieces {
        for (at, &byte) in (piece.offset..).zip(&piece.bytes) {
            let within = at % 256;
            let page = pages.entry(at - within).or_insert([0xFF; PAGE_BYTES]);
            if let Some(place) = page.get_mut(within as usize) {
                *place = byte;
            }
        }
    }
    pages.into_iter().collect()
}

#[cfg(test)]
mod tests {

    use super::*;

    fn word(block: &[u8], at: usize) -> u32 {
        u32::from_le_bytes(block[at..at + 4].try_into().unwrap())
    }

    #[test]
    fn each_block_is_laid_out_as_the_format_says() {
        // 0x180 bytes at 0x100 are one whole page and half of the next.
        let file = to_uf2(&[FlashPiece { offset: 0x100, bytes: vec![0xA5; 0x180] }], 0x1000_0000);
        assert_eq!(file.len(), 2 * 512);
        for (number, block) in file.chunks(512).enumerate() {
            // Byte positions from the table "File format" of the specification.
            assert_eq!((word(block, 0), word(block, 4)), (0x0A32_4655, 0x9E5D_5157));
            assert_eq!(word(block, 8), 0x2000, "the family number is there");
            assert_eq!(word(block, 12), 0x1000_0100 + 0x100 * u32::try_from(number).unwrap());
            assert_eq!(
                (word(block, 16), word(block, 20), word(block, 24)),
                (256, u32::try_from(number).unwrap(), 2)
            );
            assert_eq!(word(block, 28), 0xE48B_FF56);
            assert_eq!(word(block, 508), 0x0AB1_6F30);
            assert!(block[32 + 256..508].iter().all(|&byte| byte == 0));
        }
        assert!(file[32..288].iter().all(|&byte| byte == 0xA5));
        assert!(file[512 + 32..512 + 32 + 0x80].iter().all(|&byte| byte == 0xA5));
        assert!(
            file[512 + 32 + 0x80..512 + 288].iter().all(|&byte| byte == 0xFF),
            "what is not named stays erased"
        );
    }

    #[test]
    fn pieces_that_share_a_page_become_one_block_and_gaps_none() {
        let pieces = [
            FlashPiece { offset: 0, bytes: vec![1; 4] },
            FlashPiece { offset: 8, bytes: vec![2; 4] },
            FlashPiece { offset: 0x1000, bytes: vec![3; 4] },
        ];
        let file = to_uf2(&pieces, 0x1000_0000);
        assert_eq!(file.len(), 2 * 512);
        assert_eq!(file[32..44], [1, 1, 1, 1, 0xFF, 0xFF, 0xFF, 0xFF, 2, 2, 2, 2]);
        assert_eq!(word(&file, 512 + 12), 0x1000_1000);
    }
}

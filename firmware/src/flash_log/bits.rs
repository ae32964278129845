//! Bit reader and writer over slices, LSB first, panic-free.

/// Bits that tell how wide a free number is.
const WIDTH_BITS: u32 = 6;
/// Ones that announce a number in full.
const LONGEST_RUN: u32 = 7;
/// Bits of a number in full: enough for the difference of two counts of 16 bits, with its sign.
const RICE_WHOLE: u32 = 17;

/// Writes bits from the front of a slice of zeros; `None` as soon as it is full.
#[derive(Debug)]
pub(crate) struct BitWriter<'out> {
    out: &'out mut [u8],
    bits: usize,
}

impl<'out> BitWriter<'out> {
    /// The bytes must be zero.
    pub(crate) const fn new(out: &'out mut [u8]) -> Self {
        Self { out, bits: 0 }
    }

    /// Bytes used, the last one perhaps in part.
    pub(crate) const fn used(&self) -> usize {
        self.bits.div_ceil(8)
    }

    /// The lowest `width` bits of `number`, which must hold no others.
    pub(crate) fn put(&mut self, number: u64, width: u32) -> Option<()> {
        if width_of(number) > width {
            return None;
        }
        for place in 0..width {
            let byte = self.out.get_mut(self.bits / 8)?;
            let bit = u8::from((number >> place) & 1 == 1);
            *byte |= bit << (self.bits % 8);
            self.bits += 1;
        }
        Some(())
    }

    /// A number below 2^63 of any size: how wide it is, then its bits.
    pub(crate) fn put_number(&mut self, number: u64) -> Option<()> {
        let width = width_of(number);
        self.put(u64::from(width), WIDTH_BITS)?;
        self.put(number, width)
    }

    /// A number that is mostly small: what is above `low_bits` as so many ones and a zero, then the low bits (Golomb,
    /// Rice). From [`LONGEST_RUN`] ones on, the whole number follows instead.
    pub(crate) fn put_rice(&mut self, number: u64, low_bits: u32) -> Option<()> {
        let high = number >> low_bits;
        if high >= u64::from(LONGEST_RUN) {
            self.put((1 << LONGEST_RUN) - 1, LONGEST_RUN)?;
            return self.put(number, RICE_WHOLE);
        }
        let ones = u32::try_from(high).ok()?;
        self.put((1 << ones) - 1, ones + 1)?;
        self.put(number & ((1 << low_bits) - 1), low_bits)
    }
}

/// Bits that [`BitWriter::put_rice`] takes.
pub(crate) fn rice_cost(number: u64, low_bits: u32) -> u64 {
    let high = number >> low_bits;
    if high >= u64::from(LONGEST_RUN) {
        u64::from(LONGEST_RUN + RICE_WHOLE)
    } else {
        high + 1 + u64::from(low_bits)
    }
}

/// Reads bits from the front of a slice; `None` as soon as it has run out.
#[derive(Debug)]
pub(crate) struct BitReader<'bytes> {
    bytes: &'bytes [u8],
    bits: usize,
}

impl<'bytes> BitReader<'bytes> {
    pub(crate) const fn new(bytes: &'bytes [u8]) -> Self {
        Self { bytes, bits: 0 }
    }

    /// Whether nothing is left but a part of a byte, all zero.
    pub(crate) fn is_at_end(&mut self) -> bool {
        let left = (8 * self.bytes.len()).saturating_sub(self.bits);
        left < 8 && u32::try_from(left).ok().and_then(|left| self.take(left)) == Some(0)
    }

    pub(crate) fn take(&mut self, width: u32) -> Option<u64> {
        let mut number = 0;
        for place in 0..width {
            let byte = self.bytes.get(self.bits / 8)?;
            number |= u64::from((byte >> (self.bits % 8)) & 1) << place;
            self.bits += 1;
        }
        Some(number)
    }

    pub(crate) fn take_number(&mut self) -> Option<u64> {
        let width = u32::try_from(self.take(WIDTH_BITS)?).ok()?;
        self.take(width)
    }

    pub(crate) fn take_rice(&mut self, low_bits: u32) -> Option<u64> {
        let mut ones = 0;
        while self.take(1)? == 1 {
            ones += 1;
            if ones == LONGEST_RUN {
                return self.take(RICE_WHOLE);
            }
        }
        Some((u64::from(ones) << low_bits) | self.take(low_bits)?)
    }
}

/// How many bits `number` needs; none for zero.
pub(crate) const fn width_of(number: u64) -> u32 {
    u64::BITS - number.leading_zeros()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rice_code_is_the_published_one() {
        // Rice (1979): parameter 2, number 9: quotient 2 as two ones and a zero, remainder 1 in two bits, here the low
        // bit first.
        let mut out = [0; 1];
        let mut writer = BitWriter::new(&mut out);
        writer.put_rice(9, 2).unwrap();
        assert_eq!(writer.bits, 5);
        assert_eq!(out[0], 0b0_1011);
    }

    #[test]
    fn every_number_comes_back_and_costs_what_was_said() {
        for number in [0, 1, 2, 6, 7, 8, 55, 56, 4_095, 65_535, 131_071] {
            for low_bits in 0..8 {
                let mut out = [0; 8];
                let mut writer = BitWriter::new(&mut out);
                writer.put_rice(number, low_bits).unwrap();
                assert_eq!(writer.bits as u64, rice_cost(number, low_bits));
                assert_eq!(BitReader::new(&out).take_rice(low_bits), Some(number));
            }
        }
        for number in [0, 1, 9_000, u64::MAX >> 1] {
            let mut out = [0; 10];
            BitWriter::new(&mut out).put_number(number).unwrap();
            assert_eq!(BitReader::new(&out).take_number(), Some(number));
        }
    }

    #[test]
    fn what_does_not_fit_is_refused() {
        assert_eq!(BitWriter::new(&mut [0; 8]).put(4, 2), None);
        assert_eq!(BitWriter::new(&mut [0; 1]).put(0, 9), None);
        assert_eq!(BitWriter::new(&mut [0; 20]).put_number(u64::MAX), None);
        assert_eq!(BitReader::new(&[0xFF; 2]).take_rice(0), None);
    }
}

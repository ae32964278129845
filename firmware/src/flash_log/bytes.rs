//! Byte reader and writer over slices, panic-free: little-endian integers, varints, zigzag.

/// Longest varint of 64 bits.
const MAX_VARINT: usize = 10;

/// Writes from the front of a slice; `None` as soon as it is full.
#[derive(Debug)]
pub(crate) struct ByteWriter<'out> {
    out: &'out mut [u8],
    used: usize,
}

impl<'out> ByteWriter<'out> {
    pub(crate) const fn new(out: &'out mut [u8]) -> Self {
        Self { out, used: 0 }
    }

    pub(crate) const fn used(&self) -> usize {
        self.used
    }

    pub(crate) fn put(&mut self, bytes: &[u8]) -> Option<()> {
        let end = self.used.checked_add(bytes.len())?;
        self.out.get_mut(self.used..end)?.copy_from_slice(bytes);
        self.used = end;
        Some(())
    }

    pub(crate) fn put_byte(&mut self, byte: u8) -> Option<()> {
        self.put(&[byte])
    }

    pub(crate) fn put_u32(&mut self, number: u32) -> Option<()> {
        self.put(&number.to_le_bytes())
    }

    pub(crate) fn put_u64(&mut self, number: u64) -> Option<()> {
        self.put(&number.to_le_bytes())
    }

    /// Seven bits a byte, low bits first, the top bit saying that more follow.
    pub(crate) fn put_varint(&mut self, mut number: u64) -> Option<()> {
        loop {
            let [low, ..] = number.to_le_bytes();
            number >>= 7;
            if number == 0 {
                return self.put_byte(low & 0x7F);
            }
            self.put_byte(low | 0x80)?;
        }
    }
}

/// Reads from the front of a slice; `None` as soon as it has run out.
#[derive(Debug)]
pub(crate) struct ByteReader<'bytes> {
    rest: &'bytes [u8],
}

impl<'bytes> ByteReader<'bytes> {
    pub(crate) const fn new(bytes: &'bytes [u8]) -> Self {
        Self { rest: bytes }
    }

    pub(crate) const fn is_at_end(&self) -> bool {
        self.rest.is_empty()
    }

    pub(crate) fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (first, rest) = self.rest.split_first_chunk::<N>()?;
        self.rest = rest;
        Some(*first)
    }

    pub(crate) fn take_byte(&mut self) -> Option<u8> {
        self.take::<1>().map(|[byte]| byte)
    }

    pub(crate) fn take_u32(&mut self) -> Option<u32> {
        self.take().map(u32::from_le_bytes)
    }

    pub(crate) fn take_u64(&mut self) -> Option<u64> {
        self.take().map(u64::from_le_bytes)
    }

    pub(crate) fn take_varint(&mut self) -> Option<u64> {
        let mut number = 0;
        for place in 0..MAX_VARINT {
            let byte = self.take_byte()?;
            number |= u64::from(byte & 0x7F) << (7 * place);
            if byte & 0x80 == 0 {
                return Some(number);
            }
        }
        None
    }
}

/// Small numbers of either sign become small numbers without one: 0, -1, 1, -2 are 0, 1, 2, 3.
pub(crate) const fn zigzag(number: i64) -> u64 {
    ((number << 1) ^ (number >> 63)).cast_unsigned()
}

/// Inverse of [`zigzag`].
pub(crate) const fn unzigzag(number: u64) -> i64 {
    (number >> 1).cast_signed() ^ -((number & 1).cast_signed())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn varints_and_zigzag_are_those_of_the_published_encoding() {
        // Protocol Buffers documentation, "Encoding": 150 is 96 01; zigzag of -2147483648 is 4294967295.
        let mut out = [0; 10];
        let mut writer = ByteWriter::new(&mut out);
        writer.put_varint(150).unwrap();
        assert_eq!(writer.used(), 2);
        assert_eq!(out.first_chunk::<2>(), Some(&[0x96, 0x01]));
        assert_eq!(zigzag(-2_147_483_648), 4_294_967_295);
        assert_eq!(unzigzag(4_294_967_294), 2_147_483_647);
    }

    #[test]
    fn the_extremes_come_back() {
        for number in [0, -1, 1, i64::MIN, i64::MAX] {
            let mut out = [0; 10];
            ByteWriter::new(&mut out).put_varint(zigzag(number)).unwrap();
            assert_eq!(ByteReader::new(&out).take_varint().map(unzigzag), Some(number));
        }
    }

    #[test]
    fn a_full_slice_and_an_empty_one_are_refused() {
        assert_eq!(ByteWriter::new(&mut [0; 1]).put_varint(128), None);
        assert_eq!(ByteReader::new(&[0x80]).take_varint(), None);
    }
}

//! The bytes that the chain is made of: byte strings one after the other, each with its length before it, so that no two
//! different rows can give the same bytes. The form is that of netstrings (length in decimal, colon, bytes, comma).
//!
//! A row's text goes in exactly as it is stored, never parsed and written again; so no later change in how a number or a key
//! is written can break an old chain.

use std::fmt::Display;

use sha2::{Digest, Sha256};

/// Byte strings with their lengths.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Fields(Vec<u8>);

impl Fields {
    /// Fields that begin with the name of what they tell of.
    #[must_use]
    pub fn of(what: &str) -> Self {
        let mut fields = Self::default();
        fields.bytes(what.as_bytes());
        fields
    }

    /// Adds bytes as they are.
    pub fn bytes(&mut self, bytes: &[u8]) -> &mut Self {
        self.digits(u64::try_from(bytes.len()).unwrap_or(u64::MAX));
        self.0.push(b':');
        self.0.extend_from_slice(bytes);
        self.0.push(b',');
        self
    }

    /// Adds what is shown as text: a whole number in decimal, a hash in hexadecimal.
    pub fn shown(&mut self, value: impl Display) -> &mut Self {
        self.bytes(value.to_string().as_bytes())
    }

    /// Adds a whole number in decimal, as [`Self::shown`] does, without a text of its own: records come by the million.
    fn number(&mut self, value: i64) {
        let digits = value.unsigned_abs().checked_ilog10().unwrap_or(0) + 1;
        self.digits(u64::from(digits) + u64::from(value < 0));
        self.0.push(b':');
        if value < 0 {
            self.0.push(b'-');
        }
        self.digits(value.unsigned_abs());
        self.0.push(b',');
    }

    fn digits(&mut self, value: u64) {
        let start = self.0.len();
        let mut rest = value;
        loop {
            self.0.push(b'0' + u8::try_from(rest % 10).unwrap_or(0));
            rest /= 10;
            if rest == 0 {
                break;
            }
        }
        if let Some(digits) = self.0.get_mut(start..) {
            digits.reverse();
        }
    }

    /// All of it.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8] {
        &self.0
    }
}

/// One of the maker's entries.
#[must_use]
pub fn entry(id: i64, entered_at_ms: i64, kind: &[u8], body: &[u8]) -> Fields {
    let mut fields = Fields::of("entry");
    fields.shown(id).shown(entered_at_ms).bytes(kind).bytes(body);
    fields
}

/// Records of one log that were kept together. `numbers` says which, `rows` is their digest.
#[must_use]
pub fn records(logger: u64, log: u32, numbers: &[u8], rows: RowsDigest) -> Fields {
    let mut fields = Fields::of("records");
    fields.shown(format_args!("{logger:016x}")).shown(format_args!("{log:08x}")).bytes(numbers);
    fields.shown(rows.rows).bytes(hexadecimal(&rows.finished()).as_bytes());
    fields
}

/// Numbers of one log that its logger no longer has: from one, included, below another.
#[must_use]
pub fn gone(logger: u64, log: u32, from: u32, below: u32) -> Fields {
    let mut fields = Fields::of("gone");
    fields.shown(format_args!("{logger:016x}")).shown(format_args!("{log:08x}")).shown(from).shown(below);
    fields
}

/// A digest over records, in the order of their variants and numbers.
#[derive(Clone, Debug, Default)]
pub struct RowsDigest {
    hash: Sha256,
    rows: u64,
    /// Of the last row, for its room.
    fields: Fields,
}

impl RowsDigest {
    /// Adds one record with its number, its variant, when it was received in milliseconds UTC, and its bytes.
    pub fn row(&mut self, seq: i64, variant: i64, received_at_ms: i64, body: &[u8]) {
        let fields = &mut self.fields;
        fields.0.clear();
        fields.number(seq);
        fields.number(variant);
        fields.number(received_at_ms);
        fields.bytes(body);
        self.hash.update(fields.as_bytes());
        self.rows += 1;
    }

    /// Number of records in the digest.
    #[must_use]
    pub const fn rows(&self) -> u64 {
        self.rows
    }

    fn finished(self) -> [u8; 32] {
        self.hash.finalize().into()
    }
}

/// Bytes as lower-case hexadecimal digits.
#[must_use]
pub fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_have_their_lengths_before_them() {
        // "hello world!" and the empty string are the examples of the netstrings page (D. J. Bernstein, 1997).
        let mut fields = Fields::default();
        fields.bytes(b"hello world!").bytes(b"");
        assert_eq!(fields.as_bytes(), b"12:hello world!,0:,");
    }

    #[test]
    fn numbers_are_written_as_they_are_shown() {
        for value in [0, 1, 9, 10, 99, 100, -1, -10, 1_772_438_400_000, i64::MAX, i64::MIN] {
            let (mut written, mut shown) = (Fields::default(), Fields::default());
            written.number(value);
            shown.shown(value);
            assert_eq!(written, shown, "{value}");
        }
        let mut bytes = Fields::default();
        bytes.bytes(&[b'x'; 120]);
        assert_eq!(bytes.as_bytes(), format!("120:{},", "x".repeat(120)).as_bytes());
    }

    #[test]
    fn no_shift_of_bytes_between_fields_gives_the_same_bytes() {
        assert_ne!(entry(1, 23, b"a", b"b"), entry(12, 3, b"a", b"b"));
        assert_ne!(entry(1, 2, b"ab", b""), entry(1, 2, b"a", b"b"));
        assert_ne!(entry(1, 2, b"1:a,", b""), entry(1, 2, b"", b"1:a,"));
    }

    #[test]
    fn an_entry_is_written_as_the_document_says() {
        let expected = b"5:entry,1:7,13:1772438400000,7:machine,2:{},";
        assert_eq!(entry(7, 1_772_438_400_000, b"machine", b"{}").as_bytes(), expected);
    }
}

//! A link: SHA-256 over the link before it, its place, and the canonical bytes of what it covers.

use std::fmt;

use sha2::{Digest, Sha256};

use super::canonical::{Fields, hexadecimal};

/// Names the way in which links are made; a new way gets a new name.
pub const CHAIN_NAME: &str = "needlehours chain 1";

/// A link of the chain.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Link(pub [u8; 32]);

impl Link {
    /// Predecessor of the first link.
    pub const BEFORE_THE_FIRST: Self = Self([0; 32]);

    /// The link of the step at a place from 1 on, which covers `content`.
    #[must_use]
    pub fn after(previous: Self, position: u64, content: &Fields) -> Self {
        let mut start = Fields::of(CHAIN_NAME);
        start.shown(previous).shown(position);
        let mut hash = Sha256::new();
        hash.update(start.as_bytes());
        hash.update(content.as_bytes());
        Self(hash.finalize().into())
    }

    /// A link from its 64 hexadecimal digits.
    #[must_use]
    pub fn of_digits(digits: &str) -> Option<Self> {
        let mut bytes = [0; 32];
        if digits.len() != 64 || !digits.bytes().all(|digit| digit.is_ascii_hexdigit()) {
            return None;
        }
        for (byte, start) in bytes.iter_mut().zip((0..64).step_by(2)) {
            *byte = u8::from_str_radix(digits.get(start..start + 2)?, 16).ok()?;
        }
        Some(Self(bytes))
    }
}

impl fmt::Display for Link {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&hexadecimal(&self.0))
    }
}

impl serde::Serialize for Link {
    fn serialize<S: serde::Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::canonical::entry;

    #[test]
    fn the_hash_is_sha_256() {
        // FIPS 180-4's example "abc"; the digest is in NIST's "Secure Hash Standard" example file SHA256.pdf.
        let digest: [u8; 32] = Sha256::digest(b"abc").into();
        assert_eq!(hexadecimal(&digest), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn two_links_made_by_hand_are_found_again() {
        // Made with sha256sum of GNU coreutils over the printed bytes, as host/RECORD_BOOK.md shows.
        let first = Link::after(Link::BEFORE_THE_FIRST, 1, &entry(1, 1_772_438_400_000, b"a", b"{}"));
        assert_eq!(first.to_string(), "b98f3fc9299ba89bd629e1c7840eb49a1de605aee0edf700cd0eed29a1e84a04");
        let second = Link::after(first, 2, &entry(2, 1_772_438_460_000, b"b", br#"{"kind":"b"}"#));
        assert_eq!(second.to_string(), "ea69bd03227b2621417878e9df7732bb6e40be0df579cf31c0cdfd536e71bce4");
    }

    #[test]
    fn digits_come_back_and_anything_else_is_no_link() {
        let link = Link([0xAB; 32]);
        assert_eq!(Link::of_digits(&link.to_string()), Some(link));
        assert_eq!(Link::of_digits(&"AB".repeat(32)), Some(link));
        for other in ["", "ab", &"ab".repeat(33), &"zz".repeat(32), &"é".repeat(32)] {
            assert_eq!(Link::of_digits(other), None, "{other}");
        }
    }
}

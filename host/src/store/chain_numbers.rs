//! Which records a step of the chain covers, as it is written in the chain: `0:0-127,1:5-5` is numbers 0 to 127 as first
//! received and number 5 with other bytes.

use std::fmt;

use shared_types::RecordSeq;

/// Records with numbers one after the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Group {
    /// 0 came first; 1 and up are other bytes under the same number.
    pub variant: i64,
    /// The first.
    pub from: RecordSeq,
    /// The last, included.
    pub to: RecordSeq,
}

/// Some records of one log.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Numbers(Vec<Group>);

impl Numbers {
    /// The groups of some records.
    pub fn of(mut records: Vec<(i64, RecordSeq)>) -> Self {
        records.sort_unstable();
        let mut groups: Vec<Group> = Vec::new();
        for (variant, seq) in records {
            match groups.last_mut() {
                Some(last) if last.variant == variant && last.to.0.checked_add(1) == Some(seq.0) => {
                    last.to = seq;
                }
                _ => groups.push(Group { variant, from: seq, to: seq }),
            }
        }
        Self(groups)
    }

    /// The groups, by variant and number.
    pub fn groups(&self) -> &[Group] {
        &self.0
    }

    /// Adds others.
    pub fn extend(&mut self, others: Self) {
        self.0.extend(others.0);
        self.0.sort_unstable();
    }

    /// Whether a record is among them.
    pub fn contains(&self, variant: i64, seq: RecordSeq) -> bool {
        let after = self.0.partition_point(|group| (group.variant, group.from) <= (variant, seq));
        after
            .checked_sub(1)
            .and_then(|place| self.0.get(place))
            .is_some_and(|group| group.variant == variant && seq <= group.to)
    }
}

impl fmt::Display for Numbers {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (place, Group { variant, from, to }) in self.0.iter().enumerate() {
            let comma = if place == 0 { "" } else { "," };
            write!(f, "{comma}{variant}:{}-{}", from.0, to.0)?;
        }
        Ok(())
    }
}

/// The text says no numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoNumbers;

impl std::str::FromStr for Numbers {
    type Err = NoNumbers;

    fn from_str(text: &str) -> Result<Self, NoNumbers> {
        let group = |text: &str| {
            let (variant, range) = text.split_once(':')?;
            let (from, to) = range.split_once('-')?;
            Some(Group {
                variant: variant.parse().ok()?,
                from: RecordSeq(from.parse().ok()?),
                to: RecordSeq(to.parse().ok()?),
            })
        };
        text.split(',').map(group).collect::<Option<Vec<_>>>().map(Self).ok_or(NoNumbers)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(records: &[(i64, u32)]) -> Numbers {
        Numbers::of(records.iter().map(|(variant, seq)| (*variant, RecordSeq(*seq))).collect())
    }

    #[test]
    fn numbers_one_after_the_other_are_one_group() {
        let some = numbers(&[(0, 3), (0, 1), (1, 2), (0, 2), (0, 9), (0, u32::MAX)]);
        assert_eq!(some.to_string(), "0:1-3,0:9-9,0:4294967295-4294967295,1:2-2");
        assert_eq!(some.to_string().parse(), Ok(some));
    }

    #[test]
    fn what_is_in_and_what_is_not() {
        let mut some = numbers(&[(0, 1), (0, 2), (1, 2)]);
        some.extend(numbers(&[(0, 7)]));
        let is_in = [(0, 0), (0, 1), (0, 2), (0, 3), (0, 7), (1, 1), (1, 2), (1, 7)]
            .map(|(variant, seq)| some.contains(variant, RecordSeq(seq)));
        assert_eq!(is_in, [false, true, true, false, true, false, true, false]);
    }

    #[test]
    fn other_texts_are_no_numbers() {
        for text in ["", "0", "0:1", "0:1-", "a:1-2", "0:1-2,", "0:1-99999999999"] {
            assert_eq!(text.parse::<Numbers>(), Err(NoNumbers), "{text}");
        }
    }
}

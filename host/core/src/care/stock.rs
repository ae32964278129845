//! Stock of spares and supplies, and when to reorder. Only what the maker said went out is taken out, and of a spare the one that
//! was fitted.

use serde::Serialize;

use crate::entries::{EntryBody, EntryId, InForce, PartFitted, PartName, SpareName, StockChange, StockUnit};

/// How one spare stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StockLine {
    /// What.
    pub item: SpareName,
    /// In what it is counted.
    pub unit: StockUnit,
    /// How much is left; never below zero.
    pub left: u64,
    /// Buy more at so much or less; null: never asked for.
    pub reorder_at: Option<u32>,
    /// Whether more is to be bought.
    pub is_low: bool,
    /// Whether more was taken out than was ever there: it should be counted.
    pub is_short: bool,
}

/// All spares that were ever named, in the order in which they were.
#[must_use]
pub fn stock(entries: &InForce<'_>) -> Vec<StockLine> {
    let mut lines: Vec<StockLine> = Vec::new();
    let counts = |care: EntryId| entries.get(care).is_some();
    for entry in entries.iter() {
        match &entry.body {
            EntryBody::StockMoved(moved) if moved.of_care.is_none_or(counts) => {
                change(&mut lines, &moved.item, |line| line.take(moved.change));
            }
            EntryBody::PartFitted(PartFitted { from_stock: Some(item), .. }) => {
                change(&mut lines, item, |line| line.take(StockChange::Out(1)));
            }
            EntryBody::StockLevelSet(set) => change(&mut lines, &set.item, |line| {
                line.unit = set.unit;
                line.reorder_at = set.reorder_at;
                line.judge();
            }),
            _ => {}
        }
    }
    lines
}

/// The spare out of which a part of a kind comes, if such a one is kept; "needle" is looked for in "needles" too.
#[must_use]
pub fn spare_for<'a>(lines: &'a [StockLine], part: &PartName) -> Option<&'a StockLine> {
    spares_for(part).find_map(|name| lines.iter().find(|line| line.item == name))
}

/// Whether a spare is one that a part of a kind comes out of.
#[must_use]
pub fn is_spare_for(spare: &SpareName, part: &PartName) -> bool {
    spares_for(part).any(|name| name == *spare)
}

/// What the spare for a part may be called: by its name, the likeliest first, in the plural or in the singular.
fn spares_for(part: &PartName) -> impl Iterator<Item = SpareName> {
    let one = part.0.strip_suffix('s').map(str::to_owned);
    [Some(part.0.clone()), Some(format!("{}s", part.0)), one]
        .into_iter()
        .flatten()
        .map(|name| SpareName::of(&name))
}

fn change(lines: &mut Vec<StockLine>, item: &SpareName, apply: impl FnOnce(&mut StockLine)) {
    if let Some(line) = lines.iter_mut().find(|line| line.item == *item) {
        return apply(line);
    }
    let mut line = StockLine {
        item: item.clone(),
        unit: item.usual_unit(),
        left: 0,
        reorder_at: None,
        is_low: false,
        is_short: false,
    };
    apply(&mut line);
    lines.push(line);
}

impl StockLine {
    fn take(&mut self, change: StockChange) {
        match change {
            StockChange::In(count) => self.left = self.left.saturating_add(u64::from(count)),
            StockChange::Out(count) => {
                self.is_short |= self.left < u64::from(count);
                self.left = self.left.saturating_sub(u64::from(count));
            }
            StockChange::Counted(count) => {
                self.left = u64::from(count);
                self.is_short = false;
            }
        }
        self.judge();
    }

    fn judge(&mut self) {
        self.is_low = self.reorder_at.is_some_and(|level| self.left <= u64::from(level));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::{StockLevelSet, StockMoved};
    use crate::test_facts::entries;
    use shared_types::UtcMillis;

    fn moved(item: &str, change: StockChange) -> EntryBody {
        EntryBody::StockMoved(StockMoved {
            item: SpareName::of(item),
            change,
            at: UtcMillis(0),
            note: None,
            of_care: None,
        })
    }

    fn level(item: &str, reorder_at: Option<u32>) -> EntryBody {
        let unit = StockUnit::Pieces;
        EntryBody::StockLevelSet(StockLevelSet { item: SpareName::of(item), unit, reorder_at })
    }

    fn line(said: Vec<EntryBody>) -> StockLine {
        stock(&entries(said))[0].clone()
    }

    #[test]
    fn a_spare_is_known_by_the_name_of_its_part_in_the_singular_and_in_the_plural() {
        let is_it = |spare: &str, part: &str| is_spare_for(&SpareName::of(spare), &PartName::of(part));
        assert!(is_it("needle", "needle") && is_it("Needles", "needle") && is_it("needle", "needles"));
        assert!(is_it("scissors", "scissors") && is_it("carbon-brushes", "carbon-brushes"));
        assert!(!is_it("oil", "needle") && !is_it("belt", "scissors"));
    }

    #[test]
    fn what_came_in_and_went_out_is_what_is_left() {
        let said = vec![
            moved("Needle", StockChange::In(5)),
            moved("needle", StockChange::Out(2)),
            level("needle", Some(2)),
        ];
        let needle = line(said.clone());
        assert_eq!((needle.left, needle.is_low, needle.item.0.as_str()), (3, false, "needle"));
        let fewer = said.into_iter().chain([moved("needle", StockChange::Out(1))]).collect();
        assert!(line(fewer).is_low, "two are left and two is the level");
    }

    #[test]
    fn counting_overrules_and_taking_more_than_there_was_is_told() {
        let short = vec![moved("oil", StockChange::In(3)), moved("oil", StockChange::Out(5))];
        assert_eq!((line(short.clone()).left, line(short.clone()).is_short), (0, true));
        let counted = line(short.into_iter().chain([moved("oil", StockChange::Counted(40))]).collect());
        assert_eq!((counted.left, counted.is_short), (40, false));
    }

    #[test]
    fn oil_is_counted_by_the_millilitre_and_needles_by_the_piece_until_the_maker_says_otherwise() {
        let unit = |item: &str| line(vec![moved(item, StockChange::In(3))]).unit;
        assert_eq!((unit("oil"), unit("Machine oil")), (StockUnit::Millilitres, StockUnit::Millilitres));
        assert_eq!((unit("needle"), unit("foil")), (StockUnit::Pieces, StockUnit::Pieces));
        let bottles = vec![moved("oil", StockChange::In(3)), level("oil", None)];
        assert_eq!(line(bottles).unit, StockUnit::Pieces, "as the level's entry says");
    }

    #[test]
    fn without_a_level_nothing_is_to_be_bought() {
        assert!(!line(vec![moved("belt", StockChange::In(0)), level("belt", None)]).is_low);
        assert!(line(vec![level("belt", Some(0))]).is_low, "none there, and none is the level");
    }
}

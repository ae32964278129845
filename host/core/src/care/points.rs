//! The points of a machine that want oil or grease, each with its own lubricant, and what must never be oiled.
//!
//! The list is common practice, no source; that metal gear teeth want grease and open slides want oil is old advice from
//! sewing machines. The maker adds, renames and takes away points, so that the list is that of the machine on the bench.

use serde::Serialize;
use shared_types::MachineTag;

use crate::entries::{Drive, GEAR_GREASE, Lubricant, OILING, OilPointChange, OilPointChanged, Pile};

/// A point, and what goes on it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OilPoint {
    /// Its name.
    pub point: String,
    /// What goes on it.
    pub lubricant: Lubricant,
    /// Whether the maker added or changed it.
    pub by_maker: bool,
}

impl Lubricant {
    /// In words.
    #[must_use]
    pub fn words(&self) -> &str {
        match self {
            Self::Oil => "light clear sewing-machine oil",
            Self::Grease => "gear grease, not oil",
            Self::Other(own) => own,
        }
    }

    /// The task during which the point is served: closed gears have a task of their own.
    #[must_use]
    pub const fn task(&self) -> &'static str {
        match self {
            Self::Grease => GEAR_GREASE,
            Self::Oil | Self::Other(_) => OILING,
        }
    }
}

/// Who has a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum On {
    Every,
    Scissors,
    Looper,
    Motor,
}

const POINTS: [(&str, On, Lubricant); 10] = [
    ("needle bar and guides", On::Every, Lubricant::Oil),
    ("crank pin", On::Every, Lubricant::Oil),
    ("connecting link", On::Every, Lubricant::Oil),
    ("eccentric", On::Every, Lubricant::Oil),
    ("scissor pivot", On::Scissors, Lubricant::Oil),
    ("scissor channel", On::Scissors, Lubricant::Oil),
    ("scissor closer", On::Scissors, Lubricant::Oil),
    ("looper pivot", On::Looper, Lubricant::Oil),
    ("felt wicks", On::Every, Lubricant::Oil),
    ("closed gear box", On::Motor, Lubricant::Grease),
];

/// What must stay dry on a machine.
#[must_use]
pub fn never_oiled(drive: Drive) -> &'static [&'static str] {
    match drive {
        Drive::Electric => &["the belt", "the carbon brushes", "the foot's face", "the needle's tip"],
        Drive::Pneumatic => &["the foot's face", "the needle's tip"],
    }
}

/// The points of a machine after everything that the maker changed, in order.
pub fn points<'a>(
    pile: Pile,
    drive: Drive,
    machine: MachineTag,
    changes: impl IntoIterator<Item = &'a OilPointChanged>,
) -> Vec<OilPoint> {
    let has = |on: On| match on {
        On::Every => true,
        On::Scissors => pile != Pile::Loop,
        On::Looper => pile != Pile::Cut,
        On::Motor => drive == Drive::Electric,
    };
    let mut points: Vec<OilPoint> = POINTS
        .into_iter()
        .filter(|(_, on, _)| has(*on))
        .map(|(name, _, lubricant)| OilPoint { point: name.to_owned(), lubricant, by_maker: false })
        .collect();
    for changed in changes.into_iter().filter(|changed| changed.machine == machine) {
        let there = points.iter().position(|point| is_called(point, &changed.point));
        let point = there.and_then(|at| points.get_mut(at));
        match (&changed.change, point) {
            (OilPointChange::Added(lubricant), None) => points.push(OilPoint {
                point: changed.point.clone(),
                lubricant: lubricant.clone(),
                by_maker: true,
            }),
            (OilPointChange::Added(lubricant) | OilPointChange::Gets(lubricant), Some(point)) => {
                point.lubricant = lubricant.clone();
                point.by_maker = true;
            }
            (OilPointChange::Renamed(to), Some(point)) => {
                point.point.clone_from(to);
                point.by_maker = true;
            }
            (OilPointChange::Removed, Some(_)) => points.retain(|point| !is_called(point, &changed.point)),
            (_, None) => {}
        }
    }
    points
}

/// Whether a point is meant by a name, without regard to case.
#[must_use]
pub fn is_called(point: &OilPoint, name: &str) -> bool {
    point.point.to_lowercase() == name.trim().to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    const ONE: MachineTag = MachineTag(1);

    fn names(points: &[OilPoint]) -> Vec<&str> {
        points.iter().map(|point| point.point.as_str()).collect()
    }

    fn changed(point: &str, change: OilPointChange) -> OilPointChanged {
        OilPointChanged { machine: ONE, point: point.to_owned(), change }
    }

    #[test]
    fn scissors_loopers_and_gears_are_oiled_only_where_there_are_any() {
        let of = |pile, drive| points(pile, drive, ONE, []);
        let (cut, looped) = (of(Pile::Cut, Drive::Electric), of(Pile::Loop, Drive::Electric));
        assert!(names(&cut).contains(&"scissor pivot") && !names(&cut).contains(&"looper pivot"));
        assert!(!names(&looped).contains(&"scissor pivot") && names(&looped).contains(&"looper pivot"));
        let both = of(Pile::CutAndLoop, Drive::Pneumatic);
        assert!(names(&both).contains(&"scissor closer") && names(&both).contains(&"looper pivot"));
        assert!(!names(&both).contains(&"closed gear box"));
    }

    #[test]
    fn open_points_get_oil_and_the_closed_gear_box_grease() {
        for point in points(Pile::CutAndLoop, Drive::Electric, ONE, []) {
            let grease = point.point == "closed gear box";
            assert_eq!(point.lubricant, if grease { Lubricant::Grease } else { Lubricant::Oil });
            assert_eq!(point.lubricant.task(), if grease { "gear-grease" } else { "oiling" });
        }
    }

    #[test]
    fn the_maker_adds_renames_and_takes_away_points_of_one_machine() {
        let changes = [
            changed("Front bush", OilPointChange::Added(Lubricant::Grease)),
            changed("eccentric", OilPointChange::Renamed("cam".to_owned())),
            changed("cam", OilPointChange::Gets(Lubricant::Other("moly paste".to_owned()))),
            changed("Crank Pin", OilPointChange::Removed),
            OilPointChanged { machine: MachineTag(2), ..changed("scissor pivot", OilPointChange::Removed) },
        ];
        let points = points(Pile::Cut, Drive::Electric, ONE, &changes);
        assert!(!names(&points).contains(&"crank pin") && !names(&points).contains(&"eccentric"));
        assert!(names(&points).contains(&"scissor pivot"));
        let of =
            |name: &str| points.iter().find(|point| is_called(point, name)).map(|point| &point.lubricant);
        assert_eq!(of("front bush"), Some(&Lubricant::Grease));
        assert_eq!(of("cam"), Some(&Lubricant::Other("moly paste".to_owned())));
    }
}

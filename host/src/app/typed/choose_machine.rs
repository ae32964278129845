//! The choice of the machine that a request is about.

use std::error::Error;
use std::str::FromStr;

use shared_types::MachineTag;

use super::error::{RequestError, is_below_zero};
use crate::app::ports::Store;
use host_core::studio::{MachineCard, Studio, nearest_names};

/// A machine as the maker calls it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum MachineSaid {
    /// Its number, from 1.
    Number(u32),
    /// Its name or the beginning of it, in capitals or not.
    Named(String),
}

impl FromStr for MachineSaid {
    type Err = Box<dyn Error + Send + Sync>;

    /// # Errors
    /// When it is empty, or a number that no machine can have.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        if text.is_empty() || is_below_zero(text) {
            return Err("it must be the name or the number of a machine".into());
        }
        if !text.chars().all(|letter| letter.is_ascii_digit()) {
            return Ok(Self::Named(text.to_owned()));
        }
        match text.parse()? {
            0 => Err(format!("{text} is not in 1..={}", u32::MAX).into()),
            number => Ok(Self::Number(number)),
        }
    }
}

impl MachineSaid {
    /// The machine's number; one that was typed as a number is taken as it is.
    ///
    /// # Errors
    /// When no machine, or several, have such a name; when the store cannot be read.
    pub fn number(&self, store: &(impl Store + ?Sized)) -> Result<u32, RequestError> {
        match self {
            Self::Number(number) => Ok(*number),
            Self::Named(name) => Ok(named(&Studio::of(&store.entries()?), name)?.tag.0),
        }
    }
}

/// The number of the machine that was said, if one was.
///
/// # Errors
/// As [`MachineSaid::number`].
pub fn number(
    store: &(impl Store + ?Sized),
    said: Option<&MachineSaid>,
) -> Result<Option<u32>, RequestError> {
    said.map(|said| said.number(store)).transpose()
}

/// The machine of a name; without one of just that name, the only one whose name begins so.
fn named<'a>(studio: &'a Studio, name: &str) -> Result<&'a MachineCard, RequestError> {
    let machines = studio.machines.as_slice();
    if machines.is_empty() {
        return Err(RequestError::NoMachine);
    }
    let wanted = name.to_lowercase();
    let fitting = |fits: &dyn Fn(&str) -> bool| -> Vec<&MachineCard> {
        machines.iter().filter(|machine| fits(&machine.name.to_lowercase())).collect()
    };
    let whole = fitting(&|name| name == wanted);
    let meant = if whole.is_empty() { fitting(&|name| name.starts_with(&wanted)) } else { whole };
    match meant.as_slice() {
        [only] => Ok(only),
        [] => {
            let names: Vec<&str> = machines.iter().map(|machine| machine.name.as_str()).collect();
            let nearest = nearest_names(name, &names);
            Err(RequestError::NoMachineCalled { name: name.to_owned(), nearest, known: known(machines) })
        }
        several => Err(RequestError::SeveralMachinesCalled {
            name: name.to_owned(),
            known: several.iter().map(|machine| (machine.tag, machine.name.clone())).collect(),
        }),
    }
}

/// The machine that is meant: the named one, the only one, or the only one in use.
///
/// # Errors
/// When there is none, or several and none was named.
pub fn machine(studio: &Studio, number: Option<u32>) -> Result<&MachineCard, RequestError> {
    match (number, studio.machines.as_slice()) {
        (_, []) => Err(RequestError::NoMachine),
        (Some(number), machines) => machines
            .iter()
            .find(|machine| machine.tag == MachineTag(number))
            .ok_or_else(|| RequestError::UnknownMachine { number, known: known(machines) }),
        (None, [only]) => Ok(only),
        (None, machines) => {
            let mut in_use = machines.iter().filter(|machine| machine.resting.is_none());
            let several = || RequestError::SeveralMachines { known: known(machines) };
            in_use.next().filter(|_| in_use.next().is_none()).ok_or_else(several)
        }
    }
}

/// The number of the named machine; none when none was named, which means all.
///
/// # Errors
/// When there is none of that number.
pub fn only_machine(studio: &Studio, number: Option<u32>) -> Result<Option<MachineTag>, RequestError> {
    number.map(|number| machine(studio, Some(number)).map(|card| card.tag)).transpose()
}

/// The named machine, or all of them.
///
/// # Errors
/// When there is none.
pub fn machines(studio: &Studio, number: Option<u32>) -> Result<Vec<&MachineCard>, RequestError> {
    match number {
        Some(_) => Ok(vec![machine(studio, number)?]),
        None if studio.machines.is_empty() => Err(RequestError::NoMachine),
        None => Ok(studio.machines.iter().collect()),
    }
}

fn known(machines: &[MachineCard]) -> Vec<(MachineTag, String)> {
    machines.iter().map(|machine| (machine.tag, machine.name.clone())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::entries::{Drive, Entry, EntryBody, EntryId, InForce, MachineAdded, Pile};
    use shared_types::UtcMillis;

    fn studio(names: &[&str]) -> Studio {
        let added = |(number, name): (u32, &&str)| Entry {
            id: EntryId(number.into()),
            entered_at: UtcMillis(0),
            body: EntryBody::MachineAdded(MachineAdded {
                machine: MachineTag(number),
                name: (*name).to_owned(),
                pile: Pile::Cut,
                before_logger: None,
                since: UtcMillis(0),
                drive: Drive::Electric,
                has_logger: None,
                is_second_hand: None,
            }),
        };
        let entries: Vec<Entry> = (1..).zip(names).map(added).collect();
        Studio::of(&InForce::of(&entries))
    }

    #[test]
    fn a_whole_name_or_the_beginning_of_only_one_names_a_machine_in_capitals_or_not() {
        let studio = studio(&["Blue handle", "Blueberry", "Red", "Red two"]);
        for (typed, number) in
            [("blue handle", 1), ("BLUE h ", 1), ("Blueb", 2), ("red", 3), ("red t", 4), ("RED TWO", 4)]
        {
            let MachineSaid::Named(name) = typed.parse().unwrap() else { panic!("{typed} is a name") };
            assert_eq!(named(&studio, &name).map(|card| card.tag.0).ok(), Some(number), "{typed}");
        }
    }

    #[test]
    fn a_beginning_of_several_names_the_candidates_and_an_unknown_name_the_nearest_and_all() {
        let studio = studio(&["Blue handle", "Blueberry", "Red"]);
        let several = named(&studio, "blue").map(|card| card.tag).unwrap_err();
        assert_eq!(several.to_string(), "\"blue\" may be 1 (Blue handle) or 2 (Blueberry)");
        let none = named(&studio, "Rde").map(|card| card.tag).unwrap_err();
        assert_eq!(none.to_string(), "there is no machine called \"Rde\"");
        let help = miette::Diagnostic::help(&none).unwrap().to_string();
        assert_eq!(help, "Did you mean Red? There are 1 (Blue handle), 2 (Blueberry), 3 (Red).");
    }

    #[test]
    fn digits_are_a_number_from_one_on() {
        assert_eq!(" 2 ".parse::<MachineSaid>().unwrap(), MachineSaid::Number(2));
        for refused in ["", "  ", "0", "-1", "4294967296"] {
            assert!(refused.parse::<MachineSaid>().is_err(), "{refused}");
        }
        assert_eq!("1.5".parse::<MachineSaid>().unwrap(), MachineSaid::Named("1.5".to_owned()));
    }
}

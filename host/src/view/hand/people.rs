//! `person` on screen.

use crate::app::hand::people::{People, Person};
use crate::app::ports::book::Erased;
use crate::view::words::table::{Column, Table};

/// The list.
#[must_use]
pub fn list(people: &People) -> String {
    if people.people.is_empty() {
        return "Nobody has been entered yet: needlehours person add NAME".to_owned();
    }
    let mut table = Table::new(&[Column::Numbers("number"), Column::Words("name")]);
    for person in &people.people {
        table.row([person.person.0.to_string(), name(person)]);
    }
    table.text()
}

fn name(person: &Person) -> String {
    person.name.clone().unwrap_or_else(|| "(erased)".to_owned())
}

/// Somebody was entered.
#[must_use]
pub fn added(person: &Person) -> String {
    format!(
        "{} is person {}. Say who works: needlehours exposure who {}",
        name(person),
        person.person.0,
        person.person.0
    )
}

/// Somebody was given another name.
#[must_use]
pub fn renamed(person: &Person, old: Erased) -> String {
    let told = format!("Person {} is called {} now, everywhere.", person.person.0, name(person));
    match old {
        Erased::Gone => told,
        Erased::NotYet => format!("{told} {NOT_YET}"),
    }
}

/// The old name may still be found by whoever looks into the file.
const NOT_YET: &str = "Not finished yet: another program is reading the database, so the old name can still be found in its file. \
    Close the other program; the next needlehours command on this database takes the name out.";

/// A name was erased.
#[must_use]
pub fn erased(person: &Person, old: Erased) -> String {
    if old == Erased::NotYet {
        return format!("The name of person {} is not shown any more. {NOT_YET}", person.person.0);
    }
    format!(
        "The name of person {} is erased; the number and what was entered for it stay, and the record still holds. Not erased: \
         a name that you wrote into a note, a condition, a reason or a rug's name, books that you printed, and copies of the \
         database.",
        person.person.0
    )
}

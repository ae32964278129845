//! The studio and its people as tables.

use std::collections::BTreeSet;

use shared_types::UtcMillis;

use super::shape::{Shape, TableSink, boolean, integer, text};
use crate::app::keeping::error::ExportError;
use crate::app::keeping::whole::EXPORT_VERSION;
use crate::app::whole_book::Book;
use host_core::entries::{EntryBody, PersonTag};
use host_core::rugs::commission::Commissions;

/// The studio; one row.
pub const STUDIO: Shape = Shape {
    name: "studio",
    columns: &[
        text("zone"),
        integer("exported_utc_ms"),
        text("head"),
        text("currency").or_null(),
        boolean("with_names"),
        text("program"),
        integer("export_version"),
    ],
    when: None,
};

/// People.
pub const PEOPLE: Shape =
    Shape { name: "people", columns: &[integer("person"), text("name").or_null()], when: None };

/// What the tables say of the export itself.
#[derive(Clone, Debug)]
pub struct About<'a> {
    /// The maker's time zone.
    pub zone: &'a str,
    /// When it is made.
    pub now: UtcMillis,
    /// The head of the chain.
    pub head: &'a str,
    /// Whether people's names are in it.
    pub with_names: bool,
    /// The program that makes it.
    pub program: &'a str,
}

/// Writes the studio's row.
pub fn studio(book: &Book, about: &About<'_>, sink: &mut impl TableSink) -> Result<(), ExportError> {
    let terms = Commissions::of(&book.entries).terms;
    sink.begin(&STUDIO)?;
    sink.row(&[
        about.zone.into(),
        about.now.into(),
        about.head.into(),
        terms.currency.as_deref().into(),
        about.with_names.into(),
        about.program.into(),
        EXPORT_VERSION.into(),
    ])?;
    sink.end()
}

/// Writes the people by number; their names only where they are given.
pub fn people(
    book: &Book,
    names: &[(PersonTag, String)],
    sink: &mut impl TableSink,
) -> Result<(), ExportError> {
    let added = book.entries.iter().filter_map(|entry| match &entry.body {
        EntryBody::PersonAdded(added) => Some(added.person),
        _ => None,
    });
    sink.begin(&PEOPLE)?;
    for person in added.collect::<BTreeSet<PersonTag>>() {
        let name = names.iter().find(|(known, _)| *known == person).map(|(_, name)| name.as_str());
        sink.row(&[person.0.into(), name.into()])?;
    }
    sink.end()
}

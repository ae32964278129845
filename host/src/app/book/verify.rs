//! Checking that nothing that was kept was changed afterwards.

use miette::Diagnostic;
use serde::Serialize;
use thiserror::Error;

use crate::app::ports::StoreError;
use crate::app::ports::book::{Chained, ChainedLater, SchemaFinding};
use host_core::book::{ChainReport, Checker, Covers, Head, NotAHead};

/// Why there is no answer.
#[derive(Debug, Error, Diagnostic)]
pub enum VerifyError {
    /// The database cannot be read.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Store(#[from] StoreError),
    /// What was typed is no head.
    #[error(transparent)]
    #[diagnostic(
        code(verify::head),
        help(
            "Copy it whole from the record book or an earlier `needlehours verify`, with its number and dash."
        )
    )]
    Head(#[from] NotAHead),
}

/// The answer of `verify`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct VerifyReport {
    /// Whether everything holds: the chain, the head where there was one, the summaries, the tables and guards.
    pub is_fine: bool,
    /// The chain.
    #[serde(flatten)]
    pub chain: ChainReport,
    /// Rows of the summaries made from the records that do not fit the records, and sums over what is stored that do not fit
    /// it.
    pub summaries_differ: u64,
    /// What is missing, changed or foreign among the tables and guards.
    pub guards: Vec<SchemaFinding>,
    /// Steps of the chain that were made later than what they cover was kept.
    pub chained_later: Vec<ChainedLater>,
}

/// Checks everything; against a head that was printed before, where one is typed.
///
/// # Errors
/// When the head is none, or the database cannot be read.
pub fn verify(store: &impl Chained, against: Option<&str>) -> Result<VerifyReport, VerifyError> {
    let against = against.map(str::parse::<Head>).transpose()?;
    let chain = chain(store, against)?;
    let summaries_differ = store.summaries_that_differ()?;
    let (guards, chained_later) = (store.schema_findings()?, store.chained_later()?);
    let is_fine = chain.is_fine() && summaries_differ == 0 && guards.is_empty();
    Ok(VerifyReport { is_fine, chain, summaries_differ, guards, chained_later })
}

/// Checks the chain alone.
///
/// # Errors
/// When the database cannot be read.
pub fn chain(store: &impl Chained, against: Option<Head>) -> Result<ChainReport, StoreError> {
    let mut checker = Checker::new(against);
    let outside = store.walk_chain(&mut |step| checker.step(step))?;
    Ok(finished(checker, outside))
}

/// Checks the chain while `meanwhile` reads, which sees all that the chain covers or more.
pub fn chain_beside<T>(
    store: &impl Chained,
    meanwhile: impl FnOnce() -> T,
) -> (Result<ChainReport, StoreError>, T) {
    let mut checker = Checker::new(None);
    let (outside, told) = store.walk_chain_beside(&mut |step| checker.step(step), meanwhile);
    (outside.map(|outside| finished(checker, outside)), told)
}

fn finished(mut checker: Checker, outside: Vec<Covers>) -> ChainReport {
    outside.into_iter().for_each(|covers| checker.outside(covers));
    checker.finished()
}

//! What a timer is for, in words.

use host_core::entries::JobKind;
use serde::Serialize;

/// What a timer is for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TimerName {
    /// For what.
    pub job: JobKind,
    /// For which commission.
    pub rug: Option<String>,
}

impl TimerName {
    /// "gluing Fox".
    #[must_use]
    pub fn name(&self) -> String {
        let job = word(self.job);
        self.rug.as_ref().map_or_else(|| job.to_owned(), |rug| format!("{job} {rug}"))
    }
}

/// The word for a kind of job.
#[must_use]
pub const fn word(job: JobKind) -> &'static str {
    match job {
        JobKind::Stretching => "stretching",
        JobKind::Tracing => "tracing",
        JobKind::Gluing => "gluing",
        JobKind::Drying => "drying",
        JobKind::Shearing => "shearing",
        JobKind::Backing => "backing",
        JobKind::Other => "other work",
        JobKind::Designing => "designing",
        JobKind::Client => "client",
        JobKind::Packing => "packing",
    }
}

//! What the maker sees when something fails: what happened, the likely cause, what to try.

use std::borrow::Cow;
use std::error::Error;
use std::fmt;
use std::process::ExitCode;

use miette::{Diagnostic, Report};

use super::exit;

/// The code of an answer that could not be printed.
pub const UNPRINTED: &str = "output";
/// What is said of an entry whose answer could not be printed.
pub const KEPT: &str = "what you entered was kept, so do not enter it again";

/// The code of a clock that is in doubt.
const CLOCK: &str = "db::clock";

/// The code of a port at which another command of this program is.
const HELD: &str = "logger::held";

/// The code of what can be done again as a whole, because others entered something at the same moment.
const GROWN: &str = "db::grown";

/// A failure with its exit code.
#[derive(Debug)]
pub struct Failure {
    exit: u8,
    told: Told,
}

/// A failure as it is told to the maker.
#[derive(Debug)]
struct Told {
    code: Cow<'static, str>,
    what: String,
    remedy: String,
    source: Option<Box<dyn Error + Send + Sync>>,
}

impl Failure {
    fn new(
        exit: u8,
        code: impl Into<Cow<'static, str>>,
        what: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        let (code, what, remedy) = (code.into(), what.into(), remedy.into());
        Self { exit, told: Told { code, what, remedy, source: None } }
    }

    /// A value, file or table that cannot be used. `what` names it and the likely cause, `remedy` says what to try.
    pub fn bad_input(code: &'static str, what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::new(exit::BAD_INPUT, code, what, remedy)
    }

    /// A command that says too little to be understood.
    pub fn not_understood(code: &'static str, what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::new(exit::USAGE, code, what, remedy)
    }

    /// A logger that was not found, fell silent or refused.
    pub fn logger(code: &'static str, what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::new(exit::LOGGER, code, what, remedy)
    }

    /// Anything else that failed.
    pub fn other(code: &'static str, what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::new(exit::FAILED, code, what, remedy)
    }

    /// Keeps what a library or the system said.
    #[must_use]
    pub fn because(mut self, source: impl Into<Box<dyn Error + Send + Sync>>) -> Self {
        self.told.source = Some(source.into());
        self
    }

    /// Tells it in other words; its own become the cause.
    #[must_use]
    pub fn told_as(mut self, what: impl Into<String>) -> Self {
        self.told.what = what.into();
        self
    }

    /// Says more of what to try.
    #[must_use]
    pub fn with_hint(mut self, hint: &str) -> Self {
        self.told.remedy = format!("{} {hint}", self.told.remedy);
        self
    }

    /// Whether the same command may succeed at once, or tell why not: nothing of it was kept, and what was in its way is whole.
    pub fn is_worth_another_try(&self) -> bool {
        self.told.code == GROWN
    }

    /// Whether another command of this program is at the port.
    pub fn is_port_held(&self) -> bool {
        self.told.code == HELD
    }

    /// Whether the maker can say that the computer's clock is right, and all is well.
    pub fn doubts_clock(&self) -> bool {
        self.told.code == CLOCK
    }

    /// Says besides whether what was entered was kept, where the answer could not be printed.
    pub fn with_kept(self, is_kept: bool) -> Self {
        if self.told.code != UNPRINTED {
            return self;
        }
        let what = format!("{}; {}", self.told.what, if is_kept { KEPT } else { "nothing was entered" });
        self.told_as(what)
    }

    /// The same command would not do the same again.
    pub fn not_again(mut self) -> Self {
        if self.told.code == GROWN {
            self.told.code = "db::grown_pull".into();
        }
        self
    }

    /// The exit code of the process.
    pub fn exit(&self) -> ExitCode {
        exit::code(self.exit)
    }

    /// What is printed.
    pub fn report(self) -> Report {
        Report::new(self.told)
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.told.fmt(f)
    }
}

/// Every error with a code and a remedy is told with them; its code decides how the process ends.
impl<E: Diagnostic + Send + Sync + 'static> From<E> for Failure {
    fn from(error: E) -> Self {
        let code = error.code().map(|code| code.to_string()).unwrap_or_default();
        let remedy = error.help().map(|help| help.to_string()).unwrap_or_default();
        Self::new(exit::of(&code), code, error.to_string(), remedy).because(error)
    }
}

impl fmt::Display for Told {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.what)
    }
}

impl Error for Told {
    fn source(&self) -> Option<&(dyn Error + 'static)> {
        let source: &(dyn Error + 'static) = self.source.as_deref()?;
        // An error that is told in its own words is not told twice; what caused it is.
        if source.to_string() == self.what { source.source() } else { Some(source) }
    }
}

impl Diagnostic for Told {
    fn code<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(&self.code))
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(&self.remedy))
    }
}

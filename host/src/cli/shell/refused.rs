//! A request that was not answered, as it is told to the maker.

use shared_types::{LoggerId, MachineTag};

use super::failure::Failure;
use super::job_remedy;
use crate::app::ports::logger_name::logger_name;
use crate::app::typed::dates::DateError;
use crate::app::typed::request::RequestError;
use crate::app::typed::rug_problems::TellProblem;
use crate::view::words;
use host_core::rugs::work_order::WorkProblem;
use host_core::studio::UnknownRug;

/// How many names are listed at the most.
const MOST_NAMES: usize = 10;

impl From<RequestError> for Failure {
    fn from(error: RequestError) -> Self {
        let what = error.to_string();
        let (code, remedy) = match error {
            RequestError::Store(error) => return error.into(),
            RequestError::UnknownRug(unknown) => return unknown.into(),
            RequestError::Date(error) => return error.into(),
            RequestError::NoMachine => {
                let remedy = "Enter it first: needlehours machine add \"My machine\"";
                return Self::other("machine::none", what, remedy);
            }
            RequestError::NoLogger => {
                let remedy = "Plug it in and read it first: needlehours pull";
                return Self::other("logger::none", what, remedy);
            }
            RequestError::SeveralMachines { known } => {
                ("machine::which", format!("Add --machine and its number: {}.", machines(&known)))
            }
            RequestError::UnknownMachine { known, .. } => {
                ("machine::unknown", format!("{} {}.", there_is(known.len()), machines(&known)))
            }
            RequestError::SeveralLoggers { known } => {
                ("logger::which", format!("Add --logger and one of these: {}.", loggers(&known)))
            }
            RequestError::UnknownLogger { known, .. } => {
                ("logger::unknown", format!("{} {}.", there_is(known.len()), loggers(&known)))
            }
            RequestError::UnknownTask { nearest, known, .. } => (
                "care::task",
                format!("{} All tasks: needlehours care", meant(&nearest, &known, "The tasks are")),
            ),
            RequestError::UnknownPerson { known, .. } if known.is_empty() => {
                ("person::unknown", "Enter them first: needlehours person add NAME".to_owned())
            }
            RequestError::UnknownPerson { known, .. } => {
                let named: Vec<String> =
                    known.iter().map(|(person, name)| format!("{} ({name})", person.0)).collect();
                ("person::unknown", format!("{} {}.", there_is(known.len()), named.join(", ")))
            }
            RequestError::Job(problem) => job_remedy::remedy(&problem),
            RequestError::UnknownPoint { nearest, known, .. } => (
                "care::point",
                format!("{} All points: needlehours care", meant(&nearest, &known, "The points are")),
            ),
            RequestError::UnknownSpare { known, name } => ("stock::unknown", spares(&known, &name)),
            RequestError::LimitOutOfRange { .. } => {
                ("care::limit", "Choose a number in that range, or 0 to switch the limit off.".to_owned())
            }
            RequestError::SeveralParts { marks, .. } => (
                "part::which",
                format!(
                    "Say which one went: needlehours part off PART --serial MARK --because WHY, with the mark {}.",
                    words::one_of(&marks)
                ),
            ),
            RequestError::UnknownPart { known, .. } if !known.is_empty() => {
                ("part::unknown", format!("Fitted so far: {}.", words::all_of(&known)))
            }
            other => {
                let (code, remedy) =
                    of_care(&other).or_else(|| of_machine(&other)).unwrap_or_else(|| plain(&other));
                (code, remedy.to_owned())
            }
        };
        Self::bad_input(code, what, remedy)
    }
}

fn spares(known: &[String], name: &str) -> String {
    if known.is_empty() {
        return format!("Enter what you have first: needlehours stock counted {name} 5");
    }
    format!("In stock are {}. A new one: needlehours stock in {name} 5", words::all_of(known))
}

/// The same of care.
fn of_care(error: &RequestError) -> Option<(&'static str, &'static str)> {
    Some(match error {
        RequestError::UnknownCareEntry { .. } => {
            ("care::entry", "See all entries with their numbers: needlehours done --history")
        }
        RequestError::TaskExists(_) => (
            "care::exists",
            "Give yours another name; to change the limits of that one: needlehours due set TASK --every-hours 6",
        ),
        RequestError::TaskWithoutLimit(_) => (
            "care::no_limit",
            "Add --every-hours, --every-days, --every-strokes, --every-sessions, --idle-days, --after-tear yes or --after-pile-height yes.",
        ),
        RequestError::PointExists(_) => (
            "care::point",
            "Give it another name, or say what it gets: needlehours care point POINT --lubricant oil",
        ),
        RequestError::SnoozeUnclear { .. } => (
            "care::snooze",
            "Say it all: needlehours due snooze oiling --for-hours 2 --reason \"rug must be off the frame first\"; or --for-days 3.",
        ),
        RequestError::NotCorrected { .. } => (
            "care::correct",
            "Take it back with its reason and say it anew: needlehours done --withdraw ENTRY --reason \"...\"",
        ),
        RequestError::NoBrushOutFirst { .. } => {
            ("care::brush_out", "Note the brush-out by itself: needlehours done brush-out")
        }
        RequestError::NoPartOfTask { .. } => {
            ("care::part", "Leave --fitted out; a part of your own is noted with: needlehours part fit NAME")
        }
        RequestError::NothingToSnooze { .. } => ("care::off", "Switch it on first: needlehours care on TASK"),
        RequestError::NoLimit { .. } => (
            "care::no_limit",
            "Add --every-hours, --every-days, --every-strokes, --every-sessions, --idle-days, --after-tear or --after-pile-height.",
        ),
        _ => return None,
    })
}

/// The same of machines, the loggers on them and lending.
fn of_machine(error: &RequestError) -> Option<(&'static str, &'static str)> {
    Some(match error {
        RequestError::IsLent { .. } => {
            ("machine::lent", "Take it back first: needlehours machine back NUMBER")
        }
        RequestError::IsNotLent { .. } => {
            ("machine::here", "Lend it first: needlehours machine lend NUMBER --to NAME")
        }
        RequestError::MachineNameTaken { .. } => (
            "machine::name",
            "Give it a name of its own, as on its label: two machines of one name cannot be told apart in lists and books.",
        ),
        RequestError::MachineUnchanged { .. } => (
            "machine::unchanged",
            "Say what is to be put right with --name, --pile, --drive, --hours-before or --since.",
        ),
        RequestError::MovesHours => (
            "machine::moves_hours",
            "Nothing was changed. To do it all the same: the same command with --yes. For what the logger records from now on: \
             leave out --from-record.",
        ),
        RequestError::ReadingFell { .. } => (
            "machine::reading",
            "Read its meter once more; `needlehours machine loans` tells what was noted when it left.",
        ),
        RequestError::LentBeforeBack { .. } | RequestError::BackBeforeLent { .. } => (
            "machine::order",
            "Check the date; `needlehours machine loans` lists when it left and came back.",
        ),
        _ => return None,
    })
}

/// What can be said without looking at the values.
fn plain(error: &RequestError) -> (&'static str, &'static str) {
    match error {
        RequestError::RugExists(_) => {
            ("rug::exists", "Give this one another name, for example with a number.")
        }
        RequestError::Work(problem) => order_of_work(problem),
        RequestError::Tell(problem) => told(problem),
        RequestError::UnknownSession(_) => ("session::unknown", "List them: needlehours rug sessions"),
        RequestError::SeveralSessions { .. } => {
            ("session::which", "Write the full number, with what follows the dash.")
        }
        RequestError::NothingToCheck(_) => {
            ("check::unknown", "List what is doubtful: needlehours hours check")
        }
        RequestError::AllChecked => (
            "check::none",
            "What is counted to a rug already, though it is doubtful, is answered by its number: needlehours hours check",
        ),
        RequestError::NoSession(_) => ("session::none", "List the sessions: needlehours rug sessions"),
        RequestError::UnknownHarm { .. } => ("tear::unknown", "List them: needlehours tear list"),
        RequestError::SeveralHarms { .. } => {
            ("tear::which", "Write the whole name, with the part after the dash.")
        }
        RequestError::TakenBackBefore { .. } => {
            ("entry::withdrawn", "It counts no more. Enter it anew if it was right after all.")
        }
        RequestError::InTheFuture => (FUTURE, CHECK_THE_CLOCK),
        RequestError::PartIsOn { .. } => (
            "part::on",
            "Say why the old one went with --replaces worn-out (or strike, accident, lost, precaution, still-good); of a pair, mark each with --serial.",
        ),
        RequestError::PartIsNotOn { .. } => ("part::off", "See what is on: needlehours part"),
        RequestError::OffBeforeOn { .. } => {
            ("part::order", "Check the date; see when it was fitted: needlehours part")
        }
        RequestError::UnknownPart { .. } => {
            ("part::unknown", "Note it when you fit one: needlehours part fit needle")
        }
        RequestError::UnknownEntry { .. } => ("entry::unknown", "The number was told when it was noted."),
        RequestError::PersonExists { .. } => {
            ("person::exists", "Give this one another name, for example with a letter behind it.")
        }
        RequestError::Table(_) => (
            "table::content",
            "Every tear needs the hours or strokes in which it happened, and whole numbers of tears.",
        ),
        RequestError::Amount { .. } => {
            ("cost::amount", "Write amounts with digits and a point, zero or more, without a currency sign.")
        }
        RequestError::NoAmount => ("cost::none", "Add --tear-cost, --hour-value or both."),
        RequestError::NothingProposed => (
            "ceiling::none",
            "See why: needlehours speed cost. To set one of your own: needlehours speed ceiling set 60%",
        ),
        _ => ("value::range", "Correct the value and try again; nothing was changed."),
    }
}

const fn order_of_work(problem: &WorkProblem) -> (&'static str, &'static str) {
    match problem {
        WorkProblem::NeverStarted { .. } => {
            ("rug::order", "Say first when it was started: needlehours rug start NAME --when DATE")
        }
        WorkProblem::NeverStartedThere { .. } => (
            "rug::order",
            "Leave --machine out for all machines, or say first that it was started there: needlehours rug start NAME --machine NUMBER --when DATE",
        ),
        WorkProblem::BeforeOrder { .. } => (
            "rug::order",
            "Check the date. If it was ordered earlier than was said: needlehours rug change NAME --when DATE",
        ),
        WorkProblem::BeforeStart { .. }
        | WorkProblem::BeforeFinish { .. }
        | WorkProblem::OrderAfterStart { .. } => {
            ("rug::order", "Check the date. What was said so far: needlehours rug history NAME")
        }
        WorkProblem::NotFinished { .. } => ("rug::order", "Finish it first: needlehours rug finish NAME"),
        WorkProblem::Delivered { .. } => (
            "rug::order",
            "If that was a mistake: needlehours rug history NAME, then needlehours rug take-back ENTRY",
        ),
    }
}

const fn told(problem: &TellProblem) -> (&'static str, &'static str) {
    match problem {
        TellProblem::NothingSaid => (
            "rug::nothing",
            "Add what is to be changed: --size, --style, --pile, --colour, --cloth or --when.",
        ),
        TellProblem::MoreThanTaken { .. } => (
            "yarn::more",
            "Write down first what was taken for it: needlehours rug yarn NAME COLOUR --out WEIGHT",
        ),
        TellProblem::NotYetTaken { .. } => (
            "yarn::order",
            "Check the date, or write down when it was taken: needlehours rug yarn NAME COLOUR --out WEIGHT --when DATE",
        ),
        TellProblem::TooMuchLater { .. } => {
            ("yarn::order", "Check weight and date. What was weighed so far: needlehours rug history NAME")
        }
        TellProblem::Amount(_) => {
            ("rug::amount", "Write amounts with digits and a point, without a currency sign.")
        }
        TellProblem::NotHere(_) => (
            "entry::unknown",
            "`needlehours rug history NAME` and `needlehours job` show the numbers; those of prices, wages and sample squares are in `needlehours rate history`. Care, tears, parts and faults are taken back with `done`, `tear`, `part` and `trend`.",
        ),
    }
}

const FUTURE: &str = "date::future";
const CHECK_THE_CLOCK: &str =
    "Only what has happened can be written down; check the date, and this computer's clock.";

impl From<UnknownRug> for Failure {
    fn from(unknown: UnknownRug) -> Self {
        let remedy = if unknown.known.is_empty() {
            format!("No rug has been entered yet: needlehours rug new \"{}\"", unknown.name)
        } else {
            let meant = meant(&unknown.nearest, &unknown.known, "You have");
            format!("{meant} All of them: needlehours rug list")
        };
        Self::bad_input("rug::unknown", unknown.to_string(), remedy)
    }
}

impl From<DateError> for Failure {
    fn from(error: DateError) -> Self {
        let what = error.to_string();
        let (code, remedy) = match error {
            DateError::NotADate(_) => (
                "date::unclear",
                "Write it as 2026-03-04, \"2026-03-04 18:30\", today, yesterday, \"yesterday 9:30\" or now."
                    .to_owned(),
            ),
            DateError::Future(_) => (FUTURE, CHECK_THE_CLOCK.to_owned()),
            DateError::TooLongAgo(_) => ("date::past", "Check the year.".to_owned()),
            DateError::Skipped { either: [before, after], .. } => (
                "date::skipped",
                format!("Before the change it may have been {before}, after it {after}: write one of them."),
            ),
            DateError::Twice { either: [first, second], .. } => (
                "date::twice",
                format!("Write which one is meant: the first was {first}, the second {second}."),
            ),
            DateError::NotADay(_) => ("date::day", "Write it as 2026-03-04, today or yesterday.".to_owned()),
        };
        Self::bad_input(code, what, remedy)
    }
}

/// "Did you mean oiling or belt?" where something is near, else what there is.
fn meant(nearest: &[String], known: &[impl AsRef<str>], there_is: &str) -> String {
    if !nearest.is_empty() {
        return format!("Did you mean {}?", words::one_of(nearest));
    }
    let names: Vec<String> = known.iter().take(MOST_NAMES).map(|name| name.as_ref().to_owned()).collect();
    match known.len().checked_sub(MOST_NAMES) {
        None | Some(0) => format!("{there_is} {}.", words::all_of(&names)),
        Some(more) => format!("{there_is} {} and {more} more.", names.join(", ")),
    }
}

fn there_is(count: usize) -> &'static str {
    if count == 1 { "There is only" } else { "There are" }
}

/// Machines by number and name.
pub fn machines(known: &[(MachineTag, String)]) -> String {
    let named: Vec<String> = known.iter().map(|(tag, name)| format!("{} ({name})", tag.0)).collect();
    named.join(", ")
}

fn loggers(known: &[LoggerId]) -> String {
    let named: Vec<String> = known.iter().map(|logger| logger_name(*logger)).collect();
    named.join(", ")
}

#[cfg(test)]
mod tests {
    use super::meant;

    fn names(count: usize) -> Vec<String> {
        (1..=count).map(|number| format!("Rug {number}")).collect()
    }

    #[test]
    fn only_what_is_near_is_guessed_and_else_there_is_a_list() {
        assert_eq!(meant(&names(2), &names(9), "You have"), "Did you mean Rug 1 or Rug 2?");
        assert_eq!(meant(&[], &names(1), "You have"), "You have Rug 1.");
        assert_eq!(meant(&[], &names(3), "You have"), "You have Rug 1, Rug 2 and Rug 3.");
    }

    #[test]
    fn a_long_list_is_cut() {
        assert!(meant(&[], &names(10), "You have").ends_with("Rug 9 and Rug 10."));
        assert!(meant(&[], &names(12), "You have").ends_with("Rug 9, Rug 10 and 2 more."));
    }
}

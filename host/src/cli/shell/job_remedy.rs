//! What to try after a problem with a timer.

use crate::app::typed::rug_problems::{self, JobProblem};
use crate::view;

/// What to try.
pub fn remedy(problem: &JobProblem) -> (&'static str, String) {
    match problem {
        JobProblem::StillRunning { .. } => (
            "job::running",
            "Stop it first: needlehours job stop. Hands do one thing at a time; drying can run beside it.".to_owned(),
        ),
        JobProblem::NothingRunning => {
            ("job::none", "`needlehours job` lists what runs. To write time down: needlehours job add".to_owned())
        }
        JobProblem::SeveralRunning { running } => {
            let names: Vec<String> = running.iter().map(rug_problems::TimerName::name).collect();
            ("job::which", format!("Running: {}. Add which one, and --rug.", view::words::all_of(&names)))
        }
        JobProblem::ProbablyForgotten { .. } => (
            "job::forgotten",
            "Say how long it was with --after 40min, or when it ended with --when \"2026-03-04 18:30\"; if it really was that long, add --sure.".to_owned(),
        ),
        JobProblem::EndsBeforeStart { .. } | JobProblem::NotThatLong { .. } => {
            ("job::end", "`needlehours job` tells since when it runs; nothing was changed.".to_owned())
        }
    }
}

//! Today: what one glance should tell of each machine, from one reading of the book.

mod day_worked;
mod tears;
mod watch;

use jiff::civil::Date;
use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use crate::app::ports::{Clock, Store, StoreError};
use crate::app::rugs::on_the_frame;
use crate::app::sessions::{TimerReport, running};
use crate::app::whole_book::Book;
use day_worked::days_worked;
pub use day_worked::{DayWorked, Whose, say_whose};
use host_core::care::plan::{BelongsTo, short_caution};
use host_core::care::report::{Question, TaskReport};
use host_core::care::schedule::DueState;
use host_core::care::{DueReport, due_report};
use host_core::entries::{Drive, PersonTag, RETENSION};
use host_core::heavy::speed::ceiling_said;
use host_core::rugs::progress::Progress;
use host_core::sessions::hands::Hands;
use host_core::sessions::{local_day, session_list};
use host_core::studio::MachineCard;
pub use tears::{TearAsked, felt};
pub use watch::{Wanted, Watches};

/// After so many working days without it the maker is offered once to change the limit of end-of-day care; our choice.
const SKIPPED_DAYS: u64 = 5;

/// What one glance should tell.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TodayReport {
    /// When this was worked out.
    pub as_of_utc_ms: UtcMillis,
    /// The local day.
    #[serde(serialize_with = "host_core::entries::day_as_text")]
    pub today: Option<Date>,
    /// The machines in use; empty where none was entered yet.
    pub machines: Vec<MachineToday>,
}

/// One machine.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MachineToday {
    /// Its number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// Whether it has no logger board.
    pub is_without_logger: bool,
    /// A session that is being timed, which nobody has ended.
    pub timer: Option<TimerReport>,
    /// What was worked on the last day worked, a line for each rug.
    pub last_worked: Vec<DayWorked>,
    /// Days of which it is only assumed whose they are, or not known; the newest first, a line for each rug.
    pub to_answer: Vec<DayWorked>,
    /// Tears of the last days of which something is still to be asked, the newest first.
    pub tears: Vec<TearAsked>,
    /// Its care.
    #[serde(flatten)]
    pub care: CareToday,
    /// The rugs on the frame, and how far along.
    pub rugs: Vec<Progress>,
    /// How long ago the cloth was tightened, in running, and when it wants it again; null where that was switched off.
    pub cloth: Option<TaskReport>,
    /// Who is at work on it; null where that is not known.
    pub person: Option<PersonTag>,
    /// The ceiling of the knob that the maker set, per mille of its travel; null without one.
    pub knob_ceiling_per_mille: Option<u32>,
    /// Whether compressed air moves its needle.
    pub is_on_air: bool,
    /// What to mind before care, in one line.
    pub caution: &'static str,
}

/// The care of one machine.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CareToday {
    /// Care presses of which it is not known what was done.
    pub presses: Vec<Question>,
    /// End-of-day care that is asked for.
    pub end_of_day: Vec<TaskReport>,
    /// Of it, tasks that were left out for five working days by now, whose limit may be the wrong one.
    pub often_left_out: Vec<String>,
    /// Care of the machine that is due, the most pressing first.
    pub due: Vec<TaskReport>,
    /// What comes next, where it has a date or hours left.
    pub next: Option<TaskReport>,
}

/// Looks at everything once.
///
/// # Errors
/// When the store cannot be read.
pub fn today(store: &impl Store, clock: &impl Clock) -> Result<TodayReport, StoreError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let in_use: Vec<&MachineCard> =
        book.studio.machines.iter().filter(|card| card.resting.is_none()).collect();
    let (now, zone) = (clock.now(), clock.zone());
    let due = due_report(book.grounds(&ledger), &in_use, now, &zone);
    let sessions = session_list::all(&book.studio, &ledger, &zone);
    let harms = tears::asked(&book, &ledger, now);
    let (timers, hands) = (running(&book), Hands::of(&book.entries));
    let rugs = on_the_frame(&book, &ledger, clock);
    let machines = in_use.iter().map(|card| {
        let (last_worked, to_answer) = days_worked(&sessions, card.tag);
        let progress = rugs.iter().filter(|(machine, _)| machine.is_none_or(|tag| tag == card.tag));
        MachineToday {
            machine: card.tag,
            machine_name: card.name.clone(),
            is_without_logger: book.studio.is_without_logger(card.tag),
            timer: timers.iter().find(|timer| timer.begun.machine == card.tag).cloned(),
            last_worked,
            to_answer,
            tears: harms.iter().filter(|tear| tear.machine == Some(card.tag)).cloned().collect(),
            rugs: progress.map(|(_, progress)| progress.clone()).collect(),
            cloth: due.tasks.iter().find(|task| task.machine == card.tag && task.task == RETENSION).cloned(),
            person: hands.at_work(card.tag, now),
            knob_ceiling_per_mille: ceiling_said(&book.entries, card.tag).and_then(|said| said.per_mille()),
            is_on_air: card.drive == Drive::Pneumatic,
            caution: short_caution(&[card.drive]),
            care: care(&due, card.tag),
        }
    });
    Ok(TodayReport { as_of_utc_ms: now, today: local_day(now, &zone), machines: machines.collect() })
}

/// The care of one machine; the cloth's is told while it is on the frame, not in the evening.
fn care(due: &DueReport, machine: MachineTag) -> CareToday {
    let own = || due.tasks.iter().filter(move |task| task.machine == machine);
    let of_machine = || own().filter(|task| task.belongs_to == BelongsTo::Machine);
    let list = |which: fn(&TaskReport) -> bool| of_machine().filter(|task| which(task)).cloned().collect();
    let end_of_day: Vec<TaskReport> = list(TaskReport::is_for_the_evening);
    let waits = |task: &&TaskReport| matches!(task.state, DueState::Soon | DueState::Fine);
    // What every session asks for comes in the evening, whatever its hours.
    let next =
        of_machine().filter(waits).filter(|task| task.is_foreseen() && task.limits.sessions != Some(1));
    CareToday {
        presses: due.questions.iter().filter(|question| question.machine == machine).cloned().collect(),
        often_left_out: end_of_day
            .iter()
            .filter(|task| task.days_worked_since == SKIPPED_DAYS && !task.limits_by_maker)
            // Without a limit by hours there is nothing to change to.
            .filter(|task| task.limits.run_time_ms.is_some())
            .map(|task| task.task.clone())
            .collect(),
        end_of_day,
        due: list(TaskReport::is_asked_for),
        next: next
            .min_by_key(|task| {
                (task.forecast.middle.is_none(), task.forecast.middle, task.remaining_run_time_ms)
            })
            .cloned(),
    }
}

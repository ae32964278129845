//! A day on a rug: one line and one answer, however many sessions.

use jiff::civil::Date;
use serde::Serialize;
use shared_types::MachineTag;

use crate::app::ports::{Clock, Store};
use crate::app::rugs::{self, PartsMeant};
use crate::app::typed::error::RequestError;
use host_core::entries::{Owner, RugName};
use host_core::sessions::session_list::{CountedTo, SessionLine, SessionName, SessionSource};

/// What was worked on one day for one rug, or for nobody yet.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DayWorked {
    /// The local day; none where it is not certain.
    #[serde(serialize_with = "host_core::entries::day_as_text")]
    pub day: Option<Date>,
    /// The rug; none where it is counted to none.
    pub rug: Option<String>,
    /// Its sessions.
    pub sessions: Vec<SessionName>,
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
    /// At the frame, in milliseconds, of the sessions that were typed in with it.
    pub frame_time_ms: u64,
    /// Whether some of the running only follows from the time at the frame.
    pub about: bool,
    /// Whether all of it was typed in.
    pub is_typed_in: bool,
    /// Whether some of it is only assumed to be of this rug, or is of nobody.
    pub is_open: bool,
}

impl DayWorked {
    /// A name by which the very same line is found again: its day, its rug and its sessions.
    #[must_use]
    pub fn key(&self) -> String {
        let day = self.day.map_or_else(String::new, |day| day.to_string());
        let sessions: Vec<String> = self.sessions.iter().map(SessionName::to_string).collect();
        format!("{day} {} {}", sessions.join("+"), self.rug.as_deref().unwrap_or_default())
    }
}

/// The lines of the last day worked, and all lines of which something is open; each the newest first.
pub(super) fn days_worked(sessions: &[SessionLine], machine: MachineTag) -> (Vec<DayWorked>, Vec<DayWorked>) {
    let mut days: Vec<DayWorked> = Vec::new();
    for line in sessions.iter().rev().filter(|line| line.machine == Some(machine.0)) {
        for part in line.parts.iter().filter(|part| part.counted_to != CountedTo::Care) {
            let is_typed_in = matches!(line.source, SessionSource::TypedIn(_));
            let is_open = part.is_open() || part.is_assumed();
            let same = days.iter_mut().find(|one| one.day == line.day && one.rug == part.rug);
            let one = match same {
                Some(one) => one,
                None => {
                    days.push(DayWorked {
                        day: line.day,
                        rug: part.rug.clone(),
                        sessions: Vec::new(),
                        run_time_ms: 0,
                        frame_time_ms: 0,
                        about: false,
                        is_typed_in: true,
                        is_open: false,
                    });
                    let Some(new) = days.last_mut() else { continue };
                    new
                }
            };
            if !one.sessions.contains(&line.session) {
                one.sessions.push(line.session);
                one.frame_time_ms = one.frame_time_ms.saturating_add(line.frame_time_ms.unwrap_or(0));
            }
            one.run_time_ms = one.run_time_ms.saturating_add(part.run_time_ms);
            one.about |= line.about;
            one.is_typed_in &= is_typed_in;
            one.is_open |= is_open;
        }
    }
    let last = days.iter().find_map(|one| one.day);
    let last_worked = days.iter().filter(|one| last.is_some() && one.day == last).cloned().collect();
    days.retain(|one| one.is_open);
    (last_worked, days)
}

/// Whose a day's work is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Whose {
    /// As it is assumed.
    Right,
    /// Of another rug.
    Rug(String),
    /// Of none: a dry run or a test run, which is care.
    Care,
}

/// Answers for a day: says yes to what is assumed, or gives what is open of it to another rug. Other parts of its sessions
/// stay as they are.
///
/// # Errors
/// When there is no such rug, nothing is open any more, or the database does not take it.
pub fn say_whose(
    store: &mut impl Store,
    clock: &impl Clock,
    days: &[DayWorked],
    whose: &Whose,
) -> Result<rugs::Assigned, RequestError> {
    let meant: Vec<PartsMeant<'_>> =
        days.iter().map(|day| PartsMeant { sessions: &day.sessions, rug: day.rug.as_deref() }).collect();
    let other = match whose {
        Whose::Right => None,
        Whose::Rug(name) => Some(Owner::Rug(RugName(name.clone()))),
        Whose::Care => Some(Owner::Care),
    };
    rugs::settle(store, clock, &meant, other)
}

//! `hours --by-person` on screen.

use crate::app::hand::hours_by_person::{HoursByPerson, PersonHours};
use crate::view::words;
use crate::view::words::table::{Column, Table};
use host_core::hours::entered::Entered;

/// The table, a person a line.
#[must_use]
pub fn text(hours: &HoursByPerson) -> String {
    if hours.people.is_empty() {
        return "No running has been counted or typed in yet.".to_owned();
    }
    let heads = ["counted", "typed in", "at the frame", "sessions"].map(Column::Numbers);
    let mut table = Table::new(&[[Column::Words("who")].as_slice(), heads.as_slice()].concat());
    for person in &hours.people {
        table.row([name(person)].into_iter().chain(cells(person)));
    }
    let all = hours.people.iter().fold(PersonHours::default(), |mut all, person| {
        all.counted.run_time_ms = all.counted.run_time_ms.saturating_add(person.counted.run_time_ms);
        all.entered = all.entered.plus(person.entered);
        all
    });
    let [counted, typed, frame, _] = cells(&all);
    table.row(["all together".to_owned(), counted, typed, frame, String::new()]);
    let mut lines =
        vec![table.text(), format!("Running, all together: {}.", words::run_time(hours.run_time_ms))];
    lines.extend((all.entered.about).then(|| ABOUT.to_owned()));
    lines.extend((hours.left_out_run_time_ms > 0).then(|| {
        format!(
            "In nobody's hours: {}, which is doubtful, set aside or not recorded. needlehours hours",
            words::run_time(hours.left_out_run_time_ms)
        )
    }));
    let is_open = hours.people.iter().any(|person| person.person.is_none());
    lines.extend(is_open.then(|| SAY_WHO.to_owned()));
    lines.join("\n")
}

const ABOUT: &str = "About: some of the running typed in only follows from the time at the frame.";
const SAY_WHO: &str =
    "Say who worked: needlehours person add NAME, then needlehours exposure who NAME --session NUMBER";

fn name(hours: &PersonHours) -> String {
    match (&hours.name, hours.person) {
        (Some(name), _) => name.clone(),
        (None, Some(person)) => format!("person {}", person.0),
        (None, None) => "nobody named".to_owned(),
    }
}

fn cells(hours: &PersonHours) -> [String; 4] {
    let time = |ms| if ms == 0 { "-".to_owned() } else { words::run_time(ms) };
    let Entered { run_time_ms, frame_time_ms, sessions, .. } = hours.entered;
    let sessions = hours.counted.sessions.saturating_add(sessions);
    [time(hours.counted.run_time_ms), time(run_time_ms), time(frame_time_ms), words::thousands(sessions)]
}

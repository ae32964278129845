//! The bare command: today at one glance, and one key for each answer.

mod answers;
mod at_login;
mod autoread;
mod page;
mod port_reader;
mod way_in;

use std::process::ExitCode;

use super::logger::{plugged_in, read_quietly};
use crate::app::ports::Clock as _;
use crate::app::today::{MachineToday, TodayReport, today};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{ask, exit, keys, show};
use crate::logger_link::port_lock::Holder;
use crate::view;
use answers::Answered;
pub use autoread::Autoread;
pub use page::Page;
pub use port_reader::PortReader;

/// Today: what was worked, what care asks for, and the rug on the frame.
#[derive(Debug)]
pub struct Today {
    /// One JSON object and nothing else.
    pub json: bool,
    /// The port of the logger, where it is not found by itself.
    pub port: Option<String>,
}

impl Today {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let is_asked = !self.json && ask::somebody_is_there();
        // What cannot be read now is told, and what is kept is shown all the same.
        let ports = self.port.map_or_else(plugged_in, |port| vec![port]);
        for port in &ports {
            if let Err(unread) = read_quietly(around, port, Holder::Today) {
                let named = if ports.len() > 1 { format!(" --port {port}") } else { String::new() };
                anstream::eprintln!("The logger was not read: {unread}. (needlehours pull{named})");
            }
        }
        if !is_asked && around.would_make(&around.database_path()?) {
            let nothing =
                TodayReport { as_of_utc_ms: around.clock().now(), today: None, machines: Vec::new() };
            show::report(&nothing, self.json, |report| lines(report, around))?;
            return Ok(exit::code(exit::FINE));
        }
        let mut store = around.open_database()?;
        let mut report = today(&store, around.clock())?;
        if is_asked && report.machines.is_empty() && way_in::lead(&mut store, around)? {
            report = today(&store, around.clock())?;
        }
        show::report(&report, self.json, |report| lines(report, around))?;
        if !is_asked {
            return Ok(exit::code(exit::FINE));
        }
        let chosen = match report.machines.as_slice() {
            [] => None,
            [only] => Some(only.machine),
            several => chosen(several).map(|machine| machine.machine),
        };
        let several = report.machines.len() > 1;
        let mut is_first = several;
        while let Some(machine) = report.machines.iter().find(|machine| Some(machine.machine) == chosen) {
            if is_first {
                is_first = false;
                show::words(&view::today::of_machine(&report, machine, &around.clock().zone()).join("\n"))?;
            }
            if view::today::keys(machine).is_empty() {
                break;
            }
            match answers::answer(&report, machine, &mut store, around)? {
                Answered::Left => break,
                Answered::Nothing => {}
                Answered::Kept => {
                    let zone = around.clock().zone();
                    let before = view::today::of_machine(&report, machine, &zone);
                    report = today(&store, around.clock())?;
                    let again = report.machines.iter().find(|machine| Some(machine.machine) == chosen);
                    if let Some(machine) = again.filter(|machine| !view::today::keys(machine).is_empty()) {
                        let after = view::today::of_machine(&report, machine, &zone);
                        show::words(&view::today::changed(&before, &after))?;
                    }
                }
            }
        }
        Ok(exit::code(exit::FINE))
    }
}

fn lines(report: &TodayReport, around: &CommandEnv) -> String {
    view::today::glance(report, &around.clock().zone()).join("\n")
}

/// The machine of the number that is pressed, or typed where one has two digits; none for anything else.
fn chosen(machines: &[MachineToday]) -> Option<&MachineToday> {
    let number = if view::today::is_number_typed(machines) {
        ask::line(&mut std::io::stdin().lock(), &mut std::io::stdout(), "")?.parse().ok()?
    } else {
        keys::pressed()?.to_digit(10)?
    };
    machines.iter().find(|machine| machine.machine.0 == number)
}

//! The command line: one file per command, each from arguments through a use case to a view.

mod book;
mod care;
mod cloth;
mod demo;
mod hand;
mod heavy;
mod hours;
mod keeping;
mod logger;
mod machines;
mod money;
mod parts;
mod rugs;
mod sessions;
mod shell;
mod slowing;
mod today;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::view;
pub use shell::command_env::CommandEnv;
pub use shell::failure::Failure;
use shell::{command_env, exit, failure, help, manual, quiet_days, show, values};
pub use today::PortReader;

/// Hours, care and cloth of a tufting machine, from what it really did.
#[derive(Debug, Parser)]
#[command(name = "needlehours", bin_name = "needlehours", version)]
struct Arguments {
    /// The database; a file of your own instead of the usual place.
    #[arg(
        long,
        global = true,
        env = "NEEDLEHOURS_DB",
        hide_env_values = true,
        value_name = "FILE",
        display_order = 900
    )]
    db: Option<PathBuf>,
    /// The computer's clock is right, although it is years off the newest entry.
    #[arg(long, global = true, env = "NEEDLEHOURS_CLOCK_IS_RIGHT", hide_env = true, display_order = 901)]
    clock_is_right: bool,
    /// Without a command: the port on which the logger is, where it is not found by itself.
    #[arg(long, value_name = "PORT", hide = true)]
    port: Option<String>,
    /// Without a command: one JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    Demo(demo::Demo),
    Pull(logger::Pull),
    Machine(machines::Machine),
    Rug(rugs::Rug),
    Hours(hours::Hours),
    Worked(sessions::Worked),
    TakeBack(book::TakeBack),
    Job(rugs::Job),
    Due(care::Due),
    Calendar(care::Calendar),
    Done(care::Done),
    Care(care::Care),
    Stock(care::Stock),
    Tear(cloth::Tear),
    Speed(cloth::Speed),
    Rate(money::Rate),
    Exposure(hand::Exposure),
    Heavy(heavy::Heavy),
    Quote(rugs::Quote),
    Wear(parts::Wear),
    Interval(parts::Interval),
    Trend(parts::Trend),
    Part(parts::Part),
    Slowing(slowing::Slowing),
    Plot(hours::Plot),
    Live(logger::Live),
    Doctor(logger::Doctor),
    Verify(book::Verify),
    Rescue(keeping::Rescue),
    Backup(keeping::Backup),
    Restore(keeping::Restore),
    Export(keeping::Export),
    Import(keeping::Import),
    Book(book::Book),
    Person(hand::Person),
    Page(today::Page),
    Autoread(today::Autoread),
    Manual(manual::Manual),
}

/// Each try that fails means that another run has kept something meanwhile; so many in a row are no accident.
const MOST_TRIES: u32 = 50;

/// Runs the program with the process's arguments.
pub fn main() -> ExitCode {
    let (mut tries, mut clock_is_right) = (1, false);
    loop {
        let arguments: Arguments = match values::parse(std::env::args_os()) {
            Ok(arguments) => arguments,
            Err(explained) => {
                let told = values::unusable(&explained).or_else(|| help::unknown_word(&explained));
                return told.map_or_else(|| explain(&explained), failed);
            }
        };
        match run(arguments, clock_is_right) {
            Ok(code) => return code,
            Err(failure)
                if failure.doubts_clock() && !clock_is_right && command_env::clock_is_agreed(&failure) =>
            {
                clock_is_right = true;
            }
            // Somebody else was faster; now the book says whether it still can be done.
            Err(failure) if failure.is_worth_another_try() && tries < MOST_TRIES => tries += 1,
            Err(failure) => return failed(failure),
        }
    }
}

fn failed(failure: Failure) -> ExitCode {
    let exit = failure.exit();
    // It fails only when one was set before.
    miette::set_hook(Box::new(whole_words)).unwrap_or_default();
    anstream::eprintln!("{:?}", failure.report());
    exit
}

/// Frames a message. Options and dates are copied out of it, so no line ends at a hyphen or within one.
fn whole_words(_: &(dyn miette::Diagnostic + 'static)) -> Box<dyn miette::ReportHandler> {
    let words = textwrap::WordSplitter::NoHyphenation;
    let between = textwrap::WordSeparator::AsciiSpace;
    Box::new(
        miette::MietteHandlerOpts::new()
            .word_separator(between)
            .word_splitter(words)
            .break_words(false)
            .build(),
    )
}

/// Help and version go to standard output and are no failure; everything else is.
fn explain(explained: &clap::Error) -> ExitCode {
    let code = if explained.use_stderr() { exit::USAGE } else { exit::FINE };
    match explained.print() {
        Ok(()) => exit::code(code),
        Err(_) => exit::code(exit::FAILED),
    }
}

fn run(arguments: Arguments, clock_is_right: bool) -> Result<ExitCode, Failure> {
    command_env::check_zone()?;
    let around = CommandEnv::new(arguments.db, arguments.clock_is_right || clock_is_right);
    let Some(command) = arguments.command else {
        let today = today::Today { json: arguments.json, port: arguments.port };
        let done = today.run(&around).and_then(|code| told_numbers(&around).map(|()| code));
        return done.map_err(|failure| failure.with_kept(around.has_kept()));
    };
    if arguments.json || arguments.port.is_some() {
        return Err(Failure::not_understood(
            "arguments::order",
            "--json and --port were given before the command",
            "Put them after it, for example: needlehours due --json",
        ));
    }
    let tells_numbers = !matches!(command, Command::TakeBack(_) | Command::Demo(_));
    // Before the command, which may be the first in days to enter something; these answer it, or ask it themselves.
    let is_asked = !matches!(
        command,
        Command::Due(_)
            | Command::Worked(_)
            | Command::Pull(_)
            | Command::Page(_)
            | Command::Autoread(_)
            | Command::Demo(_)
            | Command::Rescue(_)
            | Command::Restore(_)
            | Command::Import(_)
    );
    let question = is_asked.then(|| quiet_days::question(&around)).flatten();
    let done = carry_out(command, &around).and_then(|code| {
        if tells_numbers {
            told_numbers(&around)?;
        }
        Ok(code)
    });
    if let Some(question) = question.filter(|_| done.is_ok() && !show::has_shown_data()) {
        anstream::eprintln!("{question}");
    }
    if show::is_closed() && around.has_kept() {
        anstream::eprintln!("The answer could not be printed, because nobody reads it; {}.", failure::KEPT);
    }
    done.map_err(|failure| failure.with_kept(around.has_kept()))
}

/// Tells the numbers of what was entered, by which it can be taken back.
fn told_numbers(around: &CommandEnv) -> Result<(), Failure> {
    match around.kept_entries().filter(|_| !show::has_shown_data()) {
        Some((first, last)) => show::words(&view::book::kept(first, last)),
        None => Ok(()),
    }
}

fn carry_out(command: Command, around: &CommandEnv) -> Result<ExitCode, Failure> {
    match command {
        Command::Demo(command) => command.run(around),
        Command::Pull(command) => command.run(around),
        Command::Machine(command) => command.run(around),
        Command::Rug(command) => command.run(around),
        Command::Hours(command) => command.run(around),
        Command::Worked(command) => command.run(around),
        Command::TakeBack(command) => command.run(around),
        Command::Job(command) => command.run(around),
        Command::Due(command) => command.run(around),
        Command::Calendar(command) => command.run(around),
        Command::Done(command) => command.run(around),
        Command::Care(command) => command.run(around),
        Command::Stock(command) => command.run(around),
        Command::Tear(command) => command.run(around),
        Command::Speed(command) => command.run(around),
        Command::Rate(command) => command.run(around),
        Command::Exposure(command) => command.run(around),
        Command::Heavy(command) => command.run(around),
        Command::Quote(command) => command.run(around),
        Command::Wear(command) => command.run(around),
        Command::Interval(command) => command.run(around),
        Command::Trend(command) => command.run(around),
        Command::Part(command) => command.run(around),
        Command::Slowing(command) => command.run(around),
        Command::Plot(command) => command.run(around),
        Command::Live(command) => command.run(around),
        Command::Doctor(command) => command.run(around),
        Command::Verify(command) => command.run(around),
        Command::Rescue(command) => command.run(around),
        Command::Backup(command) => command.run(around),
        Command::Restore(command) => command.run(around),
        Command::Export(command) => command.run(around),
        Command::Import(command) => command.run(around),
        Command::Book(command) => command.run(around),
        Command::Person(command) => command.run(around),
        Command::Page(command) => command.run(around),
        Command::Autoread(command) => command.run(around),
        Command::Manual(command) => command.run(values::program::<Arguments>()),
    }
}

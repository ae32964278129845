use std::ffi::OsString;
use std::fs;
use std::path::Path;

use clap::Command;

use super::examples::LINES;
use super::groups::{BARE, GROUPS};
use super::meant::{MEANINGS, meaning, nearest};
use crate::cli::Arguments;
use crate::cli::shell::values;

fn program() -> Command {
    let mut program = values::program::<Arguments>();
    program.build();
    program
}

/// Every command that help shows, with all below it.
fn visible(command: &Command) -> Vec<Command> {
    let below = command.get_subcommands().filter(|sub| !sub.is_hide_set() && sub.get_name() != "help");
    std::iter::once(command.clone()).chain(below.flat_map(visible)).collect()
}

/// Words as a shell takes them apart.
fn words(line: &str) -> Vec<OsString> {
    let parts = line.split('"').enumerate();
    parts
        .flat_map(|(at, part)| match at % 2 {
            0 => part.split_whitespace().map(OsString::from).collect(),
            _ => vec![OsString::from(part)],
        })
        .collect()
}

fn parses(line: &str) -> Result<(), String> {
    values::parse::<Arguments>(words(line)).map(|_| ()).map_err(|error| format!("{line}: {error}"))
}

#[test]
fn every_command_stands_in_one_group() {
    let mut grouped: Vec<&str> =
        GROUPS.iter().flat_map(|(_, lines)| lines.iter().map(|(name, _)| *name)).collect();
    assert_eq!(grouped.first(), Some(&BARE));
    grouped.remove(0);
    grouped.sort_unstable();
    let program = program();
    let mut commands: Vec<&str> =
        program.get_subcommands().map(Command::get_name).filter(|name| *name != "help").collect();
    commands.sort_unstable();
    assert_eq!(grouped, commands);
}

#[test]
fn help_fills_eighty_columns_and_begins_with_examples() {
    let mut wrong = Vec::new();
    for mut command in visible(&program().term_width(80)) {
        let name = command.get_bin_name().unwrap_or(BARE).to_owned();
        for help in [command.render_help().to_string(), command.render_long_help().to_string()] {
            if !help.starts_with("Examples:\n  needlehours") {
                wrong.push(format!("{name} begins: {}", help.lines().next().unwrap_or_default()));
            }
            let wide = help.lines().filter(|line| line.chars().count() > 80);
            wrong.extend(wide.map(|line| format!("{name}: {line}")));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_command_has_two_examples_or_three() {
    let few = |command: &Command| {
        let examples = command.get_before_help().map(ToString::to_string).unwrap_or_default();
        !(2..=3).contains(&examples.lines().skip(1).count())
    };
    let wrong: Vec<String> = visible(&program())
        .iter()
        .filter(|command| few(command))
        .map(|command| command.get_bin_name().unwrap_or(BARE).to_owned())
        .collect();
    assert_eq!(wrong, Vec::<String>::new());
}

#[test]
fn every_example_is_understood() {
    let wrong: Vec<String> = LINES.lines().filter_map(|line| parses(line).err()).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The commands that a page names in its text; a word in capitals stands for whatever a maker writes there.
fn named_in(page: &str) -> Vec<String> {
    let quoted = page.split('`').filter(|text| text.starts_with("needlehours ") && !text.contains("--help"));
    let whole_lines = page.lines().filter(|line| line.starts_with("needlehours "));
    quoted.chain(whole_lines).map(str::to_owned).collect()
}

#[test]
fn every_command_in_the_readme_and_the_manual_is_understood() {
    let host = Path::new(env!("CARGO_MANIFEST_DIR"));
    let manual = fs::read_dir(host.join("MANUAL")).unwrap().map(|entry| entry.unwrap().path());
    let mut lines = named_in(&fs::read_to_string(host.join("../README.md")).unwrap());
    assert!(lines.len() > 10, "the commands have moved: {lines:?}");
    for page in manual.filter(|path| path.extension().is_some_and(|ending| ending == "md")) {
        lines.extend(named_in(&fs::read_to_string(page).unwrap()));
    }
    let wrong: Vec<String> = lines.iter().filter_map(|line| parses(line).err()).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn what_a_wrong_word_is_answered_with_is_understood() {
    let meant = MEANINGS.iter().flat_map(|(_, meant)| meant.iter().map(|(line, _)| *line));
    let wrong: Vec<String> = meant
        .filter(|line| *line != "--help")
        .filter_map(|line| parses(&format!("needlehours {line}")).err())
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_wrong_word_is_no_command_and_stands_once() {
    let program = program();
    let mut words: Vec<&str> = MEANINGS.iter().flat_map(|(words, _)| words.iter().copied()).collect();
    let commands: Vec<&&str> = words.iter().filter(|word| program.find_subcommand(word).is_some()).collect();
    assert_eq!(commands, Vec::<&&str>::new());
    words.sort_unstable();
    let twice: Vec<&[&str]> = words.windows(2).filter(|pair| pair[0] == pair[1]).collect();
    assert_eq!(twice, Vec::<&[&str]>::new());
}

#[test]
fn a_wrong_word_is_met_with_the_right_command() {
    let first = |word| meaning(word).and_then(|meant| meant.first()).map(|(line, _)| *line);
    assert_eq!(first("log"), Some("pull"));
    assert_eq!(first("Session"), Some("rug sessions"));
    assert_eq!(first("oil"), Some("done oiling"));
    assert_eq!(first("undo"), Some("take-back 12"));
    assert_eq!(first("quilt"), None);
}

#[test]
fn a_slip_of_the_finger_is_met_with_what_looks_like_it() {
    let first = |word| nearest(word).first().map(|(line, _)| *line);
    assert_eq!(first("puull"), Some("pull"));
    assert_eq!(first("calender"), Some("calendar"));
    assert_eq!(first("invocie"), Some("rug sheet Fox"));
    assert_eq!(first("xyzzyxyzzy"), Some("--help"));
}

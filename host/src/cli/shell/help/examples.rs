//! Examples, before anything else that help says. Each is shown with the command that it leads to.

use clap::Command;

use super::heading;

/// Command lines, one a line.
pub const LINES: &str = include_str!("examples.txt");

/// Examples shown at most; where a command has fewer of its own, the first ones of the commands below it follow.
const MOST: usize = 3;

/// An example, and the words of it that follow the command at hand.
#[derive(Clone, Copy, Debug)]
struct Example {
    whole: &'static str,
    rest: &'static str,
}

impl Example {
    /// The next word, and the example from there on.
    fn next(self) -> (&'static str, Self) {
        let (word, rest) = self.rest.split_once(' ').unwrap_or((self.rest, ""));
        (word, Self { rest: rest.trim_start(), ..self })
    }
}

/// Puts its examples before the help of every command.
pub fn put_first(program: Command) -> Command {
    let all = LINES.lines().map(|whole| Example { whole, rest: whole }.next().1).collect();
    with_examples(program, all)
}

fn with_examples(command: Command, all: Vec<Example>) -> Command {
    let is_below = |example: &Example| command.find_subcommand(example.next().0).is_some();
    let (below, own): (Vec<Example>, Vec<Example>) = all.into_iter().partition(is_below);
    let of = |name: &str| -> Vec<Example> {
        below.iter().map(|example| example.next()).filter(|(word, _)| *word == name).map(|it| it.1).collect()
    };
    let firsts = command.get_subcommands().filter_map(|sub| of(sub.get_name()).first().copied());
    let shown: Vec<Example> = own.into_iter().chain(firsts).take(MOST).collect();
    let text = shown.iter().fold(heading(&command, "Examples"), |text, it| text + "\n  " + it.whole);
    let command = if shown.is_empty() { command } else { command.before_help(text) };
    command.mut_subcommands(|sub| {
        let own = of(sub.get_name());
        with_examples(sub, own)
    })
}

//! Help by what one wants to do: six groups of commands, examples first, and the right command for a wrong word.

mod examples;
mod groups;
mod meant;
#[cfg(test)]
mod tests;

pub use meant::unknown_word;

use clap::Command;

/// Columns that help fills at most.
const WIDTH: usize = 80;

/// Gives every command its examples, and the program its groups of commands.
pub fn by_purpose(program: Command) -> Command {
    let program = examples::put_first(program.max_term_width(WIDTH));
    let template = groups::template(&program);
    program.help_template(template)
}

/// A heading as the other headings of help are shown.
fn heading(program: &Command, words: &str) -> String {
    let style = program.get_styles().get_header();
    format!("{style}{words}:{style:#}")
}

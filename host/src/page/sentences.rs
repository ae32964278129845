//! Answers of the command line as parts of a page: their sentences, without the commands that a page has taps for.

use crate::view::words::capital;
use crate::view::words::sheet::Block;

/// A command that would be typed.
const COMMAND: &str = "needlehours ";

/// The lines of an answer, each a sentence or a heading; commands are left out.
pub fn sentences(text: &str) -> Vec<Block> {
    text.lines().filter_map(sentence).collect()
}

fn sentence(line: &str) -> Option<Block> {
    let is_further_in = line.starts_with(' ');
    let said = without_command(line.trim().trim_start_matches("- "));
    if said.is_empty() {
        return None;
    }
    let is_heading = !is_further_in && said.ends_with(':');
    let said = capital(said);
    Some(if is_heading { Block::Strong(said.trim_end_matches(':').to_owned()) } else { Block::Text(said) })
}

/// What stands before the clause that names a command.
pub fn without_command(line: &str) -> &str {
    let Some((before, _)) = line.split_once(COMMAND) else { return line };
    let end = ["; ", ". ", ": "].iter().filter_map(|mark| Some((before.rfind(mark)?, *mark))).max();
    match end {
        // A colon leads to the command itself; what stands before it may still be a sentence of its own.
        Some((end, ": ")) => {
            let clause = before.get(..end).unwrap_or_default();
            let start = ["; ", ". "].iter().filter_map(|mark| clause.rfind(mark)).max();
            clause
                .get(..start.map_or(clause.len(), |start| start + 1))
                .unwrap_or_default()
                .trim_end_matches(';')
        }
        Some((end, _)) => before.get(..=end).unwrap_or_default().trim_end_matches(';'),
        None => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_elsewhere_is_left_out_and_the_rest_stays() {
        assert_eq!(without_command("9 near-misses: needlehours tear list"), "9 near-misses");
        assert_eq!(
            without_command("Nothing is changed by itself; to do it: needlehours due set"),
            "Nothing is changed by itself"
        );
        assert_eq!(
            without_command("No ceiling was set; to set one: needlehours heavy set"),
            "No ceiling was set"
        );
        assert_eq!(without_command("It ran. See `needlehours slowing`"), "It ran.");
        assert_eq!(without_command("needlehours pull"), "");
        assert_eq!(without_command("It ran for 2 min."), "It ran for 2 min.");
    }
}

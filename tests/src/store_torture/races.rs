//! Rules of "only one" under several writers at once.

use super::program::{Program, told};

/// Writers at once.
const WRITERS: usize = 4;

/// What was found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Rounds.
    pub rounds: u64,
    /// Rounds in which not exactly one succeeded.
    pub broken: u64,
    /// Writers that were refused without a word.
    pub silent: u64,
}

/// Commands of which only one may succeed, with a number in place of `#`, and how the studio comes to be before.
const RULES: [(&str, &[&[&str]], &[&str]); 4] = [
    ("a person of one name", &[], &["person", "add", "Name #"]),
    ("a rug of one name", &[], &["rug", "new", "Fox #"]),
    (
        "one loan of a machine",
        &[&["machine", "add", "Rosie #"]],
        &["machine", "lend", "1", "--to", "Ana", "--condition", "clean"],
    ),
    ("one timer of the hands", &[&["rug", "new", "Fox #"]], &["job", "start", "design", "--rug", "Fox #"]),
];

/// Lets four writers say the same at once, in so many rounds of each rule.
///
/// # Errors
/// When the program cannot be run.
pub fn race(program: &Program, rounds: u64) -> Result<Vec<(&'static str, Tally)>, String> {
    let mut tallies = Vec::new();
    for (name, before, command) in RULES {
        let mut tally = Tally::default();
        for round in 0..rounds {
            program.put(b"")?;
            let with = |words: &[&str]| -> Vec<String> {
                words.iter().map(|word| word.replace('#', &round.to_string())).collect()
            };
            program.run(&["person", "list"], &[])?;
            for words in before {
                let words = with(words);
                let words: Vec<&str> = words.iter().map(String::as_str).collect();
                let told = program.run(&words, &[])?;
                if told.code != Some(0) {
                    return Err(format!("{words:?}: {}", told.err));
                }
            }
            let words = with(command);
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            let writers: Vec<_> = (0..WRITERS).map(|_| program.start(&words)).collect::<Result<_, _>>()?;
            let mut done = 0;
            for writer in writers {
                let told = told(writer.wait_with_output().map_err(|error| error.to_string())?);
                done += u64::from(told.code == Some(0));
                tally.silent += u64::from(told.code != Some(0) && told.err.is_empty());
            }
            tally.rounds += 1;
            tally.broken += u64::from(done != 1);
        }
        tallies.push((name, tally));
    }
    Ok(tallies)
}

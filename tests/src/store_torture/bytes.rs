//! Changes bytes of a database file and judges the program by its answers: the right one, or none.

use firmware::split_mix::SplitMix64;

use super::program::{Program, Told};

/// The questions. `book` is asked for its report, because its page goes into a file.
const QUESTIONS: [&[&str]; 4] = [&["hours"], &["due"], &["speed"], &["book", "--machine", "1", "--json"]];
/// The exit code of a database that cannot be used, as the README says.
const DATABASE: i32 = 5;

/// How the answers were.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Changed files.
    pub changes: u64,
    /// Answers as from the whole file.
    pub right: u64,
    /// No answer, with the words and the code of a damaged database.
    pub told: u64,
    /// Another answer.
    pub wrong: u64,
    /// Ended in any other way.
    pub other: u64,
}

/// Changes one byte, `changes` times, each time of the whole file.
///
/// # Errors
/// When the program cannot be run.
pub fn change(program: &Program, changes: u64, seed: u64) -> Result<Tally, String> {
    let whole = program.made_up_studio()?;
    let mut rng = SplitMix64::new(seed);
    let mut tally = Tally::default();
    program.put(&whole)?;
    let mut right = answers(program)?;
    for _ in 0..changes {
        let mut damaged = whole.clone();
        let size = u64::try_from(damaged.len()).unwrap_or(u64::MAX);
        let at = usize::try_from(rng.below(size)).unwrap_or(0);
        let Some(byte) = damaged.get_mut(at) else { continue };
        *byte ^= u8::try_from(1 + rng.below(255)).unwrap_or(1);
        program.put(&damaged)?;
        let mut got = answers(program)?;
        let differs =
            |got: &[Told], right: &[Told]| got.iter().zip(right).any(|(got, right)| is_wrong(got, right));
        if differs(&got, &right) {
            // Days go by: both once more, one after the other.
            program.put(&whole)?;
            right = answers(program)?;
            program.put(&damaged)?;
            got = answers(program)?;
        }
        tally.changes += 1;
        for ((got, right), question) in got.iter().zip(&right).zip(QUESTIONS) {
            if got == right {
                tally.right += 1;
            } else if got.code == Some(DATABASE) && got.out.is_empty() && !got.err.is_empty() {
                tally.told += 1;
            } else if is_wrong(got, right) {
                tally.wrong += 1;
                println!("  seed {seed}: byte {at} changed: {question:?} answers otherwise");
            } else {
                tally.other += 1;
                println!("  seed {seed}: byte {at} changed: {question:?} ends with {got:?}");
            }
        }
    }
    Ok(tally)
}

fn is_wrong(got: &Told, right: &Told) -> bool {
    got != right && (got.code == Some(0) || got.code == right.code)
}

fn answers(program: &Program) -> Result<Vec<Told>, String> {
    QUESTIONS.iter().map(|question| program.run(question, &[]).map(without_now)).collect()
}

/// Takes out what only says how late it is: moments, and parts of days.
fn without_now(mut told: Told) -> Told {
    if let Ok(mut report) = serde_json::from_str(&told.out) {
        forget_now(&mut report);
        told.out = report.to_string();
    }
    told
}

fn forget_now(value: &mut serde_json::Value) {
    match value {
        serde_json::Value::Object(fields) => {
            fields.retain(|key, _| !key.starts_with("as_of") && !key.contains("days"));
            fields.values_mut().for_each(forget_now);
        }
        serde_json::Value::Array(items) => items.iter_mut().for_each(forget_now),
        _ => {}
    }
}

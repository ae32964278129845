//! Runs commands that write while the disk fails, fills up or loses what was not synced, or while the program is killed; then
//! looks at what is in the file. Linux only: the bad disk is laid under the program by its loader.

use std::path::PathBuf;
use std::process::Command;

use firmware::split_mix::SplitMix64;
use host::app::book::verify::verify;
use host::app::ports::Store;
use host::app::ports::book::Names;
use host::store::Database;

use super::program::Program;

const SOURCE: &str = include_str!("disk.c");
/// More calls than the command makes of the kind that a harm is done to, so that some runs get through untouched.
const fn most_calls(harm: &str) -> u64 {
    // A command writes its pages twice, into the journal and the file, and reads more of them; it syncs each of the two.
    if matches!(harm.as_bytes(), b"fail-sync") { 8 } else { 40 }
}

/// What the disk does.
pub const HARMS: [&str; 6] = ["die", "lose", "fail-write", "fail-read", "fail-sync", "full"];

/// What was found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Runs.
    pub runs: u64,
    /// Of them, those that came to the call at which the harm was done.
    pub reached: u64,
    /// Said to be kept, and not there afterwards.
    pub lost: u64,
    /// Half of an act was there.
    pub half: u64,
    /// Said to have failed, and there all the same.
    pub refused_but_kept: u64,
    /// The file did not open, or its check failed.
    pub broken: u64,
    /// Failed without a word.
    pub silent: u64,
}

impl Tally {
    /// What must be none.
    #[must_use]
    pub const fn faults(&self) -> u64 {
        self.lost + self.half + self.refused_but_kept + self.broken + self.silent
    }
}

/// Compiles the bad disk.
///
/// # Errors
/// When there is no compiler: then nothing was tried, which is no success.
pub fn compiled(program: &Program) -> Result<PathBuf, String> {
    let (source, library) = (program.folder().join("disk.c"), program.folder().join("disk.so"));
    std::fs::write(&source, SOURCE).map_err(|error| error.to_string())?;
    let status = Command::new("cc")
        .args(["-O1", "-Wall", "-Werror", "-shared", "-fPIC", "-o"])
        .arg(&library)
        .arg(&source)
        .arg("-ldl")
        .status()
        .map_err(|error| format!("cc cannot be run ({error}); install a C compiler"))?;
    if status.success() { Ok(library) } else { Err("cc did not compile the bad disk".to_owned()) }
}

/// Does one kind of harm in so many runs, one after the other on the same database.
///
/// # Errors
/// When the program cannot be run.
pub fn harm(program: &Program, library: &str, harm: &str, runs: u64, seed: u64) -> Result<Tally, String> {
    let mut rng = SplitMix64::new(seed);
    let mut tally = Tally::default();
    let place = program.database().display().to_string();
    program.put(b"")?;
    let mut there = look(program)?.ok_or("a new database does not open")?;
    for run in 0..runs {
        let (call, lost) = (1 + rng.below(most_calls(harm)), rng.next_u64().to_string());
        let call = call.to_string();
        let around = [
            ("LD_PRELOAD", library),
            ("DISK_FILE", place.as_str()),
            ("DISK_HARM", harm),
            ("DISK_CALL", call.as_str()),
            ("DISK_SEED", lost.as_str()),
        ];
        // A name may have sixty letters.
        let name = format!("Name {run} {}", "n".repeat(usize::try_from(rng.below(45)).unwrap_or(0)));
        let told = program.run(&["person", "add", &name], &around)?;
        tally.runs += 1;
        let reached = program.folder().join("studio.db.reached");
        if reached.exists() {
            tally.reached += 1;
            std::fs::remove_file(reached).map_err(|error| error.to_string())?;
        }
        let Some(after) = look(program)? else {
            tally.broken += 1;
            println!("  {harm} at call {call}, seed {lost}: the file is broken");
            program.put(b"")?;
            there = look(program)?.ok_or("a new database does not open")?;
            continue;
        };
        let (entries, names) = (after.0 - there.0, after.1 - there.1);
        let before = tally.faults();
        tally.half += u64::from(entries != names || !(0..=1).contains(&entries));
        tally.lost += u64::from(told.code == Some(0) && entries == 0);
        tally.refused_but_kept +=
            u64::from(told.code.is_some_and(|code| code != 0 && code != 137) && entries == 1);
        tally.silent +=
            u64::from(told.code.is_some_and(|code| code != 0 && code != 137) && told.err.is_empty());
        if tally.faults() > before {
            println!(
                "  {harm} at call {call}, seed {lost}: {entries} entries and {names} names more, {told:?}"
            );
        }
        there = after;
    }
    Ok(tally)
}

/// How many entries and names there are; none when the file does not open or its check fails.
fn look(program: &Program) -> Result<Option<(i64, i64)>, String> {
    let looked = || -> Option<(i64, i64)> {
        let store = Database::open(&program.database()).ok()?;
        let whole = verify(&store, None).ok()?.is_fine && store.look_for_damage().ok()?.is_empty();
        let entries = i64::try_from(store.entries().ok()?.with_withdrawn().len()).ok()?;
        let names = i64::try_from(store.names().ok()?.len()).ok()?;
        whole.then_some((entries, names))
    };
    Ok(looked())
}

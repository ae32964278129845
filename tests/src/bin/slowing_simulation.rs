//! Tries the answer to "is the machine slowing down?" on made-up machines:
//! `cargo run --release -p tests --bin slowing_simulation -- --runs 2000 --seed 1`.

use std::process::ExitCode;

use tests::arguments::number_behind;
use tests::slowing::{
    FOUND_WITHIN, Habit, Outcome, WATCHED, dry_runs, habits, many_machines, median, share_within,
};

/// At most one alarm in so many healthy sessions.
const HEALTHY_SESSIONS: f64 = 200.0;
/// At most this share of changes of cloth may raise an alarm within five sessions.
const MOST_CLOTH: f64 = 0.01;

fn main() -> ExitCode {
    let (Some(runs), Some(seed)) = (number_behind("--runs", 2_000), number_behind("--seed", 1)) else {
        eprintln!("slowing_simulation [--runs NUMBER] [--seed NUMBER]");
        return ExitCode::from(2);
    };
    println!("{runs} machines in each line, {WATCHED} healthy sessions each after the baseline; seed {seed}");
    println!(
        "{:<40}{:>13} {:>8} {:>9} {:>9} {:>9} {:>9} {:>9}",
        "what is true", "sessions per", "sag", "found", "within", "with new", "cloth", "without"
    );
    println!(
        "{:<40}{:>13} {:>8} {:>9} {:>9} {:>9} {:>9} {:>9}",
        "", "false alarm", "median", "within 5", "a rug", "rug", "-15 %", "change"
    );
    let all = habits();
    let mut broken = 0;
    let outcomes = run_all(&all, runs, seed);
    for (place, (habit, outcome)) in outcomes.iter().enumerate() {
        broken += u64::from(!print(*habit, outcome, place == 0));
    }
    println!("\ndry runs, and both charts together with a dry run after every session:");
    println!("{:<40}{:>13} {:>9} {:>15}", "what is true", "runs per", "found by", "sessions per");
    println!("{:<40}{:>13} {:>9} {:>15}", "", "false alarm", "the next", "false alarm");
    for (place, (habit, outcome)) in outcomes.iter().enumerate() {
        // Dry runs are cheap to make up: ten times as many.
        let (false_alarms, found) = dry_runs(*habit, 10 * runs, seed);
        // One in either chart is one too many, so the rates are added; that is the most that they can be together.
        let together = 1.0 / (outcome.alarms_per_session() + false_alarms).max(f64::MIN_POSITIVE);
        let is_broken = place == 0 && together < HEALTHY_SESSIONS;
        broken += u64::from(is_broken);
        println!(
            "{:<40}{:>13.0} {:>7.1} % {:>15.0}{}",
            habit.name,
            1.0 / false_alarms.max(f64::MIN_POSITIVE),
            100.0 * found,
            together,
            if is_broken { "  BROKEN" } else { "" }
        );
    }
    println!("A sag of 10 % shows in a dry run whichever commission it began with.");
    println!(
        "\nsag: to nine tenths, at a random session five to fourteen after the baseline; median sessions to its alarm, those\n\
         never found counted as latest. within a rug, with new rug: found within {FOUND_WITHIN} sessions, by where it began.\n\
         A sag that begins with a new rug looks like its cloth: the session chart cannot tell it, and does not try.\n\
         cloth: an alarm within {FOUND_WITHIN} sessions of a cloth that slows by 15 %; without change: the same machines on an equal cloth."
    );
    println!(
        "Promised for the first line: a false alarm in {HEALTHY_SESSIONS} healthy sessions at the most by both charts together, a median of {FOUND_WITHIN} or fewer,\n\
         {} % of changes of cloth at the most. The other lines are shown, to know where it gets worse.",
        100.0 * MOST_CLOTH
    );
    if broken == 0 {
        return ExitCode::SUCCESS;
    }
    println!("a promise is broken");
    ExitCode::FAILURE
}

/// Two at a time, in order.
fn run_all(habits: &[Habit], runs: u64, seed: u64) -> Vec<(Habit, Outcome)> {
    let mut outcomes = Vec::new();
    for pair in habits.chunks(2) {
        std::thread::scope(|scope| {
            let started: Vec<_> = pair
                .iter()
                .map(|habit| (*habit, scope.spawn(move || many_machines(*habit, runs, seed))))
                .collect();
            outcomes.extend(started.into_iter().map(|(habit, handle)| {
                (habit, handle.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
            }));
        });
    }
    outcomes
}

/// Prints a line; whether it keeps what is promised, where anything is.
fn print(habit: Habit, outcome: &Outcome, is_promised: bool) -> bool {
    let per_alarm = 1.0 / outcome.alarms_per_session().max(f64::MIN_POSITIVE);
    let middle = median(&outcome.found_after);
    let percent = |share: f64| format!("{:.1} %", 100.0 * share);
    let within = |found: &[Option<usize>]| percent(share_within(found, FOUND_WITHIN));
    let unchanged = if outcome.cloth_changes == 0 {
        f64::NAN
    } else {
        outcome.cloth_share() * ratio(outcome.alarms_without_change, outcome.cloth_alarms)
    };
    let keeps = per_alarm >= HEALTHY_SESSIONS
        && middle.is_some_and(|middle| middle <= FOUND_WITHIN)
        && outcome.cloth_share() <= MOST_CLOTH
        && outcome.cloth_changes > 0;
    println!(
        "{:<40}{:>13} {:>8} {:>9} {:>9} {:>9} {:>9} {:>9}{}{}",
        habit.name,
        if outcome.false_alarms == 0 { "none".to_owned() } else { format!("{per_alarm:.0}") },
        middle.map_or_else(|| "never".to_owned(), |middle| middle.to_string()),
        within(&outcome.found_after),
        within(&outcome.found_within_rug),
        within(&outcome.found_at_new_rug),
        percent(outcome.cloth_share()),
        percent(unchanged),
        if outcome.without_chart > 0 {
            format!("  ({} without a chart)", outcome.without_chart)
        } else {
            String::new()
        },
        if keeps || !is_promised { "" } else { "  BROKEN" }
    );
    keeps || !is_promised
}

fn ratio(one: u64, other: u64) -> f64 {
    let of = |count: u64| u32::try_from(count).map_or(f64::NAN, f64::from);
    if other == 0 { 0.0 } else { of(one) / of(other) }
}

//! Learns where the ranges of due dates are read: `cargo run --release -p tests --bin due_places -- --runs 1500 --seed 1`. What it
//! prints last takes the place of the weights in `host/core/src/care/forecast/place_weights.rs`; then `due_simulation` tells whether they hold.

use std::process::ExitCode;

use tests::arguments::number_behind;
use tests::due_places::Side;
use tests::due_places::cells::forecasts;
use tests::due_places::in_words::{table, weights};
use tests::due_places::learn::learn;
use tests::two_threads::each;

fn main() -> ExitCode {
    let given = (number_behind("--runs", 1_500), number_behind("--seed", 1));
    let (Some(runs @ 1..), Some(seed)) = given else {
        eprintln!("due_places [--runs NUMBER, at least 1] [--seed NUMBER]");
        return ExitCode::from(2);
    };
    eprintln!(
        "making {runs} forecasts in each cell of practice makers, three times as many in each of the examination ..."
    );
    let cells = forecasts(runs, seed);
    eprintln!("learning from them ...");
    let learned: Result<Vec<Vec<f64>>, _> =
        each(&Side::BOTH, |end| learn(&cells, *end)).into_iter().collect();
    let learned = match learned {
        Ok(learned) => learned,
        Err(error) => {
            eprintln!("no weights were found: {error}; try more --runs or another --seed");
            return ExitCode::FAILURE;
        }
    };
    let [early, late] = learned.as_slice() else { return ExitCode::FAILURE };
    println!("{runs} forecasts and more in each cell; seed {seed}");
    println!("per cent of forecasts before / after the 80 % range; 10 is the aim, * is outside of 5 to 15\n");
    println!("{}", table(&cells, early, late));
    println!("{}", weights(Side::Early, early));
    print!("{}", weights(Side::Late, late));
    ExitCode::SUCCESS
}

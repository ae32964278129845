//! The emulated board on a pseudo-terminal, for a program in another language that plays the maker:
//! `cargo run -p tests --bin plugged_board -- /tmp/board`.
//!
//! The path named is a link to the pseudo-terminal, and there only while the board is plugged in. "plugged in" on standard output
//! says that it is there. Standard input takes a command a line; each is answered by a line. Its end ends the program.
//!
//! `needle STROKES PER_SECOND` · `hold cloth|care MILLISECONDS` (the finger leaves by itself) · `unplug` · `plug`

use std::io::{BufRead as _, Write as _};
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::ExitCode;

use serde_json::json;
use tests::cable::Cable;
use tests::emulator::{CARE_BUTTON, CLOTH_BUTTON, Emulator};

/// The board's two places.
enum Place {
    Plugged(Cable),
    Alone(Emulator),
}

fn main() -> ExitCode {
    let Some(link) = std::env::args().nth(1) else {
        eprintln!("plugged_board PATH");
        return ExitCode::from(2);
    };
    let link = Path::new(&link);
    let mut board = Emulator::start();
    board.run_until_connected();
    let mut place = plug(board, link);
    tell("plugged in");
    for line in std::io::stdin().lock().lines().map_while(Result::ok) {
        let words: Vec<&str> = line.split_whitespace().collect();
        let answer = match (words.as_slice(), place) {
            (["plug"], Place::Alone(board)) => (plug(board, link), "plugged in"),
            (["unplug"], Place::Plugged(cable)) => (Place::Alone(unplug(cable, link)), "unplugged"),
            (words, Place::Plugged(cable)) => {
                let is_known = order(words, &cable);
                (Place::Plugged(cable), if is_known { "begun" } else { "not understood" })
            }
            (_, alone) => (alone, "not plugged in"),
        };
        place = answer.0;
        tell(answer.1);
    }
    if let Place::Plugged(cable) = place {
        drop(unplug(cable, link));
    }
    ExitCode::SUCCESS
}

fn tell(words: &str) {
    println!("{words}");
    // Whoever listened may be gone; then the end of standard input ends the program.
    std::io::stdout().flush().unwrap_or_default();
}

fn plug(board: Emulator, link: &Path) -> Place {
    let cable = Cable::plug_in_real_time(board);
    symlink(cable.path(), link).unwrap_or_else(|error| eprintln!("{}: {error}", link.display()));
    Place::Plugged(cable)
}

fn unplug(cable: Cable, link: &Path) -> Emulator {
    std::fs::remove_file(link).unwrap_or_else(|error| eprintln!("{}: {error}", link.display()));
    cable.unplug()
}

/// Passes a command on to the board; whether it was understood.
fn order(words: &[&str], cable: &Cable) -> bool {
    match words {
        ["needle", strokes, per_second] => match (strokes.parse::<u32>(), per_second.parse::<f64>()) {
            (Ok(strokes), Ok(per_second)) if per_second > 0.0 => {
                cable.order(Box::new(move |board| board.stroke(strokes, per_second)));
                true
            }
            _ => false,
        },
        ["hold", button, milliseconds] => {
            let pin = match *button {
                "cloth" => CLOTH_BUTTON,
                "care" => CARE_BUTTON,
                _ => return false,
            };
            let Ok(milliseconds) = milliseconds.parse::<u32>() else { return false };
            cable.order(Box::new(move |board| {
                board.perform(&json!({ "op": "press", "pin": pin, "ms": milliseconds }));
            }));
            true
        }
        _ => false,
    }
}

//! Words that are no command, and the commands that are meant by them.

use clap::error::{ContextKind, ContextValue, ErrorKind};
use host_core::studio::nearest_names;

use super::groups::{BARE, GROUPS};
use crate::cli::shell::failure::Failure;

/// Words that mean the same, and what to type instead, each with what it does.
pub type Meaning = (&'static [&'static str], &'static [(&'static str, &'static str)]);

const PULL: (&str, &str) = ("pull", "reads the logger");
const WORKED: (&str, &str) = ("worked 1h40", "notes a session without a logger");
const HOURS: (&str, &str) = ("hours", "tells the hours by rug");
const SHEET: (&str, &str) = ("rug sheet Fox", "everything about one rug");
const PRICE: (&str, &str) = ("quote --size 90x120cm --price", "works out the price of a rug");
const DONE: (&str, &str) = ("done brush-out", "says that it was done");
const DUE: (&str, &str) = ("due", "tells what care is due");
const TAKE_BACK: (&str, &str) = ("take-back 12", "takes back an entry, by its number");
const BACKUP: (&str, &str) = ("backup studio-backup.db", "copies everything into one file");
const TODAY: (&str, &str) = ("", "today at one glance");
const HELP: (&str, &str) = ("--help", "all commands, by what you want to do");

/// What makers type.
pub const MEANINGS: &[Meaning] = &[
    (&["log", "logs", "logger", "read", "download", "sync", "fetch", "update"], &[PULL, WORKED]),
    (&["session", "sessions"], &[("rug sessions", "lists the sessions"), WORKED]),
    (&["work", "note", "notebook", "note-session", "tuft", "tufting", "entry"], &[WORKED, HOURS]),
    (
        &["oil", "oiling", "lubricate", "grease"],
        &[("done oiling", "says that it was oiled"), ("due oiling", "tells how, and when")],
    ),
    (&["clean", "cleaning", "brush", "brush-out", "dust", "wipe", "lint"], &[DONE, DUE]),
    (&["maintenance", "service", "task", "tasks", "todo", "remind", "reminder"], &[DUE, DONE]),
    (
        &["needle", "needles", "scissors", "belt", "brushes", "fit", "replace"],
        &[
            ("part fit needle", "notes a new part"),
            ("due needle", "tells when to look"),
            ("stock", "spares left"),
        ],
    ),
    (
        &["spare", "spares", "buy", "shopping", "inventory", "supplies"],
        &[("stock", "spares and oil, and what to buy")],
    ),
    (
        &["yarn", "wool", "weigh", "colour", "color"],
        &[
            ("rug yarn Fox rust --out 500g", "notes yarn that was weighed"),
            ("rug progress Fox", "which colour runs out first"),
        ],
    ),
    (&["material", "materials", "glue", "cloth"], &[("rug material Fox glue 12", "notes what was bought")]),
    (
        &["price", "prices", "pricing", "offer", "estimate", "cost", "costs", "money"],
        &[PRICE, ("rate", "what an hour of the machine costs")],
    ),
    (
        &["invoice", "bill", "billing", "receipt", "pay", "payment"],
        &[SHEET, ("quote --for Fox --client offer.html", "writes the client's page with the price")],
    ),
    (
        &["client", "clients", "customer", "customers", "order", "orders"],
        &[("rug new Fox --size 90x120cm", "takes an order"), ("rug card Fox", "writes the client's card")],
    ),
    (
        &["commission", "commissions", "project", "projects", "rugs", "new"],
        &[("rug", "all rugs"), ("rug new Fox --size 90x120cm", "takes a new one")],
    ),
    (
        &["wage", "wages", "currency", "salary"],
        &[("rate wage 25 --currency EUR", "keeps what an hour costs")],
    ),
    (
        &["stats", "statistics", "report", "reports", "summary", "total", "totals", "overview"],
        &[HOURS, SHEET, ("plot year", "draws the year by day")],
    ),
    (&["hour", "time", "times", "meter", "usage"], &[HOURS, WORKED]),
    (
        &["timer", "clock", "start", "begin"],
        &[
            ("worked begin", "times a session at the frame"),
            ("job start gluing --rug Fox", "times other work"),
            ("rug start Fox", "puts a rug on the frame"),
        ],
    ),
    (
        &["stop", "end", "pause", "finish", "finished", "deliver"],
        &[
            ("worked stop", "ends the session that is timed"),
            ("job stop", "ends the timer"),
            ("rug pause Fox", "takes a rug off the frame; rug finish, rug deliver"),
        ],
    ),
    (&["undo", "delete", "remove", "cancel", "erase", "withdraw"], &[TAKE_BACK]),
    (
        &["edit", "change", "correct", "fix", "rename"],
        &[TAKE_BACK, ("rug change Fox", "corrects a rug"), ("machine change 1", "corrects a machine")],
    ),
    (
        &["history", "journal", "audit"],
        &[
            ("rug history Fox", "all that was said of a rug"),
            ("done --history", "care that was given"),
            ("book", "a machine's record book"),
        ],
    ),
    (&["status", "today", "now", "dashboard", "home"], &[TODAY, DUE]),
    (
        &["next", "forecast", "schedule", "ics", "ical"],
        &[DUE, ("calendar --out care.ics", "dates for your calendar")],
    ),
    (
        &["csv", "table", "load"],
        &[
            ("worked --table notebook.csv", "notes the sessions of a notebook"),
            ("restore studio-backup.db", "puts a backup back"),
            ("import my-studio", "takes an export in"),
        ],
    ),
    (
        &["save", "copy", "archive", "dump", "parquet", "spreadsheet", "excel"],
        &[
            BACKUP,
            ("export my-studio", "hands everything on as tables"),
            ("rug sheet Fox --csv fox.csv", "one rug as a table"),
        ],
    ),
    (
        &["db", "database", "repair", "recover"],
        &[("doctor", "finds what is wrong"), ("rescue saved.db", "saves what is whole")],
    ),
    (
        &["knob", "calibrate", "calibration", "dial"],
        &[
            ("machine calibrate", "sets the knob's ends"),
            ("live", "shows the knob as it moves"),
            ("speed", "tears by its place"),
        ],
    ),
    (
        &["tears", "rip", "hole", "snag", "near-miss", "damage"],
        &[("tear --rug Fox", "notes a tear"), ("speed", "tears by speed")],
    ),
    (
        &["speeds", "fast", "slow", "ceiling"],
        &[("speed", "tears by speed"), ("speed cost", "which speed costs least")],
    ),
    (
        &["fault", "faults", "broken", "failure"],
        &[("trend add \"belt slipped\"", "notes a fault"), ("doctor", "finds what is wrong")],
    ),
    (
        &["photo", "photos", "picture", "pictures", "image", "chart", "graph", "draw"],
        &[
            ("plot usage", "draws the hours of each rug"),
            ("rug sheet Fox --html fox.html", "one rug as a page"),
        ],
    ),
    (
        &["web", "browser", "phone", "server", "screen", "serve"],
        &[("page", "the page beside the frame; with --phone on a phone too")],
    ),
    (
        &["print", "html", "pdf"],
        &[("rug sheet Fox --html fox.html", "one rug as a page"), ("book", "a machine's record book")],
    ),
    (&["vibration", "hand", "dose"], &[("exposure", "vibration of the hand by day")]),
    (
        &["people", "who", "name", "names", "user", "users"],
        &[("person", "people who work or borrow"), ("hours --by-person", "hours by who worked")],
    ),
    (
        &["lend", "loan", "loans", "rent", "rental", "borrow"],
        &[("machine lend 1 --to Ada", "lends a machine"), ("machine loans", "lists the loans")],
    ),
    (
        &["machines", "add", "setup", "init", "install"],
        &[("machine add \"Blue handle\"", "enters a machine"), TODAY],
    ),
    (
        &["test", "check", "diagnose", "debug", "port", "usb"],
        &[("doctor", "finds what is wrong"), ("live", "shows strokes as they happen")],
    ),
    (
        &["guide", "commands", "info", "usage-help", "tutorial", "?"],
        &[HELP, ("demo", "shows everything in a made-up studio")],
    ),
    (
        &["man", "completion", "completions", "complete", "shell"],
        &[("manual shell-files", "writes manual pages and completions")],
    ),
];

/// What is said of a word that is no command; none where something else was not understood, or a command has no such word.
pub fn unknown_word(error: &clap::Error) -> Option<Failure> {
    if error.kind() != ErrorKind::InvalidSubcommand {
        return None;
    }
    let Some(ContextValue::String(word)) = error.get(ContextKind::InvalidSubcommand) else { return None };
    let words: Vec<String> = std::env::args().skip(1).collect();
    let before: Vec<&String> = words.iter().take_while(|said| *said != word).collect();
    let commands: Vec<&str> = commands().map(|(name, _)| name).collect();
    let is_below = before.iter().any(|said| commands.contains(&said.as_str()));
    match meaning(word) {
        Some(meant) => Some(told(word, meant)),
        None if is_below => None,
        None => Some(told(word, &nearest(word))),
    }
}

fn told(word: &str, meant: &[(&str, &str)]) -> Failure {
    let lines: Vec<String> = meant
        .iter()
        .map(|(line, what)| format!("needlehours {line}").trim_end().to_owned() + "\n   " + what)
        .collect();
    Failure::not_understood("command::unknown", format!("there is no command \"{word}\""), lines.join("\n"))
}

/// What a word means, if makers are known to type it.
pub fn meaning(word: &str) -> Option<&'static [(&'static str, &'static str)]> {
    let word = word.to_lowercase();
    MEANINGS.iter().find(|(words, _)| words.contains(&word.as_str())).map(|(_, meant)| *meant)
}

/// The commands that look like a word, or that a word means which looks like it.
pub fn nearest(word: &str) -> Vec<(&'static str, &'static str)> {
    let words = MEANINGS.iter().flat_map(|(words, _)| words.iter().copied());
    let all: Vec<&str> = commands().map(|(name, _)| name).chain(words).collect();
    let near = nearest_names(word, &all);
    let mut meant = Vec::new();
    for name in near {
        let found: Vec<_> = match commands().find(|(command, _)| *command == name) {
            Some(command) => vec![command],
            None => meaning(&name).unwrap_or_default().to_vec(),
        };
        meant.extend(found.into_iter().filter(|it| !meant.contains(it)).collect::<Vec<_>>());
    }
    meant.truncate(MOST);
    meant.push(HELP);
    meant
}

/// Commands named at most for a word that is not known.
const MOST: usize = 3;

fn commands() -> impl Iterator<Item = (&'static str, &'static str)> {
    GROUPS.iter().flat_map(|(_, commands)| commands.iter().copied()).filter(|(name, _)| *name != BARE)
}

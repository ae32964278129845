//! The commands in six groups, each in a line that begins with what one wants to do.

use std::fmt::Write as _;

use clap::Command;

use super::heading;

/// A group: its name, and the commands with their lines.
pub type Group = (&'static str, &'static [(&'static str, &'static str)]);

/// The program without a command.
pub const BARE: &str = "needlehours";

/// Every command stands in one group.
pub const GROUPS: [Group; 6] = [
    (
        "Every day",
        &[
            (BARE, "see today at one glance, and answer with one key"),
            ("page", "open the page beside the frame, on a screen or phone"),
            ("pull", "read the logger"),
            ("worked", "note a session at the frame, or time one"),
            ("hours", "see hours by rug or by who worked, settle doubtful ones"),
            ("due", "see what care is due, and about when; put it off"),
            ("done", "say that care was given, or be walked through it"),
            ("tear", "note a tear or a near-miss, say more about one"),
            ("take-back", "take back what was entered, or have it back"),
        ],
    ),
    (
        "Rugs and money",
        &[
            ("rug", "take, start, finish, deliver a rug; sessions, yarn, sheet"),
            ("job", "time the work away from the frame: gluing, shearing"),
            ("quote", "tell what a new rug will take, and its price"),
            ("rate", "work out a machine hour; keep wage, costs, prices"),
        ],
    ),
    (
        "Care and parts",
        &[
            ("machine", "enter, change, calibrate, lend or rest a machine"),
            ("care", "see or change the care plan and its oil points"),
            ("part", "see the parts on a machine; fit one, take one off"),
            ("stock", "keep spares and oil in view, and what to buy"),
            ("calendar", "put due dates into your calendar"),
        ],
    ),
    (
        "After some months",
        &[
            ("speed", "see at which speeds cloth tears, and which costs least"),
            ("interval", "know whether a care interval is right"),
            ("wear", "know how long a part lasts, and when to replace it"),
            ("trend", "know whether faults come more often; note one"),
            ("slowing", "know whether the machine slows down"),
            ("heavy", "see whether the machine was worked too hard"),
            ("exposure", "see how much vibration the hand had in a day"),
            ("person", "enter, rename or erase people"),
            ("plot", "draw hours, the year, density, tears, cost and more"),
        ],
    ),
    (
        "The board",
        &[
            ("autoread", "have the board read by itself, at every login too"),
            ("live", "see strokes and knob as they happen"),
            ("doctor", "find out why something does not work"),
            ("demo", "try everything without a board, in a made-up studio"),
        ],
    ),
    (
        "Keeping safe",
        &[
            ("backup", "copy everything into one file"),
            ("restore", "put a copy back"),
            ("export", "hand everything on as tables, to take in elsewhere"),
            ("import", "take an export in, as a new database"),
            ("rescue", "save what is whole out of a damaged database"),
            ("book", "print a machine's record book"),
            ("verify", "prove that nothing was rewritten afterwards"),
            ("manual", "write manual pages, and completions for your shell"),
        ],
    ),
];

/// Help of the whole program: examples, groups, options.
pub fn template(program: &Command) -> String {
    let mut text = "{before-help}{about-with-newline}\n{usage-heading} {usage}\n\n".to_owned();
    for (name, commands) in GROUPS {
        text += &heading(program, name);
        text.push('\n');
        for (command, line) in commands {
            let style = program.get_styles().get_literal();
            // A text takes whatever is written to it.
            writeln!(text, "  {style}{command:<11}{style:#}  {line}").unwrap_or_default();
        }
        text.push('\n');
    }
    text += "needlehours help COMMAND, or COMMAND --help, tells more about one.\n\n";
    text + &heading(program, "Options") + "\n{options}"
}

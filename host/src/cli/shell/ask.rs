//! Asking whoever sits at the terminal.

use std::io::{BufRead, IsTerminal, Write};

/// Whether somebody is there who can be asked.
pub fn somebody_is_there() -> bool {
    std::io::stdin().is_terminal() && std::io::stdout().is_terminal()
}

/// One line without its end; none when nobody is there.
pub fn line(answers: &mut impl BufRead, out: &mut impl Write, question: &str) -> Option<String> {
    let asked = write!(out, "{question}").and_then(|()| out.flush());
    let mut line = String::new();
    match asked.and_then(|()| answers.read_line(&mut line)) {
        Ok(0) | Err(_) => None,
        Ok(_) => Some(line.trim().to_owned()),
    }
}

/// Yes or no; `otherwise` where nobody is there, and for every other answer.
pub fn is_yes(answers: &mut impl BufRead, out: &mut impl Write, question: &str, otherwise: bool) -> bool {
    match line(answers, out, question).map(|typed| typed.to_lowercase()).as_deref() {
        Some("y" | "yes") => true,
        Some("n" | "no") => false,
        _ => otherwise,
    }
}

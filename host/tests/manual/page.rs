//! A page of the manual, taken apart: its commands with what is shown of their answers, and the files that it tells to write.

use std::fs;
use std::path::PathBuf;

/// One thing that a maker who follows a page does.
#[derive(Debug)]
pub enum Step {
    /// Writes a file.
    Write { name: String, content: String },
    /// Types a command.
    Type(Typed),
}

/// A command on a page.
#[derive(Debug)]
pub struct Typed {
    /// As it stands on the page, without the `$`.
    pub line: String,
    /// What is shown beneath it; a line `...` stands for any lines, `...` in a line for any text. Empty: nothing is shown.
    pub shown: Vec<String>,
    /// The exit code that is told.
    pub code: i32,
}

impl Typed {
    /// The words behind the name of the program, as a shell takes them apart.
    pub fn arguments(&self) -> Vec<String> {
        let words: Vec<String> = self
            .line
            .split('"')
            .enumerate()
            .flat_map(|(at, part)| match at % 2 {
                0 => part.split_whitespace().map(str::to_owned).collect(),
                _ => vec![part.to_owned()],
            })
            .collect();
        assert_eq!(words[0], "needlehours", "a page shows another program: {}", self.line);
        words[1..].to_vec()
    }
}

/// The folder of the manual.
pub fn folder() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/MANUAL"))
}

/// Every page with its name.
pub fn pages() -> Vec<(String, String)> {
    let mut pages: Vec<(String, String)> = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "md"))
        .map(|path| {
            (path.file_name().unwrap().to_str().unwrap().to_owned(), fs::read_to_string(&path).unwrap())
        })
        .collect();
    pages.sort();
    assert!(
        pages.len() >= 9,
        "pages are missing: {:?}",
        pages.iter().map(|page| &page.0).collect::<Vec<_>>()
    );
    pages
}

/// What a page tells to do, in order. Blocks are `console`, or `csv` with the name of the file.
pub fn steps(text: &str) -> Vec<Step> {
    let mut steps = Vec::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        let Some(kind) = line.strip_prefix("```") else { continue };
        let block: Vec<&str> = lines.by_ref().take_while(|line| *line != "```").collect();
        match kind.split_once(' ') {
            None if kind == "console" => steps.extend(typed(&block)),
            Some(("csv", name)) => {
                steps.push(Step::Write { name: name.to_owned(), content: block.join("\n") + "\n" });
            }
            _ => panic!("a block of no known kind: {line}"),
        }
    }
    steps
}

fn typed(block: &[&str]) -> Vec<Step> {
    let mut commands: Vec<Typed> = Vec::new();
    for line in block {
        if let Some(line) = line.strip_prefix("$ ") {
            commands.push(Typed { line: line.to_owned(), shown: Vec::new(), code: 0 });
            continue;
        }
        let command = commands.last_mut().unwrap_or_else(|| panic!("an answer to nothing: {line}"));
        match line.strip_prefix("(ends with ").and_then(|rest| rest.strip_suffix(')')) {
            Some(code) => command.code = code.parse().unwrap(),
            None => command.shown.push((*line).to_owned()),
        }
    }
    assert!(!commands.is_empty(), "a block without a command: {block:?}");
    commands.into_iter().map(Step::Type).collect()
}

/// Whether the lines that are shown stand for all that was told.
pub fn fits(shown: &[String], told: &[&str]) -> bool {
    let Some((first, rest)) = shown.split_first() else { return told.is_empty() };
    if first == "..." {
        return (0..=told.len()).any(|left_out| fits(rest, &told[left_out..]));
    }
    told.split_first().is_some_and(|(line, later)| line_fits(first, line) && fits(rest, later))
}

fn line_fits(shown: &str, told: &str) -> bool {
    let Some((begins, rest)) = shown.split_once("...") else { return shown == told };
    let Some(mut left) = told.strip_prefix(begins) else { return false };
    let mut parts: Vec<&str> = rest.split("...").collect();
    let ends = parts.pop().unwrap_or_default();
    for part in parts {
        let Some((_, behind)) = left.split_once(part) else { return false };
        left = behind;
    }
    left.ends_with(ends)
}

#[test]
fn left_out_parts_stand_for_anything_and_nothing_else_does() {
    let stands_for = |shown: &str, told: &str| {
        let shown: Vec<String> = shown.lines().map(str::to_owned).collect();
        fits(&shown, &told.lines().collect::<Vec<_>>())
    };
    for shown in
        ["a\nb 12 c\nd", "...", "a\n...", "...\nd", "a\n...\nd", "a\nb ... c\nd", "a\n...2 ...\n...\nd"]
    {
        assert!(stands_for(shown, "a\nb 12 c\nd"), "{shown}");
    }
    for shown in ["", "a", "a\nd", "...\nb", "b\n...", "a\nb 13 c\nd", "a\nb ... 13 c\nd", "a\n...x...\nd"] {
        assert!(!stands_for(shown, "a\nb 12 c\nd"), "{shown}");
    }
    // A part that is left out may be empty, and no text is used twice.
    assert!(stands_for("ab...c", "abc") && !stands_for("ab...bc", "abc"));
}

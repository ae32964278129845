//! `manual`: manual pages, and completions for the shells.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Command};
use clap_complete::Shell;
use clap_mangen::Man;

use super::failure::Failure;
use super::{exit, show};

/// The folder of the manual pages, as `man` looks for it.
const PAGES: &str = "man/man1";
/// The folder of the completions.
const COMPLETIONS: &str = "completions";

/// Where the manual for makers is.
const FOR_MAKERS: &str = "host/MANUAL/README.md, in the folder from which the program was installed";

/// The shells, and the file that each looks for.
const SHELLS: [(Shell, &str); 4] = [
    (Shell::Bash, "needlehours.bash"),
    (Shell::Zsh, "_needlehours"),
    (Shell::Fish, "needlehours.fish"),
    (Shell::PowerShell, "_needlehours.ps1"),
];

/// Write manual pages, and completions for bash, zsh, fish and PowerShell, into a folder.
#[derive(Debug, Args)]
pub struct Manual {
    /// The folder; it is made if it is not there.
    folder: PathBuf,
    /// Write over files that are there already with another content.
    #[arg(long)]
    overwrite: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// What was written.
#[derive(Debug, serde::Serialize)]
struct Written {
    folder: PathBuf,
    /// Below the folder.
    files: Vec<PathBuf>,
}

impl Manual {
    /// Runs the command for the program that it tells of.
    ///
    /// # Errors
    /// When a file is there with another content, or cannot be written.
    pub fn run(self, program: Command) -> Result<ExitCode, Failure> {
        let as_json = self.json;
        show::report(&self.write(program)?, as_json, words)?;
        Ok(exit::code(exit::FINE))
    }

    fn write(self, program: Command) -> Result<Written, Failure> {
        let unwritten = |path: &Path, error| {
            Failure::bad_input("manual::write", format!("cannot write {}", path.display()), REMEDY)
                .because(error)
        };
        let files = files(program).map_err(|error| unwritten(&self.folder, error))?;
        if !self.overwrite {
            refuse_others(&self.folder, &files)?;
        }
        for (name, content) in &files {
            let path = self.folder.join(name);
            if fs::read(&path).is_ok_and(|there| there == *content) {
                continue;
            }
            if let Some(folder) = path.parent() {
                fs::create_dir_all(folder).map_err(|error| unwritten(folder, error))?;
            }
            show::file(&path, content, "manual::write", REMEDY)?;
        }
        Ok(Written { folder: self.folder, files: files.into_iter().map(|(name, _)| name).collect() })
    }
}

const REMEDY: &str = "Name a folder in which you may write.";

/// Refuses before anything is written.
fn refuse_others(folder: &Path, files: &[(PathBuf, Vec<u8>)]) -> Result<(), Failure> {
    let is_other = |path: &Path, content: &[u8]| match fs::read(path) {
        Ok(there) => there != content,
        // A folder or an unreadable file of that name is something else, too.
        Err(_) => fs::symlink_metadata(path).is_ok(),
    };
    let others: Vec<PathBuf> = files
        .iter()
        .map(|(name, content)| (folder.join(name), content))
        .filter(|(path, content)| is_other(path, content))
        .map(|(path, _)| path)
        .collect();
    let Some(first) = others.first() else { return Ok(()) };
    let more = match others.len() {
        1 => String::new(),
        number => format!(", and {} more", number - 1),
    };
    Err(Failure::bad_input(
        "manual::other_content",
        format!("{}{more}: there already, with another content. Nothing was written", first.display()),
        "Name another folder, or say --overwrite if they are from an older version of this program.",
    ))
}

/// Every file with its content.
fn files(mut program: Command) -> std::io::Result<Vec<(PathBuf, Vec<u8>)>> {
    let mut files = Vec::new();
    for (shell, name) in SHELLS {
        let mut content = Vec::new();
        clap_complete::generate(shell, &mut program.clone(), "needlehours", &mut content);
        files.push((Path::new(COMPLETIONS).join(name), content));
    }
    program = program.disable_help_subcommand(true);
    program.build();
    pages(&program, &mut files)?;
    Ok(files)
}

fn pages(command: &Command, files: &mut Vec<(PathBuf, Vec<u8>)>) -> std::io::Result<()> {
    let man = Man::new(command.clone());
    let mut content = Vec::new();
    man.render(&mut content)?;
    if let Some(examples) = command.get_before_help() {
        content.extend(example_section(&examples.to_string()).into_bytes());
    }
    files.push((Path::new(PAGES).join(man.get_filename()), content));
    command.get_subcommands().filter(|below| !below.is_hide_set()).try_for_each(|below| pages(below, files))
}

/// Examples as a section of a manual page, line by line; a hyphen stays one when it is copied.
fn example_section(examples: &str) -> String {
    let lines: Vec<String> = examples
        .lines()
        .skip(1)
        .map(|line| line.trim().replace('\\', "\\e").replace('-', "\\-") + "\n")
        .collect();
    format!(".SH EXAMPLES\n.nf\n{}.fi\n", lines.concat())
}

fn words(written: &Written) -> String {
    // It goes into files that are read from anywhere.
    let whole = fs::canonicalize(&written.folder).unwrap_or_else(|_| written.folder.clone());
    let folder = whole.display();
    let shells = SHELLS.len();
    let pages = written.files.len().saturating_sub(shells);
    let mut text = format!(
        "Written into {folder}: {shells} files in {COMPLETIONS}, {pages} manual pages in {PAGES}.\n\n\
         Manual:      man -M \"{folder}/man\" needlehours\n\
         For makers:  {FOR_MAKERS}\n"
    );
    let uses = [
        ("bash", format!("source \"{folder}/{COMPLETIONS}/needlehours.bash\"   (a line in ~/.bashrc)")),
        ("zsh", format!("fpath=(\"{folder}/{COMPLETIONS}\" $fpath)   (in ~/.zshrc, before compinit)")),
        ("fish", format!("cp \"{folder}/{COMPLETIONS}/needlehours.fish\" ~/.config/fish/completions/")),
        ("PowerShell", format!(". \"{folder}/{COMPLETIONS}/_needlehours.ps1\"   (a line in $PROFILE)")),
    ];
    for (shell, how) in uses {
        text += &format!("{:<13}{how}\n", format!("{shell}:"));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::{Arg, arg};

    fn program() -> Command {
        let rug =
            Command::new("rug").about("Rugs").arg(Arg::new("name")).before_help("Examples:\n  rug Fox --all");
        Command::new("needlehours").about("Hours").subcommand(rug).arg(arg!(--db <FILE> "The database"))
    }

    fn write(folder: &Path, overwrite: bool) -> Result<Written, Failure> {
        Manual { folder: folder.to_owned(), overwrite, json: false }.write(program())
    }

    #[test]
    fn a_page_for_every_command_and_a_file_for_every_shell_and_the_same_again() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("not").join("there");
        write(&place, false).unwrap();
        write(&place, false).unwrap();
        for (_, name) in SHELLS {
            let content = fs::read_to_string(place.join(COMPLETIONS).join(name)).unwrap();
            assert!(content.contains("rug"), "{name}: {content}");
        }
        let page = fs::read_to_string(place.join(PAGES).join("needlehours-rug.1")).unwrap();
        assert!(page.ends_with(".SH EXAMPLES\n.nf\nrug Fox \\-\\-all\n.fi\n"), "{page}");
    }

    #[test]
    fn nothing_is_written_where_one_file_has_another_content_until_it_is_said() {
        let folder = tempfile::tempdir().unwrap();
        let mine = folder.path().join(COMPLETIONS).join("_needlehours");
        fs::create_dir_all(mine.parent().unwrap()).unwrap();
        fs::write(&mine, "mine").unwrap();
        let refused = write(folder.path(), false).unwrap_err();
        assert_eq!(refused.exit(), exit::code(exit::BAD_INPUT));
        assert_eq!(fs::read_to_string(&mine).unwrap(), "mine");
        assert!(!folder.path().join(PAGES).exists());
        write(folder.path(), true).unwrap();
        assert!(fs::read_to_string(&mine).unwrap().starts_with("#compdef needlehours"));
    }

    #[test]
    fn a_file_in_the_place_of_the_folder_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("notes.txt");
        fs::write(&place, "mine").unwrap();
        assert!(write(&place, true).is_err());
        assert_eq!(fs::read_to_string(&place).unwrap(), "mine");
    }
}

//! `rug progress`, `rug sheet` and `rug card`.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::app::ports::{Clock, Store};
use crate::app::rugs::sheet;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;
use crate::view::words::sheet::Medium;

/// How far along it is, how much is left, and which colour runs out first.
#[derive(Debug, Args)]
pub struct Progress {
    /// Which rug. Left out: all that are on the frame or rest.
    name: Option<String>,
    /// Also tell how the ranges come about.
    #[arg(long, conflicts_with = "json")]
    explain: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// Everything about it on one sheet, for yourself: running, tufting, job time, stages, yarn, cost.
#[derive(Debug, Args)]
pub struct Sheet {
    /// Which rug.
    name: String,
    /// Also write it as a page that prints well.
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Also write it as a table for a spreadsheet.
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// A card for whoever ordered it: size, strokes, sessions and how to care for it; no hours, no cost.
#[derive(Debug, Args)]
pub struct Card {
    /// Which rug.
    name: String,
    /// Also write it as a page that prints well.
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Progress {
    pub fn run(self, store: &impl Store, clock: &impl Clock) -> Result<(), Failure> {
        let along = sheet::progress(store, clock, self.name.as_deref())?;
        show::report(&along, self.json, |along| {
            let text = view::rugs::progress::text(along);
            if self.explain { format!("{text}\n\n{}", view::rugs::progress::EXPLAINED) } else { text }
        })
    }
}

impl Sheet {
    pub fn run(self, store: &impl Store, clock: &impl Clock) -> Result<(), Failure> {
        let sheet = sheet::sheet(store, clock, &self.name)?;
        let zone = clock.zone();
        let told = |medium| view::rugs::sheet::maker(&sheet, medium, clock.now(), &zone);
        if let Some(file) = &self.html {
            write(file, told(Medium::Page).html().as_bytes())?;
        }
        if let Some(file) = &self.csv {
            let table = view::rugs::sheet::csv(&sheet, &zone).map_err(|error| {
                Failure::other("sheet::csv", "the table could not be made", "Ask without --csv.")
                    .because(error)
            })?;
            write(file, table.as_bytes())?;
        }
        let files: Vec<&PathBuf> = self.html.iter().chain(&self.csv).collect();
        if self.json || files.is_empty() {
            return show::report(&sheet, self.json, |_| told(Medium::Screen).text());
        }
        show::words(&written(&files))
    }
}

impl Card {
    pub fn run(self, store: &impl Store, clock: &impl Clock) -> Result<(), Failure> {
        let card = sheet::sheet(store, clock, &self.name)?.card();
        let zone = clock.zone();
        if let Some(file) = &self.html {
            write(file, view::rugs::sheet::client(&card, &zone).html().as_bytes())?;
        }
        match &self.html {
            Some(file) if !self.json => show::words(&written(&[file])),
            _ => show::report(&card, self.json, |card| view::rugs::sheet::client(card, &zone).text()),
        }
    }
}

fn written(files: &[&PathBuf]) -> String {
    files.iter().map(|file| format!("Written: {}", file.display())).collect::<Vec<_>>().join("\n")
}

fn write(file: &Path, content: &[u8]) -> Result<(), Failure> {
    show::file(file, content, "sheet::write", "Name a file in a folder that exists.")
}

//! What is told about a commission besides its time on the frame: `rug new`, `change`, `stage`, `yarn`, `material`,
//! `history`, `take-back`.

use std::io::{stdin, stdout};
use std::process::ExitCode;

use clap::{ArgGroup, Args, ValueEnum};

use super::quote::Style;
use crate::app::ports::{Clock, Store};
use crate::app::rugs::commission::{self, Correction, Making};
use crate::app::rugs::rug::{self, NewRug};
use crate::app::rugs::{history, rename, sheet};
use crate::app::typed::dates;
use crate::app::typed::error::RequestError;
use crate::app::typed::measures::size_mm;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{ask, show};
use crate::view;
use host_core::entries::{self, YarnMove};

/// How it is made.
#[derive(Debug, Args)]
struct How {
    /// The kind of its pile.
    #[arg(long, value_enum)]
    style: Option<Style>,
    /// Height of the pile, for example 12mm or 0.5in.
    #[arg(long, value_name = "HEIGHT", allow_hyphen_values = true)]
    pile: Option<String>,
    /// A colour of the design; may be repeated.
    #[arg(long = "colour", value_name = "NAME")]
    colours: Vec<String>,
}

impl From<How> for Making {
    fn from(how: How) -> Self {
        Self { style: how.style.map(Into::into), pile: how.pile, colours: how.colours }
    }
}

#[derive(Debug, Args)]
struct Cloth {
    /// Width and height, for example 80x120cm or 36x48in.
    #[arg(long, value_name = "SIZE", allow_hyphen_values = true)]
    size: Option<String>,
    /// The piece or roll of cloth, as you mark it.
    #[arg(long, value_name = "MARK")]
    cloth: Option<String>,
}

impl Cloth {
    /// Width and height in millimetres.
    fn size_mm(&self) -> Result<Option<(u32, u32)>, RequestError> {
        self.size.as_deref().map(size_mm).transpose()
    }
}

/// Enter a commission.
#[derive(Debug, Args)]
pub struct New {
    /// Its name, for example Fox.
    name: String,
    #[command(flatten)]
    cloth: Cloth,
    /// When it was ordered. Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    #[command(flatten)]
    how: How,
}

/// Correct a commission. What is left out stays as it was; the old entry stays visible in its history.
#[derive(Debug, Args)]
pub struct Change {
    /// Which rug.
    name: String,
    #[command(flatten)]
    cloth: Cloth,
    /// When it was ordered.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    #[command(flatten)]
    how: How,
}

/// Give it another name. All that was said of it stays with it, and the old name still finds it.
#[derive(Debug, Args)]
pub struct Rename {
    /// Which rug.
    #[arg(value_name = "OLD")]
    name: String,
    /// Its name from now on.
    #[arg(value_name = "NEW")]
    now: String,
}

/// Say which stage it is in from now on, until you say another.
#[derive(Debug, Args)]
pub struct Stage {
    /// Which rug.
    name: String,
    /// The stage.
    #[arg(value_enum)]
    stage: StageName,
    /// From when on: 18:30, "yesterday 9:30", "26 Nov 2pm", "2 hours ago". Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum StageName {
    /// Lines around the shapes.
    Outline,
    /// Areas.
    Fill,
    /// Lettering and fine things.
    Detail,
    /// Pulled out and tufted anew.
    Rework,
    /// No stage any more.
    None,
}

impl StageName {
    const fn stage(self) -> Option<entries::Stage> {
        match self {
            Self::Outline => Some(entries::Stage::Outline),
            Self::Fill => Some(entries::Stage::Fill),
            Self::Detail => Some(entries::Stage::Detail),
            Self::Rework => Some(entries::Stage::Rework),
            Self::None => None,
        }
    }
}

/// Write down yarn that you weighed: taken for the rug, brought back, or only weighed. Without a colour: what is known.
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("moved").args(["out", "back", "left"]).requires("colour"))]
pub struct Yarn {
    /// Which rug.
    name: String,
    /// The colour, as you call it.
    #[arg(requires = "moved")]
    colour: Option<String>,
    /// Taken for it, for example 500g, 0.5kg or 18oz.
    #[arg(long, value_name = "WEIGHT", allow_hyphen_values = true)]
    out: Option<String>,
    /// Brought back from it.
    #[arg(long, value_name = "WEIGHT", allow_hyphen_values = true)]
    back: Option<String>,
    /// Still there with it.
    #[arg(long, value_name = "WEIGHT", allow_hyphen_values = true)]
    left: Option<String>,
    /// When it was weighed. Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// Write down what was bought for it.
#[derive(Debug, Args)]
pub struct Material {
    /// For which rug.
    name: String,
    /// What: yarn, cloth, glue.
    what: String,
    /// Its price, in your currency.
    #[arg(allow_hyphen_values = true)]
    amount: String,
    /// When it was used. Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
}

/// Everything that was ever said about it, corrected and taken back entries too.
#[derive(Debug, Args)]
pub struct History {
    /// Which rug.
    name: String,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// Take an entry back. It stays visible and counts no more.
#[derive(Debug, Args)]
pub struct TakeBack {
    /// Its number, as `needlehours rug history`, `needlehours job` and `needlehours rate history` show it.
    #[arg(allow_negative_numbers = true)]
    entry: i64,
    /// Why.
    #[arg(long, value_name = "WORDS", default_value = "")]
    because: String,
}

impl New {
    pub fn run(self, store: &mut impl Store, clock: &impl Clock) -> Result<(), Failure> {
        let at = dates::given(self.when.as_deref(), clock)?;
        let making = self.how.into();
        let size_mm = self.cloth.size_mm()?;
        let new = NewRug { name: self.name, size_mm, cloth_lot: self.cloth.cloth, at, making };
        let name = rug::order(store, clock, new)?;
        show::words(&view::rugs::rug::ordered(&name.0))
    }
}

impl Change {
    pub fn run(self, store: &mut impl Store, clock: &impl Clock) -> Result<(), Failure> {
        let at = dates::given(self.when.as_deref(), clock)?;
        let making = self.how.into();
        let size_mm = self.cloth.size_mm()?;
        let new = Correction { size_mm, cloth_lot: self.cloth.cloth, at, making };
        let name = commission::correct(store, clock, &self.name, new)?;
        show::words(&view::rugs::rug_book::corrected(&name.0))
    }
}

impl Rename {
    pub fn run(self, store: &mut impl Store, clock: &impl Clock) -> Result<(), Failure> {
        let renamed = rename::rename(store, clock, &self.name, &self.now)?;
        show::words(&view::rugs::rug_book::renamed(&renamed))
    }
}

impl Stage {
    pub fn run(self, store: &mut impl Store, clock: &impl Clock) -> Result<(), Failure> {
        let at = dates::given(self.when.as_deref(), clock)?;
        let outcome = commission::stage(store, clock, &self.name, self.stage.stage(), at)?;
        show::words(&view::rugs::rug_book::stage(&outcome, &clock.zone()))
    }
}

impl Yarn {
    pub fn run(self, store: &mut impl Store, clock: &impl Clock) -> Result<(), Failure> {
        let moved = match (&self.out, &self.back, &self.left) {
            (Some(weight), ..) => Some((YarnMove::Out, weight)),
            (_, Some(weight), _) => Some((YarnMove::Back, weight)),
            (.., Some(weight)) => Some((YarnMove::Left, weight)),
            _ => None,
        };
        if let (Some(colour), Some((moved, weight))) = (&self.colour, moved) {
            let at = dates::given(self.when.as_deref(), clock)?;
            let weighed = commission::weigh(store, clock, &self.name, colour, (moved, weight), at)?;
            return show::words(&view::rugs::rug_book::weighed(&weighed));
        }
        let sheet = sheet::sheet(store, clock, &self.name)?;
        show::report(&sheet.yarn, self.json, |yarn| view::rugs::progress::yarn(&sheet.ordered.rug, yarn))
    }
}

impl Material {
    pub fn run(self, store: &mut impl Store, clock: &impl Clock) -> Result<(), Failure> {
        let at = dates::given(self.when.as_deref(), clock)?;
        let used = commission::material(store, clock, &self.name, (&self.what, &self.amount), at)?;
        show::words(&view::rugs::rug_book::material(&used))
    }
}

impl History {
    pub fn run(self, store: &impl Store, clock: &impl Clock) -> Result<(), Failure> {
        let history = history::history(store, &self.name)?;
        show::report(&history, self.json, |history| view::rugs::rug_book::history(history, &clock.zone()))
    }
}

impl TakeBack {
    pub fn run(self, store: &mut impl Store, clock: &impl Clock) -> Result<ExitCode, Failure> {
        if ask::somebody_is_there()
            && let Some(goes) = history::goes_with(store, clock, self.entry)?
        {
            show::words(&view::rugs::rug_book::goes_with(&goes))?;
            let question = "Take it back? It can be entered again. [y yes, Enter no] ";
            let typed = ask::line(&mut stdin().lock(), &mut stdout(), question).unwrap_or_default();
            if !typed.eq_ignore_ascii_case("y") && !typed.eq_ignore_ascii_case("yes") {
                show::words("Nothing was changed.")?;
                return Ok(ExitCode::SUCCESS);
            }
            // The book may have grown while the question stood.
            store.read_anew();
        }
        let back = history::take_back(store, clock, self.entry, &self.because)?;
        show::words(&view::rugs::rug_book::taken_back(&back, &clock.zone()))?;
        Ok(ExitCode::SUCCESS)
    }
}

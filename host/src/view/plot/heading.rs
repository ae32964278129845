//! What stands above and below every picture: title, a few words on how to read it, marks and what they mean, and where the
//! numbers come from.

use plotters::style::text_anchor::HPos;

use super::pen::Pen;
use super::theme::{INK, MARGIN, PENCIL, RIGHT, Type, WIDTH};

/// At most so many lines of a title.
const TITLE_LINES: usize = 2;
/// Between a mark and its words, with the mark, in pixels.
const MARK: i32 = 30;
const GAP: i32 = 14;

/// The words around a picture.
#[derive(Clone, Debug)]
pub(super) struct Heading {
    title: Vec<String>,
    subtitle: Vec<String>,
    source: Vec<String>,
}

impl Heading {
    pub(super) fn new(title: &str, subtitle: &str, source: &str) -> Self {
        let room = RIGHT - MARGIN;
        let mut title = Type::Title.wrapped(title, room);
        title.truncate(TITLE_LINES);
        Self {
            title,
            subtitle: Type::Small.wrapped(subtitle, room),
            source: Type::Small.wrapped(source, room),
        }
    }

    /// Where the picture may begin.
    pub(super) fn top(&self) -> i32 {
        12 + lines(&self.title) * Type::Title.line() + lines(&self.subtitle) * Type::Small.line() + 14
    }

    /// How much room the source takes at the foot.
    pub(super) fn foot(&self) -> i32 {
        lines(&self.source) * Type::Small.line() + 24
    }

    pub(super) fn draw(&self, pen: &Pen<'_, '_>, height: i32) -> Result<(), String> {
        let mut y = 12;
        for line in &self.title {
            y += Type::Title.line();
            pen.text(line, (MARGIN, y - 5), Type::Title, INK, HPos::Left)?;
        }
        for line in &self.subtitle {
            y += Type::Small.line();
            pen.text(line, (MARGIN, y), Type::Small, PENCIL, HPos::Left)?;
        }
        let mut y = height - self.foot() + 10;
        for line in &self.source {
            y += Type::Small.line();
            pen.text(line, (MARGIN, y), Type::Small, PENCIL, HPos::Left)?;
        }
        Ok(())
    }
}

fn lines(of: &[String]) -> i32 {
    i32::try_from(of.len()).unwrap_or(i32::MAX)
}

/// Marks with their words, in as many lines as they take.
#[derive(Clone, Debug)]
pub(super) struct Legend<M> {
    items: Vec<(M, String, i32, i32)>,
}

impl<M: Copy> Legend<M> {
    pub(super) fn new(items: impl IntoIterator<Item = (M, String)>) -> Self {
        let (mut x, mut line) = (MARGIN, 0);
        let placed = items.into_iter().map(|(mark, words)| {
            let width = MARK + Type::Small.width_of(&words);
            if x > MARGIN && x + width > RIGHT {
                (x, line) = (MARGIN, line + 1);
            }
            let at = (x, line);
            x += width + GAP;
            (mark, words, at.0, at.1)
        });
        Self { items: placed.collect() }
    }

    pub(super) fn height(&self) -> i32 {
        self.items.last().map_or(0, |(_, _, _, line)| (line + 1) * LINE + 6)
    }

    /// Draws it; `mark` draws one in the box between two corners.
    pub(super) fn draw(
        &self,
        pen: &Pen<'_, '_>,
        top: i32,
        mut mark: impl FnMut(M, (i32, i32), (i32, i32)) -> Result<(), String>,
    ) -> Result<(), String> {
        for (kind, words, x, line) in &self.items {
            let y = top + line * LINE;
            mark(*kind, (*x, y + 2), (*x + MARK - 8, y + 18))?;
            pen.text(words, (*x + MARK, y + 15), Type::Small, INK, HPos::Left)?;
        }
        Ok(())
    }
}

const LINE: i32 = 24;

const _: () = assert!(WIDTH > 2 * MARGIN + MARK);

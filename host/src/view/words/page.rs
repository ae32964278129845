//! A sheet as a page that stands alone: no script, nothing loaded from anywhere, every text escaped by the template.

use std::fmt;

use askama::Template;
use askama::filters::{Escaper, Html};

use super::sheet::{Block, Section, Sheet};
use super::table::{Column, RowKind, Table};

/// Words longer than this, in letters, may be broken.
const LONG_WORD: usize = 16;

#[derive(Template)]
#[template(path = "words/page.html")]
struct Page<'sheet> {
    sheet: &'sheet Sheet,
    sections: String,
    linked: Option<&'sheet str>,
}

/// The sections of a sheet, marked up, for a page that frames them itself.
#[derive(Template)]
#[template(path = "words/sections.html")]
struct Sections<'sheet> {
    sections: &'sheet [Section],
}

impl Sections<'_> {
    /// How a cell is set: numbers to the right, and a word that is wider than its column may be broken; others stay whole.
    fn class(table: &Table, place: &usize, cell: &str) -> Option<&'static str> {
        if matches!(table.columns.get(*place), Some(Column::Numbers(_))) {
            return Some("number");
        }
        cell.split_whitespace().any(|word| word.chars().count() > LONG_WORD).then_some("long")
    }
}

/// Sections, marked up and escaped.
#[must_use]
pub fn html_of(sections: &[Section]) -> String {
    Sections { sections }.to_string()
}

impl Sheet {
    /// For a browser and a printer: the whole page, with its style in it.
    #[must_use]
    pub fn html(&self) -> String {
        self.page(None)
    }

    /// The same for a server that also serves [`Paper::css`](super::sheet::Paper::css), at this address.
    #[must_use]
    pub fn html_linked(&self, style: &str) -> String {
        self.page(Some(style))
    }

    fn page(&self, linked: Option<&str>) -> String {
        Page { sheet: self, sections: html_of(&self.sections), linked }.to_string()
    }
}

/// Escapes all text of a page. Letters that steer (but line breaks and tabs, which become blanks) and those that turn the
/// direction of writing around are shown as a replacement sign.
#[derive(Clone, Copy, Debug)]
pub struct Shown;

impl Escaper for Shown {
    fn write_escaped_str<W: fmt::Write>(&self, dest: W, text: &str) -> fmt::Result {
        let shown = text.chars().map(|letter| match letter {
            '\n' | '\t' => ' ',
            '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}' => '\u{FFFD}',
            letter if letter.is_control() => '\u{FFFD}',
            letter => letter,
        });
        Html.write_escaped_str(dest, &shown.collect::<String>())
    }
}

#[cfg(test)]
mod tests {
    use super::super::sheet::Paper;
    use super::*;

    fn escaped(text: &str) -> String {
        let mut shown = String::new();
        Shown.write_escaped_str(&mut shown, text).unwrap();
        shown
    }

    /// A sheet in which every text that can be the maker's says the same.
    fn full_of(text: &str) -> Sheet {
        let said = || text.to_owned();
        let mut table = Table::new(&[Column::Words("what"), Column::Numbers("amount")]);
        table.row_of(RowKind::Struck(said()), [said(), said()]);
        table.row_of(RowKind::Total, [said(), said()]);
        let blocks = vec![
            Block::Facts(vec![("what", said())]),
            Block::Text(said()),
            Block::Strong(said()),
            Block::Note(said()),
            Block::Warning(said()),
            Block::Head(said()),
            Block::Table(table),
        ];
        Sheet {
            title: said(),
            heading: said(),
            kind: "",
            paper: Paper::Sheet,
            sections: vec![Section::new("", blocks)],
            footer: said(),
        }
    }

    #[test]
    fn nothing_that_is_entered_can_become_a_tag() {
        // The five characters that OWASP's cheat sheet on cross-site scripting names for HTML and attribute values.
        assert_eq!(
            escaped(r#"<b a="1" c='2'>&amp;</b>"#),
            "&#60;b a=&#34;1&#34; c=&#39;2&#39;&#62;&#38;amp;&#60;/b&#62;"
        );
        let html = full_of("</title></style><script>\" onload='x").html();
        assert!(!html.contains("<script") && !html.contains("\" onload"), "{html}");
        assert_eq!(html.matches("&#60;script&#62;&#34; onload=&#39;x").count(), 14);
    }

    #[test]
    fn letters_that_steer_are_shown_as_such() {
        let steering = "a\u{0}b\u{1b}[2Jc\u{202E}d\ne";
        assert_eq!(escaped(steering), "a\u{FFFD}b\u{FFFD}[2Jc\u{FFFD}d e");
        let html = full_of(steering).html();
        assert!(!html.contains(['\u{0}', '\u{1b}', '\u{202E}']), "{html}");
        assert_eq!(html.matches("a\u{FFFD}b\u{FFFD}[2Jc\u{FFFD}d e").count(), 14);
    }
}

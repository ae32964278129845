//! Pages that stand alone: no script, nothing loaded from anywhere, and every text of the maker goes through [`escaped`].

use std::fmt::Write as _;

/// Text in which no letter can end a tag, an attribute or a character reference. Letters that steer (but line breaks and
/// tabs) and those that turn the direction of writing around become a replacement sign.
pub fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\n' | '\t' => safe.push(' '),
            '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}' => safe.push('\u{FFFD}'),
            letter if letter.is_control() => safe.push('\u{FFFD}'),
            letter => safe.push(letter),
        }
    }
    safe
}

/// A whole document of a title, a style of our own and a body that is markup already.
pub fn document(title: &str, style: &str, body: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" \
         content=\"width=device-width\">\n<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; \
         style-src 'unsafe-inline'\">\n<title>{}</title>\n<style>\n{style}</style>\n</head>\n<body>\n{body}</body>\n</html>\n",
        escaped(title)
    )
}

/// Adds markup.
pub fn add(body: &mut String, markup: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    if body.write_fmt(markup).is_err() {
        body.push('\n');
    }
}

/// Words longer than this, in letters, may be broken.
const LONG_WORD: usize = 16;

/// What is struck, and why.
#[derive(Clone, Debug)]
pub struct Struck {
    /// The correction, in words.
    pub because: String,
}

/// The page.
#[derive(Debug)]
pub struct Page {
    title: String,
    style: &'static str,
    body: String,
    numbers: Vec<bool>,
}

impl Page {
    /// A page with a title and a style of our own.
    pub fn new(title: &str, style: &'static str) -> Self {
        Self { title: title.to_owned(), style, body: String::new(), numbers: Vec::new() }
    }

    fn put(&mut self, markup: std::fmt::Arguments<'_>) {
        add(&mut self.body, markup);
    }

    /// A heading; an empty one is left out.
    pub fn heading(&mut self, level: u8, text: &str) {
        if !text.is_empty() {
            self.put(format_args!("<h{level}>{}</h{level}>\n", escaped(text)));
        }
    }

    /// A paragraph in small letters.
    pub fn note(&mut self, text: &str) {
        self.put(format_args!("<p class=\"note\">{}</p>\n", escaped(text)));
    }

    /// A paragraph in a frame.
    pub fn warning(&mut self, text: &str) {
        self.put(format_args!("<p class=\"warning\">{}</p>\n", escaped(text)));
    }

    /// The line that is copied from paper.
    pub fn head_line(&mut self, text: &str) {
        self.put(format_args!("<p class=\"head\">{}</p>\n", escaped(text)));
    }

    /// Begins a table of a kind of its own, which the style knows by its name.
    pub fn table_of(&mut self, class: &str, heads: &[&str]) {
        self.put(format_args!("<table class=\"{}\">\n", escaped(class)));
        self.heads(heads);
    }

    /// Begins a table; a head with `#` before it stands over numbers.
    pub fn table_start(&mut self, heads: &[&str]) {
        self.body.push_str("<table>\n");
        self.heads(heads);
    }

    fn heads(&mut self, heads: &[&str]) {
        self.numbers = heads.iter().map(|head| head.starts_with('#')).collect();
        self.body.push_str("<thead><tr>");
        for head in heads {
            let (class, head) = match head.strip_prefix('#') {
                Some(head) => (" class=\"number\"", head),
                None => ("", *head),
            };
            self.put(format_args!("<th scope=\"col\"{class}>{}</th>", escaped(head)));
        }
        self.body.push_str("</tr></thead>\n<tbody>\n");
    }

    /// A row.
    pub fn row(&mut self, cells: &[&str]) {
        self.row_struck(cells, None);
    }

    /// The last row of a sum, set apart from what it sums up.
    pub fn sum_row(&mut self, cells: &[&str]) {
        self.body.push_str("<tr class=\"sum\">");
        self.cells(cells, None);
    }

    /// A row, struck through where it counts no more, with the reason behind its last cell.
    pub fn row_struck(&mut self, cells: &[&str], struck: Option<&Struck>) {
        self.body.push_str("<tr>");
        self.cells(cells, struck);
    }

    fn cells(&mut self, cells: &[&str], struck: Option<&Struck>) {
        for (place, cell) in cells.iter().enumerate() {
            let is_number = self.numbers.get(place).copied().unwrap_or(false);
            // A word that is wider than its column may be broken; all others stay whole.
            let is_long = cell.split_whitespace().any(|word| word.chars().count() > LONG_WORD);
            let class = match (is_number, is_long) {
                (true, _) => " class=\"number\"",
                (false, true) => " class=\"long\"",
                (false, false) => "",
            };
            let cell = escaped(cell);
            let reason = match struck {
                Some(struck) if place + 1 == cells.len() => {
                    format!("<span class=\"correction\">{}</span>", escaped(&struck.because))
                }
                _ => String::new(),
            };
            match struck {
                Some(_) => self.put(format_args!("<td{class}><del>{cell}</del>{reason}</td>")),
                None => self.put(format_args!("<td{class}>{cell}</td>")),
            }
        }
        self.body.push_str("</tr>\n");
    }

    /// Ends the table.
    pub fn table_end(&mut self) {
        self.body.push_str("</tbody>\n</table>\n");
    }

    /// The whole page.
    pub fn finished(self) -> String {
        document(&self.title, self.style, &self.body)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_that_is_entered_can_become_a_tag() {
        // The five characters that OWASP's cheat sheet on cross-site scripting names for HTML and attribute values.
        assert_eq!(
            escaped(r#"<b a="1" c='2'>&amp;</b>"#),
            "&lt;b a=&quot;1&quot; c=&#39;2&#39;&gt;&amp;amp;&lt;/b&gt;"
        );
        let mut page = Page::new("</title><script>", "");
        page.heading(2, "<script>1");
        page.note("<script>2");
        page.table_start(&["<script>3"]);
        page.row_struck(&["<script>4"], Some(&Struck { because: "<script>5".to_owned() }));
        page.table_end();
        let html = page.finished();
        assert!(!html.contains("<script"), "{html}");
        assert_eq!(html.matches("&lt;script&gt;").count(), 6);
    }

    #[test]
    fn letters_that_steer_are_shown_as_such() {
        assert_eq!(escaped("a\u{0}b\u{1b}[2Jc\u{202E}d\ne"), "a\u{FFFD}b\u{FFFD}[2Jc\u{FFFD}d e");
    }
}

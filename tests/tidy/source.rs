//! The project's own source files, as text.

use std::path::{Path, PathBuf};

/// The project's root.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

/// One source file.
#[derive(Clone, Debug)]
pub struct SourceFile {
    /// Its path from the root, with slashes.
    pub path: String,
    text: String,
}

/// One test function of a file.
#[derive(Debug)]
pub struct TestFunction {
    /// Its name.
    pub name: String,
    body: String,
}

impl TestFunction {
    /// Whether anything in it can fail on purpose.
    pub fn can_fail(&self) -> bool {
        ["assert", "panic!", ".success()", ".failure()", "prop_assert", "expect_", "check_", "unwrap_err"]
            .iter()
            .any(|word| self.body.contains(word))
    }
}

impl SourceFile {
    pub fn text(&self) -> &str {
        &self.text
    }

    pub fn lines(&self) -> impl Iterator<Item = &str> {
        self.text.lines()
    }

    /// Its test functions: from the attribute to the line on which the braces close.
    pub fn tests(&self) -> Vec<TestFunction> {
        let lines: Vec<&str> = self.text.lines().collect();
        let is_attribute = |line: &str| ["#[test]", "#[rstest]"].contains(&line.trim());
        lines
            .iter()
            .enumerate()
            .filter(|(_, line)| is_attribute(line))
            .filter_map(|(number, _)| {
                let start = (number..lines.len()).find(|at| lines[*at].trim_start().starts_with("fn "))?;
                let indent = lines[start].len() - lines[start].trim_start().len();
                let end = (start..lines.len())
                    .find(|at| lines[*at].trim() == "}" && lines[*at].len() == indent + 1)?;
                let name = lines[start].trim_start().trim_start_matches("fn ").split('(').next()?.to_owned();
                Some(TestFunction { name, body: lines[start..=end].join("\n") })
            })
            .collect()
    }
}

/// Rust files below a folder, given from the root.
pub fn rust_sources(below: &str) -> Vec<SourceFile> {
    sources(&["rs"]).into_iter().filter(|file| file.path.starts_with(below)).collect()
}

/// All files of ours with one of these endings.
pub fn sources(endings: &[&str]) -> Vec<SourceFile> {
    let mut found = Vec::new();
    for folder in ["shared-types", "firmware", "host", "tests"] {
        collect(&root().join(folder), endings, &mut found);
    }
    found
}

fn collect(folder: &Path, endings: &[&str], found: &mut Vec<SourceFile>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap();
        if path.is_dir() {
            if !["target", "node_modules"].contains(&name) {
                collect(&path, endings, found);
            }
        } else if path.extension().is_some_and(|end| endings.iter().any(|wanted| end == *wanted)) {
            let text = std::fs::read_to_string(&path).unwrap();
            let path = path.strip_prefix(root()).unwrap().to_str().unwrap().replace('\\', "/");
            found.push(SourceFile { path, text });
        }
    }
}

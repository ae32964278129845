//! Every relative link of the manual leads somewhere, and every picture is shown.

use std::fs;
use std::path::Path;

use crate::page::{folder, pages};

/// The targets of links and pictures, without those on the web.
fn targets(text: &str) -> Vec<&str> {
    let behind = text.split("](").skip(1).filter_map(|rest| rest.split(')').next());
    behind.filter(|target| !target.contains("://")).collect()
}

/// The name by which a heading is linked to: small letters, blanks as hyphens, no other signs.
fn anchor(heading: &str) -> String {
    let kept = heading.trim().chars().filter(|c| c.is_alphanumeric() || [' ', '-', '_'].contains(c));
    kept.map(|c| if c == ' ' { '-' } else { c.to_ascii_lowercase() }).collect()
}

/// Why a target cannot be followed from a page in the folder.
fn broken(page: &str, target: &str) -> Option<String> {
    let (file, heading) =
        target.split_once('#').map_or((target, None), |(file, heading)| (file, Some(heading)));
    let path = folder().join(if file.is_empty() { page } else { file });
    if !path.exists() {
        return Some(format!("{page}: there is no {target}"));
    }
    let has_heading = |path: &Path, wanted: &str| {
        let text = fs::read_to_string(path).unwrap();
        text.lines()
            .filter(|line| line.starts_with('#'))
            .any(|line| anchor(line.trim_start_matches('#')) == wanted)
    };
    heading
        .filter(|heading| !has_heading(&path, heading))
        .map(|_| format!("{page}: {target} names a heading that is not there"))
}

#[test]
fn every_link_and_picture_of_the_manual_is_there() {
    let pages = pages();
    let wrong: Vec<String> = pages
        .iter()
        .flat_map(|(page, text)| targets(text).into_iter().filter_map(move |target| broken(page, target)))
        .collect();
    assert_eq!(wrong, Vec::<String>::new());
    assert!(
        broken("README.md", "no-such-page.md").is_some() && broken("README.md", "care.md#nowhere").is_some()
    );
}

#[test]
fn the_contents_lead_to_every_page_and_every_picture_is_shown() {
    let pages = pages();
    let all: String = pages.iter().map(|(_, text)| text.as_str()).collect();
    let contents = &pages.iter().find(|(name, _)| name == "README.md").unwrap().1;
    let listed = targets(contents);
    for (name, _) in pages.iter().filter(|(name, _)| name != "README.md") {
        assert!(listed.contains(&name.as_str()), "the contents do not lead to {name}");
    }
    for picture in fs::read_dir(folder().join("pictures")).unwrap() {
        let name = format!("pictures/{}", picture.unwrap().file_name().display());
        assert!(targets(&all).contains(&name.as_str()), "{name} is shown nowhere");
    }
}

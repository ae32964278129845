//! Lists in sentences: joined names, and what an error offers instead of what was asked for.

/// How many names are listed at the most.
const MOST_NAMES: usize = 10;

/// "Fox", "Fox and Bear", "Fox, Bear and Owl".
#[must_use]
pub fn all_of(words: &[String]) -> String {
    joined(words, "and")
}

/// "Fox", "Fox or Bear", "Fox, Bear or Owl".
#[must_use]
pub fn one_of(words: &[String]) -> String {
    joined(words, "or")
}

fn joined(words: &[String], last_word: &str) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} {last_word} {last}", first.join(", ")),
    }
}

/// "Did you mean oiling or belt?" where something is near, else what there is, cut after ten names.
#[must_use]
pub fn meant(nearest: &[String], known: &[String], there_is: &str) -> String {
    if !nearest.is_empty() {
        return format!("Did you mean {}?", one_of(nearest));
    }
    match known.get(MOST_NAMES..) {
        Some(more @ [_, ..]) => {
            let listed: Vec<&str> = known.iter().take(MOST_NAMES).map(String::as_str).collect();
            format!("{there_is} {} and {} more.", listed.join(", "), more.len())
        }
        _ => format!("{there_is} {}.", all_of(known)),
    }
}

/// "There is only 1 (Blue)." or "There are 1 (Blue), 2 (Red)."
#[must_use]
pub fn there_are(known: &[String]) -> String {
    let begin = if known.len() == 1 { "There is only" } else { "There are" };
    format!("{begin} {}.", known.join(", "))
}

/// Each as "1 (Blue)".
#[must_use]
pub fn numbered<T>(known: &[(T, String)], number: impl Fn(&T) -> u32) -> Vec<String> {
    known.iter().map(|(tag, name)| format!("{} ({name})", number(tag))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_joined_as_in_a_sentence() {
        let names = ["Fox", "Bear", "Owl"].map(str::to_owned);
        assert_eq!(all_of(&names[..0]), "");
        assert_eq!(all_of(&names[..1]), "Fox");
        assert_eq!(all_of(&names[..2]), "Fox and Bear");
        assert_eq!(all_of(&names), "Fox, Bear and Owl");
        assert_eq!(one_of(&names), "Fox, Bear or Owl");
    }

    fn names(count: usize) -> Vec<String> {
        (1..=count).map(|number| format!("Rug {number}")).collect()
    }

    #[test]
    fn only_what_is_near_is_guessed_and_else_there_is_a_list() {
        assert_eq!(meant(&names(2), &names(9), "You have"), "Did you mean Rug 1 or Rug 2?");
        assert_eq!(meant(&[], &names(1), "You have"), "You have Rug 1.");
        assert_eq!(meant(&[], &names(3), "You have"), "You have Rug 1, Rug 2 and Rug 3.");
    }

    #[test]
    fn a_long_list_is_cut() {
        assert!(meant(&[], &names(10), "You have").ends_with("Rug 9 and Rug 10."));
        assert!(meant(&[], &names(12), "You have").ends_with("Rug 9, Rug 10 and 2 more."));
    }
}

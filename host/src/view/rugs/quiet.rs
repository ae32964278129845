//! A question about days of which nothing was noted.

use crate::app::typed::counting::how_to_count;
use crate::view::words::{all_of, count};
use host_core::rugs::quiet::Quiet;

/// The question, on one line.
#[must_use]
pub fn quiet(quiet: &Quiet, is_without_logger: bool) -> String {
    let names: Vec<String> = quiet.rugs.iter().map(|rug| rug.0.clone()).collect();
    format!(
        "Nothing was noted for {} while {} {} on the frame. Did you work? {}",
        count(quiet.days, "day", "days"),
        all_of(&names),
        if names.len() == 1 { "is" } else { "are" },
        how_to_count(is_without_logger)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::entries::RugName;
    use shared_types::UtcMillis;

    #[test]
    fn it_names_the_rugs_the_days_and_what_to_type() {
        let rugs = |names: &[&str]| names.iter().map(|name| RugName((*name).to_owned())).collect();
        assert_eq!(
            quiet(&Quiet { since: UtcMillis(0), days: 9, rugs: rugs(&["Fox"]) }, true),
            "Nothing was noted for 9 days while Fox is on the frame. Did you work? needlehours worked 1h40"
        );
        let two = quiet(&Quiet { since: UtcMillis(0), days: 7, rugs: rugs(&["Fox", "Bear"]) }, false);
        assert!(two.contains("Fox and Bear are on the frame") && two.ends_with("needlehours pull"), "{two}");
    }
}

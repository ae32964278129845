//! Numbers on the command line of the programs beside the tests.

/// The number behind an option such as `--runs`, or `otherwise` where it is not given; none where it is no number.
#[must_use]
pub fn number_behind(option: &str, otherwise: u64) -> Option<u64> {
    let mut given = std::env::args().skip_while(|argument| argument != option);
    match given.next() {
        Some(_) => given.next()?.parse().ok(),
        None => Some(otherwise),
    }
}

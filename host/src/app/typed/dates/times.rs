//! Times of day as they are typed: `18:30`, `18.30`, `18h`, `18h30`, `2pm`, `2:30 pm`, `9:30:15`, with `at` before them or
//! not.

use jiff::civil::Time;

/// The time that small letters say; none where they say none.
///
/// Minutes of one digit are refused: 9:3 may have been meant as 9:30. So is a bare number: 12 may be a day.
pub fn read(plain: &str) -> Option<Time> {
    let text = plain.strip_prefix("at ").unwrap_or(plain).trim();
    let half =
        [("am", 0), ("pm", 12)].into_iter().find_map(|(word, hours)| Some((text.strip_suffix(word)?, hours)));
    if let Some((typed, hours)) = half {
        let typed = typed.trim_end();
        let Parts { hour, minute, second } =
            if typed.contains([':', '.']) { parts(typed)? } else { Parts::of(typed, "00", "00")? };
        // Noon is 12 pm, midnight 12 am.
        return (1..=12).contains(&hour).then(|| Time::new(hour % 12 + hours, minute, second, 0).ok())?;
    }
    let Parts { hour, minute, second } = parts(text)?;
    Time::new(hour, minute, second, 0).ok()
}

struct Parts {
    hour: i8,
    minute: i8,
    second: i8,
}

impl Parts {
    fn of(hour: &str, minute: &str, second: &str) -> Option<Self> {
        let are_two = minute.len() == 2 && second.len() == 2 && (1..=2).contains(&hour.len());
        // A sign before a number is read as part of it otherwise.
        let are_digits =
            [hour, minute, second].iter().all(|part| part.bytes().all(|letter| letter.is_ascii_digit()));
        let of = |part: &str| part.parse::<i8>().ok();
        (are_two && are_digits)
            .then(|| Some(Self { hour: of(hour)?, minute: of(minute)?, second: of(second)? }))?
    }
}

fn parts(text: &str) -> Option<Parts> {
    if let Some((hour, minute)) = text.split_once('h').or_else(|| text.split_once('.')) {
        let is_whole = minute.is_empty() && text.ends_with('h');
        return Parts::of(hour, if is_whole { "00" } else { minute }, "00");
    }
    let (hour, behind) = text.split_once(':')?;
    let (minute, second) = behind.split_once(':').unwrap_or((behind, "00"));
    Parts::of(hour, minute, second)
}

//! Lengths of time, weights and pile heights as the maker types them, each with its unit.

use super::error::RequestError;
use super::words::{number, refused};

/// Milligrams in a gram.
const MG_PER_G: f64 = 1_000.0;
/// An avoirdupois ounce is 28.349523125 g exactly (international yard and pound agreement, 1959).
const MG_PER_OZ: f64 = 28_349.523_125;
/// The heaviest that yarn for one rug is believed to be, in kilograms.
const MOST_KG: f64 = 1_000.0;
/// An inch is 25.4 mm exactly (international yard and pound agreement, 1959).
const MM_PER_IN: f64 = 25.4;
/// The longest side of a rug, in millimetres.
const LONGEST_SIDE_MM: u32 = 20_000;
/// No side of a rug is read beyond this many units.
const MOST_SIDE_MM: f64 = 1_000_000.0;
/// The longest time that is believed, in hours.
const MOST_HOURS: f64 = 744.0;

/// A length of time in milliseconds: `40min`, `1h30`, `1 h 30 min`, `1.5h`, `90s`; a bare number means minutes.
///
/// # Errors
/// When it is none, zero, or longer than 31 days.
pub fn lasting_ms(text: &str) -> Result<u64, RequestError> {
    let range = "a length of time like 40min, 1h30 or 2.5h, up to 31 days";
    let refused = || refused("the time", range, text);
    let mut rest = text.trim().to_lowercase().replace(',', ".");
    let mut seconds = 0.0;
    let mut unit_before: Option<f64> = None;
    while !rest.is_empty() {
        let digits =
            rest.find(|letter: char| !letter.is_ascii_digit() && letter != '.').unwrap_or(rest.len());
        let (typed, behind) = rest.split_at(digits);
        let value = number("the time", range, (0.0, MOST_HOURS * 3_600.0), typed).map_err(|_| refused())?;
        let behind = behind.trim_start();
        let letters = behind.find(|letter: char| !letter.is_alphabetic()).unwrap_or(behind.len());
        let (unit, next) = behind.split_at(letters);
        let unit = match (unit, unit_before) {
            ("h" | "hour" | "hours", None) => 3_600.0,
            ("min" | "m" | "minute" | "minutes", None | Some(3_600.0)) => 60.0,
            ("s" | "sec" | "second" | "seconds", _) => 1.0,
            // "1h30" and a bare "40".
            ("", None | Some(3_600.0)) => 60.0,
            _ => return Err(refused()),
        };
        if unit_before.is_some_and(|before| before <= unit) {
            return Err(refused());
        }
        seconds += value * unit;
        unit_before = Some(unit);
        rest = next.trim_start().to_owned();
    }
    let ms = whole(seconds * 1_000.0);
    if unit_before.is_none() || ms == 0 || seconds > MOST_HOURS * 3_600.0 { Err(refused()) } else { Ok(ms) }
}

/// A place of the knob, per mille of its travel, from per cent: `60` or `60%`.
///
/// # Errors
/// When it is no number from 0 to 100.
pub fn per_mille(text: &str) -> Result<u16, RequestError> {
    let bare = text.trim().trim_end_matches('%').trim_end().replace(',', ".");
    let percent = number("the knob", "0 to 100 per cent of its travel", (0.0, 100.0), &bare)
        .map_err(|_| refused("the knob", "0 to 100 per cent of its travel", text))?;
    Ok(u16::try_from(whole(percent * 10.0)).unwrap_or(u16::MAX))
}

/// A weight in milligrams: `500g`, `0.5kg`, `18oz`; a bare number means grams.
///
/// # Errors
/// When it is none, below zero, or more than 1,000 kg.
pub fn weight_mg(text: &str) -> Result<u64, RequestError> {
    let range = "a weight like 500g, 0.5kg or 18oz, up to 1000 kg";
    let (typed, unit) = split_unit(text);
    let refused = || refused("the weight", range, text);
    let mg_per_unit = match unit.as_str() {
        "" | "g" => MG_PER_G,
        "kg" => MG_PER_G * 1_000.0,
        "oz" => MG_PER_OZ,
        _ => return Err(refused()),
    };
    let mg = number("the weight", range, (0.0, f64::MAX), &typed).map_err(|_| refused())? * mg_per_unit;
    if mg > MOST_KG * MG_PER_G * 1_000.0 { Err(refused()) } else { Ok(whole(mg)) }
}

/// A pile height in tenths of a millimetre: `12mm`, `1.2cm`, `0.5in`; a bare number means millimetres.
///
/// # Errors
/// When it is none, or not 1 to 100 mm.
pub fn pile_tenths_mm(text: &str) -> Result<u32, RequestError> {
    let is_a_kind = ["cut", "loop", "both"].contains(&text.trim().to_lowercase().as_str());
    let range = match is_a_kind {
        true => "1 to 100 mm, like 12mm or 0.5in (the kind of pile goes with --style)",
        false => "1 to 100 mm, like 12mm or 0.5in",
    };
    let refused = || refused("the pile height", range, text);
    let (typed, unit) = split_unit(text);
    let mm_per_unit = match unit.as_str() {
        "" | "mm" => 1.0,
        "cm" => 10.0,
        "in" | "\"" => MM_PER_IN,
        _ => return Err(refused()),
    };
    let mm = number("the pile height", range, (0.0, f64::MAX), &typed).map_err(|_| refused())? * mm_per_unit;
    let tenths = if mm > 100.0 { return Err(refused()) } else { whole(mm * 10.0) };
    u32::try_from(tenths).ok().filter(|tenths| *tenths >= 10).ok_or_else(refused)
}

/// Width and height in millimetres: `80x120cm`, `80.5 x 120 cm`, `0.8x1.2m`, `800x1200mm`, `6x6in`; bare numbers mean
/// centimetres. Rounded to the nearest millimetre.
///
/// # Errors
/// When it is no size, or a side is below zero or beyond 1 km.
pub fn size_mm(text: &str) -> Result<(u32, u32), RequestError> {
    let (what, range) = ("the size", "width and height like 80x120cm, 0.8x1.2m or 6x6in");
    let refused = || refused(what, range, text);
    let lower = text.trim().to_lowercase();
    let units = [
        ("mm", 1.0),
        ("cm", 10.0),
        ("inches", MM_PER_IN),
        ("in", MM_PER_IN),
        ("\"", MM_PER_IN),
        ("m", 1_000.0),
    ];
    let (numbers, mm_per_unit) = units
        .iter()
        .find_map(|(unit, mm)| Some((lower.strip_suffix(unit)?, *mm)))
        .unwrap_or((lower.as_str(), 10.0));
    let (width, height) = numbers.split_once(['x', '×']).ok_or_else(refused)?;
    let side = |typed: &str| {
        let typed = typed.trim();
        let is_plain = typed.starts_with(|letter: char| letter.is_ascii_digit())
            && typed.chars().all(|letter| letter.is_ascii_digit() || letter == '.');
        let mm = number(what, range, (0.0, MOST_SIDE_MM), typed).map(|units| whole(units * mm_per_unit));
        mm.ok().filter(|_| is_plain).and_then(|mm| u32::try_from(mm).ok()).ok_or_else(refused)
    };
    Ok((side(width)?, side(height)?))
}

/// The number and, in small letters, the unit behind it.
fn split_unit(text: &str) -> (String, String) {
    let lower = text.trim().to_lowercase();
    let is_unit = |letter: char| letter.is_alphabetic() || letter == '"';
    let number = lower.trim_end_matches(is_unit);
    let unit = lower.get(number.len()..).unwrap_or_default().to_owned();
    (number.trim_end().to_owned(), unit)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "not below zero and far below 2^53 by the checks of the callers; a cast stops at the ends"
)]
fn whole(value: f64) -> u64 {
    value.round() as u64
}

/// Whether both sides of a rug can be.
///
/// # Errors
/// When one is zero or beyond 20 m.
pub fn checked_sides(size_mm: Option<(u32, u32)>) -> Result<(), RequestError> {
    for side in size_mm.into_iter().flat_map(|(width, height)| [width, height]) {
        if !(1..=LONGEST_SIDE_MM).contains(&side) {
            let given = format!("{side} mm");
            return Err(RequestError::OutOfRange {
                what: "each side of the rug",
                range: "1 mm to 20 m",
                given,
            });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_read_in_every_usual_way() {
        for (text, ms) in [
            ("40min", 2_400_000),
            ("40", 2_400_000),
            ("1h30", 5_400_000),
            ("1 h 30 min", 5_400_000),
            ("1.5h", 5_400_000),
            ("90s", 90_000),
            ("1h 2min 3s", 3_723_000),
            ("24 hours", 86_400_000),
            ("744h", 2_678_400_000),
        ] {
            assert_eq!(lasting_ms(text).ok(), Some(ms), "{text}");
        }
        for text in [
            "", "0", "-5min", "min", "1h2h", "30min 1h", "5 days", "745h", "NaN", "inf", "1e9h", "1h30 20",
            "4\u{7f}0",
        ] {
            assert!(lasting_ms(text).is_err(), "{text}");
        }
    }

    #[test]
    fn weights_are_read_in_grams_kilograms_and_ounces() {
        for (text, mg) in [
            ("500g", 500_000),
            ("500", 500_000),
            ("0.5 kg", 500_000),
            ("1oz", 28_350),
            ("0", 0),
            ("1000kg", 1_000_000_000),
        ] {
            assert_eq!(weight_mg(text).ok(), Some(mg), "{text}");
        }
        for text in ["", "-1g", "heavy", "5lb", "1001kg", "NaN", "1e99"] {
            assert!(weight_mg(text).is_err(), "{text}");
        }
    }

    #[test]
    fn pile_heights_are_read_in_millimetres_centimetres_and_inches() {
        for (text, tenths) in
            [("12mm", 120), ("12", 120), ("1.2 cm", 120), ("0.5in", 127), ("1", 10), ("100", 1_000)]
        {
            assert_eq!(pile_tenths_mm(text).ok(), Some(tenths), "{text}");
        }
        for text in ["", "0", "0.5", "-12", "101mm", "5in", "high", "inf"] {
            assert!(pile_tenths_mm(text).is_err(), "{text}");
        }
    }

    #[test]
    fn sizes_are_read_in_every_usual_way() {
        // An inch is 25.4 mm: six are 152.4, a foot and a half are 457.2, half an inch 12.7.
        for (text, mm) in [
            ("80x120cm", (800, 1_200)),
            ("80x120", (800, 1_200)),
            (" 80 X 120 cm ", (800, 1_200)),
            ("0.8x1.2m", (800, 1_200)),
            ("800×1200mm", (800, 1_200)),
            ("80.5x120cm", (805, 1_200)),
            ("6x6in", (152, 152)),
            ("18 x 6 inches", (457, 152)),
            ("0.5x1\"", (13, 25)),
            ("0x5cm", (0, 50)),
        ] {
            assert_eq!(size_mm(text).ok(), Some(mm), "{text}");
        }
        for text in [
            "",
            "big",
            "80",
            "80x",
            "x120cm",
            "-80x120cm",
            "80x-120cm",
            "80x120yd",
            "1e3x5cm",
            "80,5x120cm",
            "9999999x1m",
            "6in",
            "axbin",
            "1x2x3",
        ] {
            assert!(size_mm(text).is_err_and(|why| why.to_string().contains("80x120cm")), "{text}");
        }
        assert!(size_mm("80x-120cm").is_err_and(|why| why.to_string().ends_with("which is below zero")));
    }
}

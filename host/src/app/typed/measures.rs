//! Lengths of time, weights and pile heights as the maker types them, each with its unit.

use super::decimals::whole;
use super::error::RequestError;
use super::lasting;
use super::words::{decimal, per_cent, refused};

/// Milligrams in a gram.
const MG_PER_G: f64 = 1_000.0;
/// An avoirdupois ounce is 28.349523125 g exactly (international yard and pound agreement, 1959).
const MG_PER_OZ: f64 = 28_349.523_125;
/// The heaviest that yarn for one rug is believed to be, in kilograms.
const MOST_KG: f64 = 1_000.0;
/// An inch is 25.4 mm exactly (international yard and pound agreement, 1959).
const MM_PER_IN: f64 = 25.4;
/// A foot is twelve inches.
const MM_PER_FT: f64 = 12.0 * MM_PER_IN;
/// The longest side of a rug, in millimetres.
const LONGEST_SIDE_MM: u32 = 20_000;
/// No side of a rug is read beyond this many units.
const MOST_SIDE_UNITS: f64 = 1_000_000.0;
/// A length of time in milliseconds: `40min`, `1h40`, `1:40`, `1 hour 40 minutes`, `1.5h`, `1,5 h`, `90s`; a bare number means
/// minutes.
///
/// # Errors
/// When it is none, zero, or longer than 31 days.
pub fn lasting_ms(text: &str) -> Result<u64, RequestError> {
    let range = "a length of time like 40min, 1h40, 1:40 or 2.5h, up to 31 days";
    lasting::ms(text).ok_or_else(|| refused("the time", range, text))
}

/// A place of the knob, per mille of its travel, from per cent: `60` or `60%`.
///
/// # Errors
/// When it is no number from 0 to 100.
pub fn per_mille(text: &str) -> Result<u16, RequestError> {
    let percent = per_cent("the knob", "0 to 100 per cent of its travel", (0.0, 100.0), text)?;
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
    let mg = decimal(&typed, refused)? * mg_per_unit;
    if !(0.0..=MOST_KG * MG_PER_G * 1_000.0).contains(&mg) { Err(refused()) } else { Ok(whole(mg)) }
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
    let mm = decimal(&typed, refused)? * mm_per_unit;
    let tenths = if !(0.0..=100.0).contains(&mm) { return Err(refused()) } else { whole(mm * 10.0) };
    u32::try_from(tenths).ok().filter(|tenths| *tenths >= 10).ok_or_else(refused)
}

/// Width and height in millimetres: `80x120cm`, `80,5 x 120 cm`, `0.8x1.2m`, `36x48in`, `36in x 48in`, `3ft x 4ft`; bare
/// numbers mean centimetres, and one unit is that of both. Rounded to the nearest millimetre.
///
/// # Errors
/// When it is no size, or a side is below zero or beyond 1 km.
pub fn size_mm(text: &str) -> Result<(u32, u32), RequestError> {
    let range = "width and height like 80x120cm, 0.8x1.2m, 36x48in or 3x4ft";
    let refused = || refused("the size", range, text);
    let lower = text.trim().to_lowercase();
    let (width, height) = lower.split_once(['x', '×']).ok_or_else(refused)?;
    let [(width, of_width), (height, of_height)] = [width, height].map(side_and_unit);
    let mm_per_unit = of_height.or(of_width).unwrap_or(10.0);
    // "36in x 48" leaves open what the 48 are.
    if of_width.is_some() && of_height.is_none() {
        return Err(refused());
    }
    let side = |typed: &str, mm_per_unit: f64| {
        // A second "x", a sign or an exponent is a slip.
        let is_plain = |letter: char| letter.is_ascii_digit() || matches!(letter, '.' | ',');
        if !typed.starts_with(|letter: char| letter.is_ascii_digit()) || !typed.chars().all(is_plain) {
            return Err(refused());
        }
        let units = Some(decimal(typed, refused)?).filter(|units| *units <= MOST_SIDE_UNITS);
        let mm = units.map(|units| whole(units * mm_per_unit)).and_then(|mm| u32::try_from(mm).ok());
        mm.ok_or_else(refused)
    };
    Ok((side(width, of_width.unwrap_or(mm_per_unit))?, side(height, mm_per_unit)?))
}

/// A length in millimetres: `150cm`, `1.5m`, `60in`; a bare number means centimetres.
///
/// # Errors
/// When it is none, below the least, or beyond 20 m.
pub fn length_mm(
    what: &'static str,
    range: &'static str,
    least_mm: u32,
    text: &str,
) -> Result<u32, RequestError> {
    let refused = || refused(what, range, text);
    let lower = text.trim().to_lowercase();
    let (typed, unit) = side_and_unit(&lower);
    let mm = decimal(typed, refused)? * unit.unwrap_or(10.0);
    let longest = f64::from(LONGEST_SIDE_MM);
    let mm = if (0.0..=longest).contains(&mm) { u32::try_from(whole(mm)).ok() } else { None };
    mm.filter(|mm| *mm >= least_mm).ok_or_else(refused)
}

/// The number of one side, and how many millimetres its unit has, where it has one.
fn side_and_unit(typed: &str) -> (&str, Option<f64>) {
    const UNITS: [(&str, f64); 10] = [
        ("mm", 1.0),
        ("cm", 10.0),
        ("inches", MM_PER_IN),
        ("inch", MM_PER_IN),
        ("in", MM_PER_IN),
        ("\"", MM_PER_IN),
        ("feet", MM_PER_FT),
        ("ft", MM_PER_FT),
        ("'", MM_PER_FT),
        ("m", 1_000.0),
    ];
    let typed = typed.trim();
    let found = UNITS.iter().find_map(|(unit, mm)| Some((typed.strip_suffix(unit)?, *mm)));
    found.map_or((typed, None), |(number, mm)| (number.trim_end(), Some(mm)))
}

/// The number and, in small letters, the unit behind it.
fn split_unit(text: &str) -> (String, String) {
    let lower = text.trim().to_lowercase();
    let is_unit = |letter: char| letter.is_alphabetic() || letter == '"';
    let number = lower.trim_end_matches(is_unit);
    let unit = lower.get(number.len()..).unwrap_or_default().to_owned();
    (number.trim_end().to_owned(), unit)
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
            // An hour and forty minutes are a hundred minutes.
            ("1h40", 6_000_000),
            ("1h 40", 6_000_000),
            ("1:40", 6_000_000),
            ("01:40", 6_000_000),
            ("1 hour 40 minutes", 6_000_000),
            ("0:05", 300_000),
            ("90", 5_400_000),
            ("90 min", 5_400_000),
            ("1,5 h", 5_400_000),
            ("1,25H", 4_500_000),
            ("2 hrs 5 mins", 7_500_000),
            ("744:00", 2_678_400_000),
        ] {
            assert_eq!(lasting_ms(text).ok(), Some(ms), "{text}");
        }
        for text in [
            "",
            "0",
            "-5min",
            "min",
            "1h2h",
            "30min 1h",
            "5 days",
            "745h",
            "NaN",
            "inf",
            "1e9h",
            "1h30 20",
            "4\u{7f}0",
            "1:4",
            "1:60",
            "0:00",
            "745:00",
            "1:40:00",
            ":40",
            "1:",
            "-1:40",
            "1:+4",
            "1h:40",
            "1,500 min",
            "1h,30",
            "1,2,3h",
            "1.5.2h",
            ",5h",
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
            ("0,5 kg", 500_000),
            ("2,25g", 2_250),
        ] {
            assert_eq!(weight_mg(text).ok(), Some(mg), "{text}");
        }
        for text in ["", "-1g", "heavy", "5lb", "1001kg", "NaN", "1e99", "1,500g", "5,", ",5kg", "1,2,3"] {
            assert!(weight_mg(text).is_err(), "{text}");
        }
    }

    #[test]
    fn pile_heights_are_read_in_millimetres_centimetres_and_inches() {
        for (text, tenths) in [
            ("12mm", 120),
            ("12", 120),
            ("1.2 cm", 120),
            ("0.5in", 127),
            ("1,2 cm", 120),
            ("1", 10),
            ("100", 1_000),
        ] {
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
            // Three feet are 914.4 mm, four 1,219.2; 36 and 48 inches are the same.
            ("36x48in", (914, 1_219)),
            ("36 x 48 in", (914, 1_219)),
            ("36in x 48in", (914, 1_219)),
            ("36\" x 48\"", (914, 1_219)),
            ("3ft x 4ft", (914, 1_219)),
            ("3x4 feet", (914, 1_219)),
            ("3' x 4'", (914, 1_219)),
            ("80,5x120cm", (805, 1_200)),
            ("1m x 1,5m", (1_000, 1_500)),
            ("1m x 150cm", (1_000, 1_500)),
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
            "80,x120cm",
            "36in x 48",
            "3ft6 x 4ft",
            "36xin",
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

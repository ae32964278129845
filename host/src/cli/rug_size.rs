//! Sizes as the maker writes them: `80x120cm`, `80.5 x 120 cm`, `0.8x1.2m`, `800x1200mm`. Without a unit:
//! centimetres.

/// Width and height in millimetres.
///
/// # Errors
/// In words, when it is no size.
pub fn parse(text: &str) -> Result<(u32, u32), String> {
    let unclear = || format!("\"{text}\" is no size; write it as 80x120cm");
    let lower = text.trim().to_lowercase();
    let (numbers, mm_per_unit) = if let Some(numbers) = lower.strip_suffix("mm") {
        (numbers, 1)
    } else if let Some(numbers) = lower.strip_suffix("cm") {
        (numbers, 10)
    } else if let Some(numbers) = lower.strip_suffix('m') {
        (numbers, 1_000)
    } else {
        (lower.as_str(), 10)
    };
    let (width, height) = numbers.split_once(['x', '×']).ok_or_else(unclear)?;
    let side = |side: &str| millimetres(side.trim(), mm_per_unit).ok_or_else(unclear);
    Ok((side(width)?, side(height)?))
}

/// A decimal number of units as whole millimetres, rounded down.
fn millimetres(number: &str, mm_per_unit: u32) -> Option<u32> {
    let (whole, fraction) = number.split_once('.').unwrap_or((number, "0"));
    let digits =
        |text: &str| !text.is_empty() && text.len() <= 6 && text.bytes().all(|byte| byte.is_ascii_digit());
    if !digits(whole) || !digits(fraction) {
        return None;
    }
    let places = u32::try_from(fraction.len()).ok()?;
    let whole: u32 = whole.parse().ok()?;
    let fraction: u32 = fraction.parse().ok()?;
    whole.checked_mul(mm_per_unit)?.checked_add(fraction * mm_per_unit / 10_u32.pow(places))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_usual_way_of_writing_a_size_is_read() {
        for text in ["80x120cm", "80x120", " 80 X 120 cm ", "0.8x1.2m", "800×1200mm"] {
            assert_eq!(parse(text), Ok((800, 1_200)), "{text}");
        }
        assert_eq!(parse("80.5x120cm"), Ok((805, 1_200)));
    }

    #[test]
    fn what_is_no_size_is_refused_with_an_example() {
        for text in
            ["", "big", "80", "80x", "x120cm", "-80x120cm", "80x120in", "1e3x5cm", "80,5x120cm", "9999999x1m"]
        {
            assert!(parse(text).is_err_and(|why| why.contains("80x120cm")), "{text}");
        }
    }
}

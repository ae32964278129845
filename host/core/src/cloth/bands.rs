//! Cuts an ordered reading (knob place, stroke rate, the knob column of a table) into bands of about equal exposure.

/// How many bands are made where there are too many distinct readings.
pub const BANDS: u32 = 4;

/// Exposure at one reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell {
    /// The reading.
    pub reading: f64,
    /// Exposure at it, in the caller's unit.
    pub exposure: f64,
}

/// The highest reading of each band, slow to fast. `cells` are in the order of their readings, each reading once.
///
/// Up to `as_they_stand` readings are a band each. More are cut at the quartiles of exposure: a band ends at the first reading up
/// to which at least a quarter, a half or three quarters of all exposure lies (the inverse of the distribution function, type 1
/// of Hyndman and Fan 1996). A reading is never split, so a reading with much exposure can swallow a band.
#[must_use]
pub fn tops(cells: &[Cell], as_they_stand: usize) -> Vec<f64> {
    let cells: Vec<Cell> = cells.iter().copied().filter(|cell| cell.exposure > 0.0).collect();
    if cells.len() <= as_they_stand {
        return cells.iter().map(|cell| cell.reading).collect();
    }
    let total: f64 = cells.iter().map(|cell| cell.exposure).sum();
    let mut tops: Vec<f64> = Vec::new();
    let (mut sum, mut quarter) = (0.0, 1);
    for cell in &cells {
        sum += cell.exposure;
        if quarter < BANDS && sum * f64::from(BANDS) >= f64::from(quarter) * total {
            tops.push(cell.reading);
            while quarter < BANDS && sum * f64::from(BANDS) >= f64::from(quarter) * total {
                quarter += 1;
            }
        }
    }
    let highest = cells.last().map(|cell| cell.reading);
    if highest != tops.last().copied() {
        tops.extend(highest);
    }
    tops
}

/// The band into which a reading falls: the first whose top it does not exceed; above all tops the last.
#[must_use]
pub fn band_of(tops: &[f64], reading: f64) -> Option<usize> {
    let last = tops.len().checked_sub(1)?;
    Some(tops.iter().position(|top| reading <= *top).unwrap_or(last))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cells(of: &[(f64, f64)]) -> Vec<Cell> {
        of.iter().map(|(reading, exposure)| Cell { reading: *reading, exposure: *exposure }).collect()
    }

    #[test]
    fn quartiles_of_exposure_follow_the_published_definition() {
        // Hyndman and Fan (1996), type 1, of 1,3,4,8,15,16,23,42,99: p = 0.25 gives 4, p = 0.90 gives 99 (R's quantile(type = 1)
        // and numpy agree); p = 0.5 is the fifth value, 15, and p = 0.75 the seventh, 23.
        let nine = cells(&[1.0, 3.0, 4.0, 8.0, 15.0, 16.0, 23.0, 42.0, 99.0].map(|reading| (reading, 1.0)));
        assert_eq!(tops(&nine, 8), vec![4.0, 15.0, 23.0, 99.0]);
    }

    #[test]
    fn few_readings_stand_as_they_are() {
        assert_eq!(tops(&cells(&[(1.0, 18.0), (2.0, 18.0), (3.0, 18.0)]), 8), vec![1.0, 2.0, 3.0]);
    }

    #[test]
    fn one_reading_with_nearly_all_exposure_swallows_bands() {
        assert_eq!(tops(&cells(&[(1.0, 1.0), (2.0, 97.0), (3.0, 2.0)]), 0), vec![2.0, 3.0]);
    }

    #[test]
    fn a_reading_between_or_beyond_the_bands_belongs_to_the_next_one_up_or_the_last() {
        let tops = [10.0, 20.0, 30.0];
        assert_eq!(
            [5.0, 10.0, 10.5, 31.0].map(|reading| band_of(&tops, reading)),
            [Some(0), Some(0), Some(1), Some(2)]
        );
        assert_eq!(band_of(&[], 5.0), None);
    }

    proptest! {
        #[test]
        fn bands_rise_and_every_one_has_exposure(exposures in prop::collection::vec(0_u32..50, 1..200)) {
            let all: Vec<Cell> = (0_u32..)
                .zip(&exposures)
                .map(|(reading, exposure)| Cell { reading: f64::from(reading), exposure: f64::from(*exposure) })
                .collect();
            let tops = tops(&all, 0);
            prop_assert!(tops.windows(2).all(|two| two[0] < two[1]) && tops.len() <= 4);
            let mut sums = vec![0.0; tops.len()];
            for cell in all.iter().filter(|cell| cell.exposure > 0.0) {
                let band = band_of(&tops, cell.reading);
                prop_assert!(band.is_some());
                sums[band.unwrap_or(0)] += cell.exposure;
            }
            prop_assert!(sums.iter().all(|sum| *sum > 0.0));
        }
    }
}

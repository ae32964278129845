//! A straight line through values one after the other.

use super::week::float;

/// The line of least squares.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// By how much it rises from one value to the next.
    pub slope: f64,
    /// Sum of the squared distances of the places from the middle.
    pub square: f64,
    /// What is left over of each value.
    pub rest: Vec<f64>,
    /// The variance of that, with two numbers taken from the count for the line itself.
    pub variance: f64,
}

impl Line {
    /// Through values whose mean is 0.
    #[must_use]
    pub fn through(values: &[f64]) -> Self {
        let middle = (float(values.len()) - 1.0) / 2.0;
        let placed = || values.iter().enumerate().map(|(place, value)| (float(place) - middle, value));
        let square = placed().map(|(at, _)| at * at).sum::<f64>().max(f64::MIN_POSITIVE);
        let slope = placed().map(|(at, value)| at * value).sum::<f64>() / square;
        let rest: Vec<f64> = placed().map(|(at, value)| value - slope * at).collect();
        let squares: f64 = rest.iter().map(|off| off * off).sum();
        Self { slope, square, variance: squares / (float(values.len()) - 2.0).max(1.0), rest }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_leaves_over_what_is_not_on_it() {
        // Slope (-1.5 * -0.5 + -0.5 * 0.5 + 0.5 * -0.5 + 1.5 * 0.5) / 5 = 0.2; left over are -0.2 0.6 -0.6 0.2, squares 0.8.
        let line = Line::through(&[-0.5, 0.5, -0.5, 0.5]);
        let near = |one: f64, other: f64| (one - other).abs() < 1e-12;
        assert!(near(line.slope, 0.2) && near(line.square, 5.0) && near(line.variance, 0.4), "{line:?}");
        assert!(line.rest.iter().zip([-0.2, 0.6, -0.6, 0.2]).all(|(one, other)| near(*one, other)));
    }
}

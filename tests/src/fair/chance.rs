//! Draws that the studios need.

use firmware::sim::nor::Dice;

/// A standard normal number (Box and Muller 1958).
pub fn normal(dice: &mut Dice) -> f64 {
    let (one, other) = (1.0 - dice.unit(), dice.unit());
    (-2.0 * one.ln()).sqrt() * (std::f64::consts::TAU * other).cos()
}

/// A gamma number of mean 1 and the given variance; 1 where the variance is 0 (Marsaglia and Tsang 2000, with their step for
/// shapes below one).
pub fn gamma_of_mean_one(dice: &mut Dice, variance: f64) -> f64 {
    if variance <= 0.0 {
        return 1.0;
    }
    let shape = 1.0 / variance;
    let (d, lift) = if shape < 1.0 {
        (shape + 2.0 / 3.0, (1.0 - dice.unit()).powf(variance))
    } else {
        (shape - 1.0 / 3.0, 1.0)
    };
    let c = 1.0 / (9.0 * d).sqrt();
    loop {
        let x = normal(dice);
        let v = (1.0 + c * x).powi(3);
        if v > 0.0 && (1.0 - dice.unit()).ln() < 0.5 * x * x + d * (1.0 - v + v.ln()) {
            return d * v * lift * variance;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frailties_have_the_mean_and_variance_that_they_should() {
        for variance in [1.0, 3.0] {
            let mut dice = Dice::new(7);
            let drawn: Vec<f64> = (0..200_000).map(|_| gamma_of_mean_one(&mut dice, variance)).collect();
            let mean = drawn.iter().sum::<f64>() / 200_000.0;
            let spread = drawn.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 200_000.0;
            assert!((mean - 1.0).abs() < 0.02, "mean {mean}");
            assert!((spread / variance - 1.0).abs() < 0.05, "variance {spread} instead of {variance}");
        }
    }
}

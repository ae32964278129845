//! Linear equations with a symmetric positive definite matrix, by Cholesky decomposition.

/// A square matrix; outside it everything is zero.
#[derive(Clone, Debug, PartialEq)]
pub struct Square {
    size: usize,
    cells: Vec<f64>,
}

impl Square {
    /// All zero.
    #[must_use]
    pub fn zero(size: usize) -> Self {
        Self { size, cells: vec![0.0; size * size] }
    }

    /// Number of rows.
    #[must_use]
    pub const fn size(&self) -> usize {
        self.size
    }

    /// One cell.
    #[must_use]
    pub fn at(&self, row: usize, column: usize) -> f64 {
        self.row(row).get(column).copied().unwrap_or(0.0)
    }

    /// Adds to one cell.
    pub fn add(&mut self, row: usize, column: usize, value: f64) {
        let place = row * self.size + column;
        if let Some(cell) = self.cells.get_mut(place).filter(|_| column < self.size) {
            *cell += value;
        }
    }

    fn row(&self, row: usize) -> &[f64] {
        self.cells.get(row * self.size..(row + 1) * self.size).unwrap_or_default()
    }

    /// The lower triangle whose product with its mirror is this matrix; none unless it is positive definite.
    #[must_use]
    pub fn root(&self) -> Option<Self> {
        let mut lower = Self::zero(self.size);
        for row in 0..self.size {
            for column in 0..=row {
                let known: f64 = lower
                    .row(row)
                    .iter()
                    .zip(lower.row(column))
                    .take(column)
                    .map(|(one, other)| one * other)
                    .sum();
                let rest = self.at(row, column) - known;
                let value = if row == column { rest.sqrt() } else { rest / lower.at(column, column) };
                if !value.is_finite() || (row == column && value <= 0.0) {
                    return None;
                }
                lower.add(row, column, value);
            }
        }
        Some(lower)
    }

    /// With this as the lower triangle, the answer of the whole system.
    #[must_use]
    pub fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut forward: Vec<f64> = Vec::with_capacity(self.size);
        for (row, value) in right.iter().enumerate().take(self.size) {
            let known: f64 = self.row(row).iter().zip(&forward).map(|(one, other)| one * other).sum();
            forward.push((value - known) / self.at(row, row));
        }
        for row in (0..forward.len()).rev() {
            let answer = forward.get(row).copied().unwrap_or(0.0) / self.at(row, row);
            let cells = self.row(row).to_vec();
            for (earlier, cell) in forward.iter_mut().zip(cells).take(row) {
                *earlier -= cell * answer;
            }
            if let Some(place) = forward.get_mut(row) {
                *place = answer;
            }
        }
        forward
    }

    /// The product with a column.
    #[must_use]
    pub fn times(&self, column: &[f64]) -> Vec<f64> {
        let rows = (0..self.size).map(|row| self.row(row));
        rows.map(|row| row.iter().zip(column).map(|(one, other)| one * other).sum()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn square(cells: &[f64], size: usize) -> Square {
        Square { size, cells: cells.to_vec() }
    }

    #[test]
    fn a_small_system_is_worked_out_by_hand() {
        // 4x + 2y = 10, 2x + 3y = 11: x = 1, y = 3. Root: 2; 1, sqrt 2.
        let root = square(&[4.0, 2.0, 2.0, 3.0], 2).root().unwrap();
        assert!((root.at(1, 1) - 2.0_f64.sqrt()).abs() < 1e-15 && root.at(0, 1) == 0.0);
        let answer = root.solve(&[10.0, 11.0]);
        assert!((answer[0] - 1.0).abs() < 1e-12 && (answer[1] - 3.0).abs() < 1e-12, "{answer:?}");
    }

    #[test]
    fn a_matrix_that_is_not_positive_definite_has_no_root() {
        assert_eq!(square(&[1.0, 2.0, 2.0, 1.0], 2).root(), None);
        assert_eq!(square(&[0.0], 1).root(), None);
    }

    proptest! {
        #[test]
        fn the_answer_solves_the_system(cells in prop::collection::vec(-2.0_f64..2.0, 25), right in prop::collection::vec(-3.0_f64..3.0, 5)) {
            // A matrix times its mirror, plus one on the diagonal, is positive definite.
            let half = square(&cells, 5);
            let mut whole = Square::zero(5);
            for row in 0..5 {
                for column in 0..5 {
                    let product: f64 = (0..5).map(|k| half.at(row, k) * half.at(column, k)).sum();
                    whole.add(row, column, product + f64::from(u8::from(row == column)));
                }
            }
            let answer = whole.root().unwrap().solve(&right);
            for (made, wanted) in whole.times(&answer).iter().zip(&right) {
                prop_assert!((made - wanted).abs() < 1e-9);
            }
        }
    }
}

//! Elimination in small full matrices: ports of a network, shared values of readings.

/// Gauss elimination with partial pivoting on `count` rows with `sides` right-hand sides each; the answers end in the
/// last columns. The determinant.
pub fn eliminate(matrix: &mut [f64], count: usize, sides: usize) -> f64 {
    let width = count + sides;
    let mut determinant = 1.0;
    for pivot in 0..count {
        let best =
            (pivot..count).max_by(|a, b| matrix[a * width + pivot].abs().total_cmp(&matrix[b * width + pivot].abs()));
        if let Some(best) = best.filter(|best| *best != pivot) {
            for column in 0..width {
                matrix.swap(pivot * width + column, best * width + column);
            }
            determinant = -determinant;
        }
        determinant *= matrix[pivot * width + pivot];
        for row in pivot + 1..count {
            let share = matrix[row * width + pivot] / matrix[pivot * width + pivot];
            for column in pivot..width {
                matrix[row * width + column] -= share * matrix[pivot * width + column];
            }
        }
    }
    for side in count..width {
        for row in (0..count).rev() {
            let mut value = matrix[row * width + side];
            for column in row + 1..count {
                value -= matrix[row * width + column] * matrix[column * width + side];
            }
            matrix[row * width + side] = value / matrix[row * width + row];
        }
    }
    determinant
}

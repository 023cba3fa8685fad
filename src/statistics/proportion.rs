/// z of a two-sided interval with 95 % confidence.
const Z: f64 = 1.959_963_984_540_054;

/// Within which a share lies with 95 % confidence, given how many of all were so: the interval of Wilson (1927), as in the
/// NIST/SEMATECH e-Handbook 7.2.4.1. `None` where there is none at all, or more of them than all.
pub fn proportion_interval(of_them: u64, all: u64) -> Option<(f64, f64)> {
    if all == 0 || of_them > all {
        return None;
    }
    let (n, p) = (all as f64, of_them as f64 / all as f64);
    let z2 = Z * Z;
    let centre = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = Z / (1.0 + z2 / n) * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    Some(((centre - half).max(0.0), (centre + half).min(1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_interval_holds_its_share_and_is_narrower_with_more() {
        for (good, all) in [(0, 1), (1, 1), (3, 4), (30, 40), (300, 400)] {
            let (low, high) = proportion_interval(good, all).unwrap();
            let share = good as f64 / all as f64;
            assert!(low <= share && share <= high && low >= 0.0 && high <= 1.0, "{good} of {all}: {low} to {high}");
        }
        let wide = |all| proportion_interval(all / 4 * 3, all).map(|(low, high)| high - low).unwrap();
        assert!(wide(4) > wide(40) && wide(40) > wide(400));
        assert_eq!(proportion_interval(0, 0), None);
        assert_eq!(proportion_interval(2, 1), None);
    }
}

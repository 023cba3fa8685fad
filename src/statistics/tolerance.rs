//! Factors of normal tolerance intervals: mean ± k s holds a share of all pieces, with a stated confidence
//! (NIST/SEMATECH e-Handbook 7.2.6.3).

use statrs::distribution::{ChiSquared, ContinuousCDF, Normal};

use super::{normal_below, simpson};
use crate::quantity::Share;

/// z below which a share of a normal distribution lies.
fn quantile(share: Share) -> Option<f64> {
    let within = share.fraction() > 0.0 && share.fraction() < 1.0;
    within.then(|| Normal::standard().inverse_cdf(share.fraction()))
}

/// k of a two-sided interval by Howe: √((n - 1)(1 + 1/n) z²/χ²). `None` below two readings or for a share or a confidence
/// that is not between 0 and 1.
pub fn two_sided_factor(count: usize, share: Share, confidence: Share) -> Option<f64> {
    if count < 2 || quantile(confidence).is_none() {
        return None;
    }
    let (n, free) = (count as f64, (count - 1) as f64);
    let z = quantile(Share::of(share.fraction().midpoint(1.0)))?;
    quantile(share)?;
    let chi = ChiSquared::new(free).ok()?.inverse_cdf(1.0 - confidence.fraction());
    Some((free * (1.0 + 1.0 / n) * z * z / chi).sqrt())
}

/// k of a one-sided bound by Natrella's approximation; far off below ten readings.
pub fn one_sided_factor_natrella(count: usize, share: Share, confidence: Share) -> Option<f64> {
    if count < 2 {
        return None;
    }
    let (n, z, zc) = (count as f64, quantile(share)?, quantile(confidence)?);
    let a = 1.0 - zc * zc / (2.0 * (n - 1.0));
    let b = z * z - zc * zc / n;
    let root = z * z - a * b;
    (a > 0.0 && root >= 0.0).then(|| (z + root.sqrt()) / a)
}

/// k of a one-sided bound, exact: the quantile of the non-central t distribution with n - 1 degrees of freedom and
/// δ = z √n, over √n. A share of all crimps holds at least mean - k s.
pub fn one_sided_factor(count: usize, share: Share, confidence: Share) -> Option<f64> {
    if count < 2 {
        return None;
    }
    quantile(confidence)?;
    let (root, free) = ((count as f64).sqrt(), (count - 1) as f64);
    let delta = quantile(share)? * root;
    let up_to = |k: f64| non_central_t_below(k * root, free, delta) - confidence.fraction();
    let (mut low, mut high) = (0.0, 1.0);
    if up_to(low) >= 0.0 {
        low = -100.0;
    }
    while up_to(high) < 0.0 {
        high *= 2.0;
        if high > 1e6 {
            return None;
        }
    }
    // Halved until nothing of a double is left between the ends.
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if up_to(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(f64::midpoint(low, high))
}

/// P(T ≤ t) of the non-central t distribution: the normal share below t s - δ, averaged over s = √(χ²/ν).
fn non_central_t_below(t: f64, free: f64, delta: f64) -> f64 {
    // ln of the density of s at s: that of √(χ²/ν).
    let constant = free / 2.0 * (free / 2.0).ln() + std::f64::consts::LN_2 - libm::lgamma(free / 2.0);
    let density = |s: f64| {
        if s <= 0.0 {
            // With one degree of freedom the density does not vanish at 0.
            return if free == 1.0 { constant.exp() } else { 0.0 };
        }
        (constant + (free - 1.0) * s.ln() - free * s * s / 2.0).exp()
    };
    // s lies about 1 with a deviation of about 1/√(2ν); beyond twelve of these nothing is left.
    let reach = 12.0 / (2.0 * free).sqrt();
    simpson((1.0 - reach).max(0.0), 1.0 + reach, |s| normal_below(t * s - delta) * density(s))
}

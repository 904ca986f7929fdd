//! Deviation, spread and tolerance make a verdict; nobody else can make one.
//!
//! Millimetres. The rule is the probability of conformity of JCGM 106:2012: the chance that the
//! true value lies within the tolerance, given what was read. This file refuses to know what is
//! being judged.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use statrs::function::erf::{erfc, erfc_inv};

/// What may be said about a quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Conforms with at least the asked probability.
    Within,
    /// Does not conform with at least the asked probability.
    Outside,
    /// The readings cannot tell yet.
    Unproven,
}

/// Standard normal distribution function Φ.
#[must_use]
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * erfc(-z / std::f64::consts::SQRT_2)
}

/// Probability that a quantity with this deviation and standard uncertainty lies within
/// ±`tolerance`: Φ((T − v)/σ) − Φ((−T − v)/σ).
#[must_use]
pub fn conformity(deviation: f64, sigma: f64, tolerance: f64) -> f64 {
    if sigma <= 0.0 {
        return if deviation.abs() <= tolerance {
            1.0
        } else {
            0.0
        };
    }
    // With |v| both terms are upper tails, which keeps digits when they are small.
    let v = deviation.abs();
    let tail = |z: f64| 0.5 * erfc(z / std::f64::consts::SQRT_2);
    (tail((v - tolerance) / sigma) - tail((v + tolerance) / sigma)).clamp(0.0, 1.0)
}

/// The probability of conformity and the verdict for an asked probability `level` (0.5 to 1).
#[must_use]
pub fn judge(deviation: f64, sigma: f64, tolerance: f64, level: f64) -> (f64, Verdict) {
    let p = conformity(deviation, sigma, tolerance);
    let verdict = if !p.is_finite() {
        Verdict::Unproven
    } else if p >= level {
        Verdict::Within
    } else if p <= 1.0 - level {
        Verdict::Outside
    } else {
        Verdict::Unproven
    };
    (p, verdict)
}

/// Chance that a quantity will have a verdict, within or outside, once its standard uncertainty has
/// come down from `sigma` to `after`.
///
/// The estimate will move by N(0, σ² − σ′²); `within` reaches T − z σ′ and `outside` begins at
/// T + z σ′, z the normal quantile of `level`. For choosing what to read next: near σ′ = T/z, where
/// both sides of the tolerance matter at once, it is an approximation.
#[must_use]
pub fn chance_of_verdict(
    deviation: f64,
    sigma: f64,
    after: f64,
    tolerance: f64,
    level: f64,
) -> f64 {
    let z = std::f64::consts::SQRT_2 * erfc_inv(2.0 * (1.0 - level));
    let moves = (sigma * sigma - after * after).max(0.0).sqrt().max(1e-9);
    let below = |limit: f64| normal_cdf((limit - deviation) / moves);
    let outside = tolerance + z * after;
    let beyond = 1.0 - (below(outside) - below(-outside));
    let within = if conformity(0.0, after, tolerance) >= level {
        let limit = (tolerance - z * after).max(0.0);
        below(limit) - below(-limit)
    } else {
        0.0
    };
    let chance = beyond + within;
    if chance.is_finite() {
        chance.clamp(0.0, 1.0)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Standard normal quantiles (scipy 1.17.1, `norm.ppf`).
    #[test]
    fn quantiles_give_their_probability() {
        for (p, z) in [
            (0.80, 0.841_621_233_6),
            (0.90, 1.281_551_565_5),
            (0.95, 1.644_853_627_0),
            (0.99, 2.326_347_874_0),
            (0.999, 3.090_232_306_2),
        ] {
            assert_abs_diff_eq!(normal_cdf(z), p, epsilon = 1e-9);
        }
    }

    /// Specific risk of N(10, 0.4) in [9, 11]: 0.01242 in all (suncal 1.7.1, `test/test_risk.py`);
    /// 0.0124193307 by scipy 1.17.1.
    #[test]
    fn specific_risk_of_a_two_sided_tolerance() {
        assert_abs_diff_eq!(
            1.0 - conformity(0.0, 0.4, 1.0),
            0.012_419_330_7,
            epsilon = 1e-9
        );
    }

    /// A value on the limit conforms with one half when σ is small beside the tolerance.
    #[test]
    fn on_the_limit_nothing_is_proven() {
        let (p, verdict) = judge(3.0, 0.5, 3.0, 0.95);
        assert_abs_diff_eq!(p, 0.5, epsilon = 1e-9);
        assert_eq!(verdict, Verdict::Unproven);
    }

    /// One-sided guard band: 1.645 σ inside the limit is `within` at 95 %, 1.645 σ outside is
    /// `outside` (the shape of ISO 14253-1; the factor is a normal quantile).
    #[test]
    fn guard_bands_on_both_sides_of_the_limit() {
        let verdict = |deviation| judge(deviation, 0.2, 3.0, 0.95).1;
        assert_eq!(verdict(3.0 - 0.2 * 1.645), Verdict::Within);
        assert_eq!(verdict(-(3.0 - 0.2 * 1.645)), Verdict::Within);
        assert_eq!(verdict(3.0 - 0.2 * 1.60), Verdict::Unproven);
        assert_eq!(verdict(3.0 + 0.2 * 1.60), Verdict::Unproven);
        assert_eq!(verdict(3.0 + 0.2 * 1.645), Verdict::Outside);
    }

    /// The share of what a thousand futures of the estimate would bring, drawn at the quantiles.
    #[test]
    fn the_chance_of_a_verdict_is_the_share_of_futures_that_have_one() {
        for (deviation, sigma, after) in [
            (2.6, 0.9, 0.4),
            (0.5, 2.0, 0.6),
            (3.0, 0.8, 0.2),
            (9.0, 4.0, 1.0),
        ] {
            let moves = f64::sqrt(sigma * sigma - after * after);
            let future = |i: i32| {
                let p = (f64::from(i) + 0.5) / 2000.0;
                deviation - moves * std::f64::consts::SQRT_2 * erfc_inv(2.0 * p)
            };
            let settled = (0..2000)
                .filter(|&i| judge(future(i), after, 3.0, 0.95).1 != Verdict::Unproven)
                .count();
            assert_abs_diff_eq!(
                chance_of_verdict(deviation, sigma, after, 3.0, 0.95),
                settled as f64 / 2000.0,
                epsilon = 2e-3
            );
        }
    }

    #[test]
    fn a_reading_that_tells_nothing_settles_nothing() {
        assert_abs_diff_eq!(
            chance_of_verdict(3.0, 0.8, 0.8, 3.0, 0.95),
            0.0,
            epsilon = 1e-12
        );
    }

    #[test]
    fn no_spread_is_a_plain_comparison_and_no_number_proves_nothing() {
        assert_eq!(judge(3.0, 0.0, 3.0, 0.95).1, Verdict::Within);
        assert_eq!(judge(3.1, 0.0, 3.0, 0.95).1, Verdict::Outside);
        assert_eq!(judge(f64::NAN, 1.0, 3.0, 0.95).1, Verdict::Unproven);
    }
}

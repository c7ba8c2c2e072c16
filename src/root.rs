//! The root of a function of one unknown between two ends.

/// The root of a rising function between `low` (function negative) and `high` (positive), to an interval of
/// `tolerance`, by Chandrupatla's method: inverse quadratic interpolation where it is safe, halving where
/// not (T. R. Chandrupatla, Adv. Eng. Software 28 (1997) 145). Without a change of sign the better end.
pub fn rising_root(low: f64, high: f64, tolerance: f64, function: impl Fn(f64) -> f64) -> f64 {
    let (mut a, mut b) = (high, low);
    let (mut at_a, mut at_b) = (function(a), function(b));
    if at_b >= 0.0 || at_b.is_nan() {
        return low;
    }
    if at_a <= 0.0 || at_a.is_nan() {
        return high;
    }
    let mut share = 0.5;
    for _ in 0..200 {
        let x = a + share * (b - a);
        let at_x = function(x);
        let (c, at_c);
        if (at_x > 0.0) == (at_a > 0.0) {
            (c, at_c) = (a, at_a);
        } else {
            (c, at_c) = (b, at_b);
            (b, at_b) = (a, at_a);
        }
        (a, at_a) = (x, at_x);
        let (best, at_best) = if at_a.abs() < at_b.abs() { (a, at_a) } else { (b, at_b) };
        let smallest_share = 0.5 * (tolerance + 2.0 * f64::EPSILON * best.abs()) / (b - a).abs();
        if smallest_share > 0.5 || at_best == 0.0 {
            return best;
        }
        let (xi, phi) = ((a - b) / (c - b), (at_a - at_b) / (at_c - at_b));
        share = if phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi {
            at_a / (at_b - at_a) * at_c / (at_b - at_c)
                + (c - a) / (b - a) * at_a / (at_c - at_a) * at_b / (at_c - at_b)
        } else {
            0.5
        };
        share = share.clamp(smallest_share, 1.0 - smallest_share);
    }
    0.5 * (a + b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_of_straight_bent_and_steep_functions() {
        type Function = fn(f64) -> f64;
        let cases: [(Function, f64, f64, f64); 4] = [
            (|x| x - 0.3, -1.0, 2.0, 0.3),
            (|x| x * x * x - 2.0, 0.0, 100.0, 2f64.cbrt()),
            (|x| if x < 0.7 { 0.01 * (x - 0.7) } else { 1e9 * (x - 0.7) }, 0.0, 1.0, 0.7),
            (|x| (50.0 * x).exp() - 1e10, 0.0, 10.0, 10.0 * 10f64.ln() / 50.0),
        ];
        for (function, low, high, expected) in cases {
            let found = rising_root(low, high, 1e-14, function);
            assert!((found - expected).abs() < 1e-12, "{found} instead of {expected}");
        }
        assert_eq!(rising_root(1.0, 2.0, 1e-12, |x| x), 1.0);
        assert_eq!(rising_root(-2.0, -1.0, 1e-12, |x| x), -1.0);
        assert_eq!(rising_root(0.0, 1.0, 1e-12, |_| f64::NAN), 0.0);
    }
}

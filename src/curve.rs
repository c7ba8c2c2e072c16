//! Functions of one number kept as cubics on an even grid: costly to compute once, cheap to read.
//!
//! Between neighbours a cubic Hermite polynomial whose slopes keep it monotone (Fritsch & Butland, SIAM J. Sci.
//! Stat. Comput. 5 (1984) 300), outside the grid constant. A [`Curve`] is computed at once, a [`Survey`] only
//! where it is read.

use std::cell::OnceCell;

/// A smooth function tabulated on an even grid, read back by monotone cubic Hermite
/// interpolation, constant outside the grid.
///
/// Keeps powers, logarithms and exponentials out of the derivative.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    start: f64,
    inverse_step: f64,
    /// Coefficients of `a + b·u + c·u² + d·u³` between neighbours, u from 0 to 1.
    cubics: Vec<[f64; 4]>,
}

impl Curve {
    /// Tabulates `function` at `points` (at least 4) even steps from `start` to `end`.
    pub fn tabulate(start: f64, end: f64, points: usize, function: impl Fn(f64) -> f64) -> Curve {
        let steps = points.max(4) - 1;
        let step = (end - start) / steps as f64;
        let values: Vec<f64> = (0..=steps).map(|i| function(start + step * i as f64)).collect();
        let cubics = (0..steps)
            .map(|i| {
                let before = i.checked_sub(1).map(|before| values[before]);
                monotone_cubic(before, values[i], values[i + 1], values.get(i + 2).copied())
            })
            .collect();
        Curve { start, inverse_step: 1.0 / step, cubics }
    }

    /// The value at `x`.
    #[inline]
    pub fn at(&self, x: f64) -> f64 {
        let steps = self.cubics.len();
        let position = ((x - self.start) * self.inverse_step).clamp(0.0, steps as f64);
        // To 32 bits, for that is one instruction.
        let i = (position as u32 as usize).min(steps - 1);
        let u = position - i as f64;
        let [a, b, c, d] = self.cubics[i];
        a + u * (b + u * (c + u * d))
    }
}

/// The cubic between two neighbours `y0` and `y1` on an even grid; at the grid's ends the outer value is `None`.
fn monotone_cubic(before: Option<f64>, y0: f64, y1: f64, after: Option<f64>) -> [f64; 4] {
    let difference = y1 - y0;
    let slope0 = before.map_or(difference, |before| monotone_slope(y0 - before, difference));
    let slope1 = after.map_or(difference, |after| monotone_slope(difference, after - y1));
    [y0, slope0, 3.0 * difference - 2.0 * slope0 - slope1, slope0 + slope1 - 2.0 * difference]
}

/// Slope at a point between two secants: their harmonic mean, zero at an extremum (Fritsch & Butland, SIAM J.
/// Sci. Stat. Comput. 5 (1984) 300). The curve then never leaves the range of two neighbours.
fn monotone_slope(left: f64, right: f64) -> f64 {
    if left * right > 0.0 { 2.0 * left * right / (left + right) } else { 0.0 }
}

/// Q quantities that a costly computation gives, tabulated on an even grid as in a [`Curve`], but only where a day
/// comes near: every point is computed once, when it is first needed.
pub struct Survey<const Q: usize> {
    start: f64,
    inverse_step: f64,
    rows: Vec<OnceCell<[f64; Q]>>,
    cubics: Vec<OnceCell<[[f64; Q]; 4]>>,
    compute: Box<dyn Fn(f64) -> [f64; Q]>,
}

impl<const Q: usize> Survey<Q> {
    /// Over `points` (at least 2) even steps from `start` to `end`.
    pub fn new(
        start: f64,
        end: f64,
        points: usize,
        compute: impl Fn(f64) -> [f64; Q] + 'static,
    ) -> Survey<Q> {
        let steps = points.max(2) - 1;
        Survey {
            start,
            inverse_step: steps as f64 / (end - start),
            rows: (0..=steps).map(|_| OnceCell::new()).collect(),
            cubics: (0..steps).map(|_| OnceCell::new()).collect(),
            compute: Box::new(compute),
        }
    }

    fn row(&self, i: usize) -> &[f64; Q] {
        self.rows[i].get_or_init(|| (self.compute)(self.start + i as f64 / self.inverse_step))
    }

    #[inline]
    fn cubic(&self, i: usize) -> &[[f64; Q]; 4] {
        match self.cubics[i].get() {
            Some(cubic) => cubic,
            None => self.new_cubic(i),
        }
    }

    #[cold]
    fn new_cubic(&self, i: usize) -> &[[f64; Q]; 4] {
        self.cubics[i].get_or_init(|| {
            let before = i.checked_sub(1).map(|before| self.row(before));
            let (y0, y1) = (self.row(i), self.row(i + 1));
            let after = (i + 2 < self.rows.len()).then(|| self.row(i + 2));
            let mut cubic = [[0.0; Q]; 4];
            for q in 0..Q {
                let outer = |row: Option<&[f64; Q]>| row.map(|row| row[q]);
                let one = monotone_cubic(outer(before), y0[q], y1[q], outer(after));
                for (power, coefficient) in one.into_iter().enumerate() {
                    cubic[power][q] = coefficient;
                }
            }
            cubic
        })
    }

    /// All quantities at `x`.
    pub fn at(&self, x: f64) -> [f64; Q] {
        self.first_at::<Q>(x)
    }

    /// The first N quantities at `x`; N is at most Q.
    #[inline]
    pub fn first_at<const N: usize>(&self, x: f64) -> [f64; N] {
        const { assert!(N <= Q) };
        let steps = self.cubics.len();
        let position = ((x - self.start) * self.inverse_step).clamp(0.0, steps as f64);
        // To 32 bits, for that is one instruction.
        let i = (position as u32 as usize).min(steps - 1);
        let u = position - i as f64;
        let [a, b, c, d] = self.cubic(i);
        let mut values = [0.0; N];
        for (q, value) in values.iter_mut().enumerate() {
            *value = a[q] + u * (b[q] + u * (c[q] + u * d[q]));
        }
        values
    }
}

impl<const Q: usize> std::fmt::Debug for Survey<Q> {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let known = self.rows.iter().filter(|row| row.get().is_some()).count();
        write!(formatter, "Survey({known} of {} points known)", self.rows.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn curve_is_exact_at_its_points_and_close_between() {
        let curve = Curve::tabulate(0.0, 10.0, 41, |x| (0.3 * x).sin());
        assert!((curve.at(2.5) - (0.75f64).sin()).abs() < 1e-12);
        assert!((curve.at(3.3) - (0.99f64).sin()).abs() < 1e-4);
        assert_eq!(curve.at(-5.0), curve.at(0.0));
        assert_eq!(curve.at(50.0), curve.at(10.0));
    }
}

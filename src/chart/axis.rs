//! The time axis: piecewise straight from times to shares of the plot's width, so that short events may have room.
//!
//! Thinning goes by columns of the plot, not by time: a pass that fills half of the width keeps its detail in a day of
//! twelve hours. Ticks fall on times that people count in, unless the caller places them.

use super::ChartError;

/// Most points of an axis: an event has two, a day 2 000 events.
const MOST_KNOTS: usize = 10_000;

/// A strictly rising row of (time in s, share of the width), from share 0 to share 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    knots: Vec<(f64, f64)>,
}

impl Axis {
    /// Even over a stretch of time (s); widened where it is empty.
    #[inline(never)]
    pub fn even(start_s: f64, end_s: f64) -> Axis {
        let start_s = if start_s.is_finite() { start_s } else { 0.0 };
        let end_s = if end_s.is_finite() { end_s.max(start_s + 1e-3) } else { start_s + 1e-3 };
        Axis { knots: vec![(start_s, 0.0), (end_s, 1.0)] }
    }

    /// Through the given knots; says what is wrong with them.
    #[inline(never)]
    pub fn knotted(mut knots: Vec<(f64, f64)>) -> Result<Axis, ChartError> {
        let bad = |what: &str| Err(ChartError(format!("The knots of the time axis {what}.")));
        if knots.len() < 2 || knots.len() > MOST_KNOTS {
            return bad("must be 2 to 10000");
        }
        if knots.iter().any(|(time_s, share)| !time_s.is_finite() || !share.is_finite()) {
            return bad("must be finite numbers");
        }
        if knots.windows(2).any(|pair| pair[1].0 <= pair[0].0 || pair[1].1 <= pair[0].1) {
            return bad("must rise strictly, in time and in share");
        }
        let last = knots.len() - 1;
        if knots[0].1.abs() > 1e-6 || (knots[last].1 - 1.0).abs() > 1e-6 {
            return bad("must go from share 0 to share 1");
        }
        if knots.windows(2).any(|pair| (pair[1].0 - pair[0].0).is_infinite()) {
            return bad("must lie within a finite stretch of time");
        }
        (knots[0].1, knots[last].1) = (0.0, 1.0);
        Ok(Axis { knots })
    }

    pub fn start_s(&self) -> f64 {
        self.knots[0].0
    }

    pub fn end_s(&self) -> f64 {
        self.knots[self.knots.len() - 1].0
    }

    /// Share of a time, clamped to 0 to 1.
    #[inline(never)]
    pub fn share(&self, time_s: f64) -> f64 {
        let after = self.knots.partition_point(|knot| knot.0 <= time_s);
        self.share_before(after, time_s)
    }

    /// The same where the first knot later than the time is known.
    fn share_before(&self, after: usize, time_s: f64) -> f64 {
        if after == 0 {
            return 0.0;
        }
        let Some(to) = self.knots.get(after) else { return 1.0 };
        let from = self.knots[after - 1];
        (from.1 + (time_s - from.0) / (to.0 - from.0) * (to.1 - from.1)).clamp(0.0, 1.0)
    }

    /// A line of samples (s, value) on this axis as (share, value): thinned to first, lowest, highest and last of each
    /// of `columns` columns, bent where the axis bends, cut to its ends. Samples that are not finite, or earlier than
    /// the one before, are skipped.
    #[inline(never)]
    pub fn curve(
        &self,
        columns: f64,
        samples: &mut dyn Iterator<Item = (f64, f64)>,
    ) -> Vec<(f64, f64)> {
        let mut line = Thinned { columns, column: Vec::new(), at: -1.0, points: Vec::new() };
        let mut before: Option<(f64, f64)> = None;
        // First knot later than the sample before.
        let mut next = 0;
        for (time_s, value) in samples {
            let falls = before.is_some_and(|(before_s, _)| time_s < before_s);
            if !time_s.is_finite() || !value.is_finite() || falls {
                continue;
            }
            while let Some(knot) = self.knots.get(next).filter(|knot| knot.0 <= time_s) {
                if let Some((from_s, from)) = before
                    && knot.0 > from_s
                    && knot.0 < time_s
                {
                    let share = (knot.0 - from_s) / (time_s - from_s);
                    line.push(knot.1, from + share * (value - from));
                }
                next += 1;
            }
            if time_s >= self.start_s() && time_s <= self.end_s() {
                line.push(self.share_before(next, time_s), value);
            }
            before = Some((time_s, value));
            if time_s > self.end_s() {
                break;
            }
        }
        line.flush();
        line.points
    }
}

/// Points gathered by column.
struct Thinned {
    columns: f64,
    column: Vec<(f64, f64)>,
    at: f64,
    points: Vec<(f64, f64)>,
}

impl Thinned {
    fn push(&mut self, share: f64, value: f64) {
        let column = (share * self.columns).floor();
        if column != self.at {
            self.flush();
            self.at = column;
        }
        self.column.push((share, value));
    }

    fn flush(&mut self) {
        let column = &mut self.column;
        if column.len() <= 4 {
            self.points.append(column);
            return;
        }
        let by_value = |a: &usize, b: &usize| column[*a].1.total_cmp(&column[*b].1);
        let all = 0..column.len();
        let mut kept: Vec<usize> = vec![0, column.len() - 1];
        kept.extend(all.clone().min_by(by_value));
        kept.extend(all.max_by(by_value));
        kept.sort_unstable();
        kept.dedup();
        self.points.extend(kept.into_iter().map(|i| column[i]));
        column.clear();
    }
}

/// The smallest of 1, 2 or 5 times a power of ten, from `least` on, that needs at most `most` steps for a span.
#[inline(never)]
pub fn round_step(span: f64, most: f64, least: f64) -> f64 {
    let mut power = least;
    for _ in 0..40 {
        for lead in [1.0, 2.0, 5.0] {
            if span / (lead * power) <= most {
                return lead * power;
            }
        }
        power *= 10.0;
    }
    span.max(least)
}

/// Multiples of a step within a span, both ends included.
#[inline(never)]
pub fn ticks(start: f64, end: f64, step: f64) -> Vec<f64> {
    let first = (start / step - 1e-9).ceil() as i64;
    let last = (end / step + 1e-9).floor() as i64;
    (first..=last).take(200).map(|i| i as f64 * step).collect()
}

const TIME_STEPS_S: [f64; 19] = [
    0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0,
    10800.0, 21600.0, 43200.0, 86400.0,
];

/// Step of time that needs at most `most` ticks for a span (s).
#[inline(never)]
pub fn time_step_s(span_s: f64, most: f64) -> f64 {
    TIME_STEPS_S.iter().copied().find(|step| span_s / step <= most).unwrap_or(86400.0)
}

/// `2:30` hours and minutes for ticks of a minute and more, `0:01:05` with seconds below.
#[inline(never)]
pub fn time_label(time_s: f64, step_s: f64) -> String {
    let sign = if time_s < -1e-9 { "-" } else { "" };
    let total_s = time_s.abs();
    let hours = (total_s / 3600.0 + 1e-9).floor();
    let minutes = ((total_s - hours * 3600.0) / 60.0 + 1e-9).floor();
    let seconds = total_s - hours * 3600.0 - minutes * 60.0;
    if step_s >= 60.0 {
        format!("{sign}{hours:.0}:{minutes:02.0}")
    } else if step_s >= 1.0 {
        format!("{sign}{hours:.0}:{minutes:02.0}:{seconds:02.0}")
    } else {
        format!("{sign}{hours:.0}:{minutes:02.0}:{seconds:04.1}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_fall_on_times_that_people_count_in() {
        assert_eq!(time_step_s(12.0 * 3600.0, 8.0), 7200.0);
        assert_eq!(time_step_s(10.0, 8.0), 2.0);
        assert_eq!(time_label(5400.0, 1800.0), "1:30");
        assert_eq!(time_label(3665.0, 5.0), "1:01:05");
        assert_eq!(ticks(0.0, 10.0, 5.0), vec![0.0, 5.0, 10.0]);
        assert_eq!(round_step(1_234.0, 5.0, 1.0), 500.0);
    }

    #[test]
    fn a_knotted_axis_is_straight_between_its_knots() {
        let axis = Axis::knotted(vec![(0.0, 0.0), (10.0, 0.5), (1010.0, 1.0)]).unwrap();
        assert_eq!((axis.share(5.0), axis.share(510.0)), (0.25, 0.75));
        assert_eq!((axis.share(-1.0), axis.share(2e3)), (0.0, 1.0));
        // A straight line of two samples bends where the axis does.
        let curve = axis.curve(100.0, &mut [(-10.0, -10.0), (2020.0, 2020.0)].into_iter());
        assert_eq!(curve.len(), 3);
        for (point, (share, value)) in curve.iter().zip([(0.0, 0.0), (0.5, 10.0), (1.0, 1010.0)]) {
            // The values are interpolated: equal to rounding, a part in 10^12 of the largest.
            assert!((point.0 - share).abs() < 1e-12 && (point.1 - value).abs() < 1e-9, "{point:?}");
        }
    }
}

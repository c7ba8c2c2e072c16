//! Leaves out the points of a path without which it looks the same.
//!
//! A computed curve has two points in each pixel, mostly on what is a straight line to the eye, and drawing takes as
//! long as there are points. One pass: from the point that was kept last, the directions that pass close enough to every
//! point since form a wedge, which narrows with each; the first point outside of it needs the one before it (the sleeve of
//! Zhao and Saalfeld, Proc. Auto-Carto 13 (1997) 214–223, here with the wedge bounded by the tangents of circles round
//! the points). What is left out lies within a set distance of what is drawn.

use super::drawing::Point;

/// How far a point that is left out may lie from the path that is drawn (CSS pixels): less than eyes or screens part.
const OFF_PX: f64 = 0.15;

/// Above zero where `b` is turned from `a` the way y is from x, by less than half a turn.
#[inline]
fn turn(a: Point, b: Point) -> f64 {
    a.0 * b.1 - a.1 * b.0
}

/// The path with the points that matter, its first and last always.
pub fn straight(path: &[Point]) -> Vec<Point> {
    let Some((&first, others)) = path.split_first() else { return Vec::new() };
    let mut kept = vec![first];
    let (mut from, mut before) = (first, first);
    // Directions between which the next stretch may lie, and the square of the distance it has come.
    let mut wedge: Option<(Point, Point)> = None;
    let mut come = 0.0;
    for &point in others {
        let mut ahead = (point.0 - from.0, point.1 - from.1);
        let mut length = ahead.0 * ahead.0 + ahead.1 * ahead.1;
        let within =
            wedge.is_none_or(|(low, high)| turn(low, ahead) >= 0.0 && turn(ahead, high) >= 0.0);
        // A path that comes back is far from its ends even where it is on the line through them.
        if !within || length < come {
            kept.push(before);
            (from, wedge) = (before, None);
            ahead = (point.0 - from.0, point.1 - from.1);
            length = ahead.0 * ahead.0 + ahead.1 * ahead.1;
        }
        (before, come) = (point, length);
        let off = OFF_PX * OFF_PX;
        if length <= off {
            continue;
        }
        // Tangents of the circle round the point, as directions: turned by the angle whose sine is off / length.
        let (sine, cosine) = (OFF_PX, (length - off).sqrt());
        let turned =
            |sine: f64| (ahead.0 * cosine - ahead.1 * sine, ahead.1 * cosine + ahead.0 * sine);
        let (low, high) = (turned(-sine), turned(sine));
        wedge = Some(wedge.map_or((low, high), |before| {
            (
                if turn(before.0, low) > 0.0 { low } else { before.0 },
                if turn(high, before.1) > 0.0 { high } else { before.1 },
            )
        }));
    }
    if !others.is_empty() {
        kept.push(before);
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Distance of a point from the straight stretch between two others.
    fn apart(point: Point, from: Point, to: Point) -> f64 {
        let (along_x, along_y) = (to.0 - from.0, to.1 - from.1);
        let (x, y) = (point.0 - from.0, point.1 - from.1);
        let length = along_x.hypot(along_y);
        let part = if length > 0.0 {
            ((x * along_x + y * along_y) / length.powi(2)).clamp(0.0, 1.0)
        } else {
            0.0
        };
        (x - part * along_x).hypot(y - part * along_y)
    }

    /// Every point of the path is near the stretch that was kept in its place, not only near some other.
    fn is_near(path: &[Point], kept: &[Point]) {
        let mut rest = path.iter();
        let mut place = rest.next();
        for pair in kept.windows(2) {
            assert_eq!(place, Some(&pair[0]));
            loop {
                place = rest.next();
                let Some(&point) = place else { panic!("{:?} is none of the path's", pair[1]) };
                if point == pair[1] {
                    break;
                }
                let off_px = apart(point, pair[0], pair[1]);
                assert!(off_px <= OFF_PX * (1.0 + 1e-9), "{off_px} px off at {}", point.0);
            }
        }
        assert!(rest.next().is_none(), "ends before the path");
    }

    #[test]
    fn keeps_ends_and_corners_and_stays_within_the_distance() {
        let curve: Vec<Point> = (0..2_000)
            .map(|at| {
                let x = f64::from(at) * 0.5;
                (x, 80.0 * (x / 90.0).sin() + if at > 900 { 40.0 } else { 0.0 })
            })
            .collect();
        let kept = straight(&curve);
        assert!(kept.len() < 120, "{} points", kept.len());
        assert_eq!((kept[0], kept[kept.len() - 1]), (curve[0], curve[1_999]));
        assert!(kept.contains(&curve[900]) && kept.contains(&curve[901]));
        is_near(&curve, &kept);
    }

    #[test]
    fn any_path_is_kept_near() {
        // A fixed row of numbers between 0 and 1 (Lehmer's generator, multiplier 48 271).
        let mut seed = 1_u64;
        let mut next = || {
            seed = seed * 48_271 % 2_147_483_647;
            seed as f64 / 2_147_483_647.0
        };
        for case in 0..400 {
            // From trembling to jumping, forward or any way.
            let reach = 10_f64.powf(f64::from(case % 40) / 10.0 - 2.0);
            let mut at = (0.0, 0.0);
            let path: Vec<Point> = (0..200)
                .map(|_| {
                    let back = if case % 3 == 0 { 0.5 } else { 0.0 };
                    at = (at.0 + (next() - back) * reach, at.1 + (next() - 0.5) * reach);
                    at
                })
                .collect();
            is_near(&path, &straight(&path));
        }
    }

    #[test]
    fn keeps_what_is_short_or_comes_back() {
        assert_eq!(straight(&[]), []);
        assert_eq!(straight(&[(1.0, 2.0)]), [(1.0, 2.0)]);
        let back = [(0.0, 0.0), (0.0, -50.0), (0.0, 0.0)];
        assert_eq!(straight(&back), back);
        let spike = [(0.0, 0.0), (10.0, 0.0), (10.0, -90.0), (10.0, 0.0), (20.0, 0.0)];
        assert_eq!(straight(&spike), spike);
    }
}

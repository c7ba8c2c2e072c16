//! Leaves out the points of a path without which it looks the same.
//!
//! A computed curve has two points in each pixel, mostly on what is a straight line to the eye, and drawing takes as
//! long as there are points. Ramer, Computer Graphics and Image Processing 1 (1972) 244–256; Douglas and Peucker,
//! Cartographica 10 (1973) 112–122: what is left out lies within a set distance of what is kept.

use super::drawing::Point;

/// How far a point that is left out may lie from the path that is drawn (CSS pixels): less than eyes or screens part.
const OFF_PX: f64 = 0.1;

/// Square of the distance of a point from the straight stretch between two others.
#[inline]
fn apart(point: Point, from: Point, to: Point) -> f64 {
    let (along_x, along_y) = (to.0 - from.0, to.1 - from.1);
    let (x, y) = (point.0 - from.0, point.1 - from.1);
    let length = along_x * along_x + along_y * along_y;
    // A path that comes back on itself is far from its ends even where it is on the line through them.
    let part =
        if length > 0.0 { ((x * along_x + y * along_y) / length).clamp(0.0, 1.0) } else { 0.0 };
    let (off_x, off_y) = (x - part * along_x, y - part * along_y);
    off_x * off_x + off_y * off_y
}

/// The path with the points that matter, its first and last always.
pub fn straight(path: &[Point]) -> Vec<Point> {
    let Some(last) = path.len().checked_sub(1) else { return Vec::new() };
    let mut kept = vec![path[0]];
    // Stretches still to be looked at, the earliest on top; each starts where the kept path ends.
    let mut ends = vec![last];
    let mut from = 0;
    while let Some(&to) = ends.last() {
        let mut farthest = (from, OFF_PX * OFF_PX);
        for at in from + 1..to {
            let off = apart(path[at], path[from], path[to]);
            if off > farthest.1 {
                farthest = (at, off);
            }
        }
        if farthest.0 > from {
            ends.push(farthest.0);
        } else {
            if to > from {
                kept.push(path[to]);
            }
            from = to;
            ends.pop();
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

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
        for point in &curve {
            let off = kept
                .windows(2)
                .map(|pair| apart(*point, pair[0], pair[1]).sqrt())
                .fold(f64::INFINITY, f64::min);
            assert!(off <= OFF_PX, "{off} px off at {}", point.0);
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

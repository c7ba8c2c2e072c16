//! An aim measured over a grid of two parameters, with lines of equal measure between (marching squares, by the
//! `contour` crate).
//!
//! Where the fluid is not back in the time looked at, that time stands in; a day that cannot be simulated counts as the
//! worst value found, so that lines end in front of it. Lines are straight within a cell of the grid: between its
//! points they are as good as a straight line is there.

use contour::ContourBuilder;

use super::{Aim, Case, LOST, Measured, Unknown};
use crate::chart::axis::{round_step, ticks};
use crate::error::{Error, ErrorKind};
use crate::units::{System, temperature_difference_in, temperature_in};

/// Most values on one side of the grid.
pub const MAX_CELLS: usize = 25;
/// Fewest: less shows nothing.
const MIN_CELLS: usize = 3;
/// Default range of an axis, in parts of the values on it.
const AROUND: (f64, f64) = (0.4, 2.5);
/// Half the default range of the air temperature (K).
const AIR_K: f64 = 15.0;
/// Lines beside the aim's.
const MOST_LINES: f64 = 9.0;

/// One side of the grid, in the reader's unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    pub unknown: Unknown,
    pub values: Vec<f64>,
    /// The value of the day.
    pub present: f64,
}

impl Axis {
    /// An axis around the present value and, where there is one, the answer; no further than the gate allows.
    pub fn around(
        case: &Case,
        unknown: Unknown,
        answer: Option<f64>,
        cells: usize,
        system: System,
    ) -> Result<Axis, Error> {
        if !(MIN_CELLS..=MAX_CELLS).contains(&cells) {
            return Err(Error::new(
                ErrorKind::OutOfRange,
                "cells",
                cells.to_string(),
                format!("{MIN_CELLS} to {MAX_CELLS} values a side"),
                "Ask for fewer; lines between them are drawn anyway.",
            ));
        }
        let Some(present_si) = unknown.value_si(case.scenario()) else {
            return Err(super::words::no_hold(unknown));
        };
        let unit = unknown.unit(system);
        let (least_si, most_si) = unknown.range_si(case.scenario());
        let (least, most) = (unit.from_si(least_si), unit.from_si(most_si));
        let present = unit.from_si(present_si);
        let (mut low, mut high) = match unknown {
            Unknown::Air => (unit.from_si(present_si - AIR_K), unit.from_si(present_si + AIR_K)),
            _ => (AROUND.0 * present, AROUND.1 * present),
        };
        if let Some(answer) = answer {
            (low, high) = (0.7 * present.min(answer), 1.4 * present.max(answer));
            (low, high) = (low.min(0.5 * answer), high.max(2.0 * answer));
        }
        (low, high) = (low.max(least), high.min(most));
        // A fan that is not there: the whole range.
        if high - low <= 1e-6 * (most - least) {
            (low, high) = (least, most);
        }
        // In equal ratios, where effects fall off; two of the values are those that the lines must be right at.
        let share = |place: usize| place as f64 / (cells - 1) as f64;
        let mut values: Vec<f64> = (0..cells)
            .map(|place| match unknown {
                Unknown::Air => low + (high - low) * share(place),
                _ if low > 0.0 => low * (high / low).powf(share(place)),
                _ => high * share(place) * share(place),
            })
            .collect();
        for exact in [Some(present), answer].into_iter().flatten() {
            let inside = values[1..cells - 1].iter_mut();
            if let Some(nearest) =
                inside.min_by(|a, b| (**a - exact).abs().total_cmp(&(**b - exact).abs()))
            {
                *nearest = exact;
            }
        }
        values.sort_by(f64::total_cmp);
        values.dedup();
        Ok(Axis { unknown, values, present })
    }

    /// The value at a place between the grid's.
    fn at(&self, place: f64) -> f64 {
        let last = self.values.len() - 1;
        let before = (place.max(0.0) as usize).min(last - 1);
        let share = (place - before as f64).clamp(0.0, 1.0);
        self.values[before] + share * (self.values[before + 1] - self.values[before])
    }
}

/// A line of one level, in the axes' units.
#[derive(Debug, Clone, PartialEq)]
pub struct ContourLine {
    pub level: f64,
    /// Whether it is the aim's.
    pub is_aim: bool,
    pub points: Vec<(f64, f64)>,
}

/// The measured grid.
#[derive(Debug, Clone, PartialEq)]
pub struct Map {
    pub x: Axis,
    pub y: Axis,
    pub system: System,
    pub aim: Aim,
    /// Row by row of `y`, in the reader's unit: minutes, degrees, or degrees outside the window.
    pub values: Vec<f64>,
    /// Whether the aim is met.
    pub meets: Vec<bool>,
    /// The aim's own level.
    pub level: f64,
    pub lines: Vec<ContourLine>,
    /// Where the aim is met: outlines in the axes' units, and whether each is a hole in the one before.
    pub met: Vec<(Vec<(f64, f64)>, bool)>,
    /// The answer: value of `x` at the day's own `y`.
    pub answer: Option<f64>,
}

impl Map {
    /// Unit of the values.
    pub fn measure_unit(&self) -> &'static str {
        super::words::measure_unit(self.aim, self.system)
    }
}

/// A grid under way.
#[derive(Debug, Clone)]
pub struct MapWork {
    case: Case,
    x: Axis,
    y: Axis,
    system: System,
    measured: Vec<Measured>,
}

impl MapWork {
    /// A grid of two axes; refused for twice the same.
    pub fn new(case: &Case, x: Axis, y: Axis, system: System) -> Result<MapWork, Error> {
        if x.unknown.key() == y.unknown.key() {
            return Err(Error::new(
                ErrorKind::Contradiction,
                "against",
                y.unknown.key(),
                "another parameter than the one asked for",
                "Choose a different second parameter.",
            ));
        }
        Ok(MapWork { case: case.clone(), x, y, system, measured: Vec::new() })
    }

    /// Days to simulate.
    pub fn of(&self) -> usize {
        self.x.values.len() * self.y.values.len()
    }

    /// Simulates up to `count` further days; gives how many are done.
    pub fn step(&mut self, count: usize) -> usize {
        let last = (self.measured.len() + count).min(self.of());
        while self.measured.len() < last {
            self.measured.push(self.at(self.measured.len()));
        }
        self.measured.len()
    }

    /// The day of one place of the grid, counted row by row; for several threads.
    pub fn at(&self, place: usize) -> Measured {
        let columns = self.x.values.len();
        let (x, y) = (self.x.values[place % columns], self.y.values[place / columns]);
        let pair = [(&self.x, x), (&self.y, y)]
            .map(|(axis, value)| (axis.unknown, axis.unknown.unit(self.system).to_si(value)));
        self.case.measure(&pair)
    }

    /// Takes what [`MapWork::at`] gave, in order.
    pub fn keep(&mut self, measured: Measured) {
        if self.measured.len() < self.of() {
            self.measured.push(measured);
        }
    }

    /// The map, with the answer if there is one; what is not done yet counts as not simulated.
    pub fn finish(self, answer: Option<f64>) -> Map {
        let MapWork { case, x, y, system, mut measured } = self;

        measured.resize(x.values.len() * y.values.len(), LOST);
        let mut values: Vec<f64> =
            measured.iter().map(|one| shown(case.aim(), one.value, system)).collect();
        let worst = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        for value in &mut values {
            if value.is_nan() {
                *value = worst;
            }
        }
        let level = aim_level(case.aim(), system);
        let reached =
            || measured.iter().zip(&values).filter(|(one, _)| one.reached).map(|of| *of.1);
        let (low, high) = reached()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)));
        let mut levels = Vec::new();
        if low < high {
            let step = round_step(high - low, MOST_LINES, 1e-3);
            levels.extend(ticks(low, high, step).into_iter().filter(|one| {
                // Not on top of the aim's.
                (one - level).abs() > 0.3 * step
            }));
        }
        levels.push(level);
        // Times go with the inverse of what cools: between the points of the grid their logarithm is straighter.
        let is_time = matches!(case.aim(), Aim::BackIn { .. });
        let straight = |value: f64| if is_time { value.ln_1p() } else { value };
        let bent: Vec<f64> = values.iter().copied().map(straight).collect();
        let levels: Vec<(f64, f64)> = levels.iter().map(|one| (*one, straight(*one))).collect();
        let lines = lines(&x, &y, &bent, &levels, level);
        let met = met(&x, &y, &bent, straight(level));
        let meets = measured.iter().map(Measured::meets).collect();
        Map { x, y, system, aim: case.aim(), values, meets, level, lines, met, answer }
    }
}

/// A measure as the reader has it: minutes, °F or °C, degrees outside the window.
pub(super) fn shown(aim: Aim, value: f64, system: System) -> f64 {
    match aim {
        Aim::BackIn { .. } => value / 60.0,
        Aim::LaunchesInWindow => temperature_difference_in(system, value),
        Aim::LaunchesAtMost { .. } | Aim::ConverterAtMost { .. } => temperature_in(system, value),
    }
}

fn aim_level(aim: Aim, system: System) -> f64 {
    match aim {
        Aim::BackIn { within_s, .. } => within_s / 60.0,
        Aim::LaunchesInWindow => 0.0,
        Aim::LaunchesAtMost { temperature_k, .. } | Aim::ConverterAtMost { temperature_k } => {
            temperature_in(system, temperature_k)
        }
    }
}

/// Lines of the levels, given with what they are among the values. The crate closes them along the border, half a cell outside; what lies there is cut off.
fn lines(x: &Axis, y: &Axis, values: &[f64], levels: &[(f64, f64)], aim: f64) -> Vec<ContourLine> {
    let (columns, rows) = (x.values.len(), y.values.len());
    let builder = ContourBuilder::new(columns, rows, true);
    // It refuses grids of another size than it was told; this one has it.
    let thresholds: Vec<f64> = levels.iter().map(|(_, threshold)| *threshold).collect();
    let Ok(found) = builder.lines(values, &thresholds) else { return Vec::new() };
    let mut lines = Vec::new();
    for (line, (level, _)) in found.iter().zip(levels) {
        for ring in &line.geometry().0 {
            let inside = |at: &contour::Pt| {
                (0.5..=columns as f64 - 0.5).contains(&at.x)
                    && (0.5..=rows as f64 - 0.5).contains(&at.y)
            };
            for points in pieces(&ring.0, inside) {
                let points = points.iter().map(|at| (x.at(at.x - 0.5), y.at(at.y - 0.5))).collect();
                lines.push(ContourLine { level: *level, is_aim: *level == aim, points });
            }
        }
    }
    lines
}

/// Outlines of what is at a level or below.
fn met(x: &Axis, y: &Axis, values: &[f64], level: f64) -> Vec<(Vec<(f64, f64)>, bool)> {
    // The crate encloses what is above: everything is turned over.
    let turned: Vec<f64> = values.iter().map(|value| -value).collect();
    let builder = ContourBuilder::new(x.values.len(), y.values.len(), true);
    let Ok(found) = builder.contours(&turned, &[-level]) else { return Vec::new() };
    let outline = |ring: &[contour::Pt]| -> Vec<(f64, f64)> {
        ring.iter().map(|at| (x.at(at.x - 0.5), y.at(at.y - 0.5))).collect()
    };
    let polygons = found.iter().flat_map(|contour| &contour.geometry().0);
    polygons
        .flat_map(|polygon| {
            let holes = polygon.interiors().iter().map(|ring| (outline(&ring.0), true));
            std::iter::once((outline(&polygon.exterior().0), false)).chain(holes)
        })
        .collect()
}

/// The stretches of a ring whose points are inside, joined where the ring begins.
fn pieces<P: Copy>(ring: &[P], inside: impl Fn(&P) -> bool) -> Vec<Vec<P>> {
    let Some(outside) = ring.iter().position(|point| !inside(point)) else {
        return vec![ring.to_vec()];
    };
    // A ring's last point is its first; begun outside, no stretch is cut in two.
    let turned = ring[outside..].iter().chain(&ring[1.min(outside)..=outside]);
    let mut all = vec![Vec::new()];
    for point in turned {
        if inside(point) {
            if let Some(last) = all.last_mut() {
                last.push(*point);
            }
        } else {
            all.push(Vec::new());
        }
    }
    all.retain(|piece| piece.len() > 1);
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Below `x + 2 y = 13` on 10..20 by 0..3 lies the triangle (10, 0), (13, 0), (10, 1.5); all of it is below 40.
    #[test]
    fn what_meets_a_plane_is_a_triangle_or_all() {
        let axis = |low: f64, high: f64, cells: usize| Axis {
            unknown: Unknown::Air,
            values: (0..cells)
                .map(|i| low + (high - low) * i as f64 / (cells - 1) as f64)
                .collect(),
            present: low,
        };
        let (x, y) = (axis(10.0, 20.0, 6), axis(0.0, 3.0, 4));
        let row = |y: f64| x.values.iter().map(move |x| x + 2.0 * y);
        let values: Vec<f64> = y.values.iter().flat_map(|y| row(*y)).collect();
        // Gauss's formula for the area of a polygon.
        let area = |level: f64| {
            let found = met(&x, &y, &values, level);
            assert_eq!(found.len(), 1);
            let twice: f64 = found[0]
                .0
                .windows(2)
                .map(|pair| pair[0].0 * pair[1].1 - pair[1].0 * pair[0].1)
                .sum();
            (twice / 2.0).abs()
        };
        assert!((area(13.0) - 2.25).abs() < 1e-9, "{}", area(13.0));
        assert!((area(40.0) - 30.0).abs() < 1e-9, "{}", area(40.0));
        assert!(met(&x, &y, &values, 9.0).is_empty());
    }

    /// Over a plane `x + 2 y` a line of level `c` is straight from border to border, with that value at every point.
    #[test]
    fn lines_of_a_plane_are_where_the_plane_has_their_level() {
        let axis = |low: f64, high: f64, cells: usize| Axis {
            unknown: Unknown::Air,
            values: (0..cells)
                .map(|i| low + (high - low) * i as f64 / (cells - 1) as f64)
                .collect(),
            present: low,
        };
        let (x, y) = (axis(10.0, 20.0, 6), axis(0.0, 3.0, 4));
        let values: Vec<f64> =
            y.values.iter().flat_map(|y| x.values.iter().map(move |x| x + 2.0 * y)).collect();
        let found = lines(&x, &y, &values, &[13.0, 17.5, 40.0].map(|level| (level, level)), 13.0);
        assert_eq!(found.iter().map(|line| line.level).collect::<Vec<_>>(), [13.0, 17.5]);
        for line in &found {
            assert_eq!(line.is_aim, line.level == 13.0);
            for (x, y) in &line.points {
                assert!((x + 2.0 * y - line.level).abs() < 1e-9, "{x} {y}");
            }
            let ends = [line.points[0], line.points[line.points.len() - 1]];
            for (x, y) in ends {
                let border = [x - 10.0, 20.0 - x, y, 3.0 - y].into_iter().fold(9.0, f64::min);
                assert!(border.abs() < 1e-9, "{x} {y} of {}", line.level);
            }
        }
    }
}

//! The engine at full throttle: torque against speed, a rev limit, an inertia.
//!
//! **Concept.** Either a dynamometer's points, or the two numbers that everybody knows: peak torque and peak
//! power, each with its speed.
//!
//! **Equations.**
//! - from points: piecewise cubic Hermite interpolation with the slopes of Fritsch and Carlson's method in
//!   Butland's form ("PCHIP") [1]: passes through every point, smooth slope, never leaves the range of two
//!   neighbours. Below the first point torque is held; above the last, power is held (a
//!   corner in the slope at either end: give points from idle to the rev limit).
//! - from two numbers, (ω₁, T₁) at peak torque and (ω₂, T₂ = P₂/ω₂) at peak power, u = (ω − ω₁)/(ω₂ − ω₁):
//!   above ω₁ `T = T₁ − (T₁ − T₂)·uⁿ` with `n = T₂·(ω₂ − ω₁)/(ω₂·(T₁ − T₂))`. The exponent is the one that
//!   makes dP/dω = 0 at ω₂; with n > 1 also dT/dω = 0 at ω₁, torque is concave, and therefore power is
//!   nowhere higher than at ω₂. Below ω₁ `T = T₁·(1 − ½·(1 − ω/ω₁)²)`, a judgement: half of the peak
//!   torque at zero speed.
//! - rev limit: torque fades to zero over the last 100 rpm below it, as a cubic with level ends, so that an
//!   integrator meets no corner
//!
//! **Assumptions.** Torque on the day of the dynamometer; `weather` corrects it to another. Full throttle only.
//!
//! **Valid range.** Speeds of zero or more (a negative one counts as zero). Torque is never negative.
//!
//! **Sources.** [1] F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300; end slopes as in
//! Moler, *Numerical Computing with MATLAB*, 3.6. The power law between the peaks is derived here.
//!
//! **Not here.** Braking by a closed throttle, boost that builds with time, two-step ignition maps, fuel.

use crate::curve::Curve;
use crate::error::{Error, ErrorKind};
use crate::units::rpm;
use std::f64::consts::PI;

/// Width of the fade below the rev limit: 100 rpm, in rad/s.
pub const REV_LIMIT_FADE_RAD_PER_S: f64 = 100.0 * PI / 30.0;

/// Share of peak torque missing at zero speed, when only the two peaks are known.
const LOW_SPEED_LOSS: f64 = 0.5;

/// Above this exponent the curve between the peaks is a wall rather than a curve.
const STEEPEST_EXPONENT: f64 = 60.0;

/// One point of a dynamometer sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TorquePoint {
    pub speed_rad_per_s: f64,
    pub torque_nm: f64,
}

/// The two numbers of a brochure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peaks {
    pub torque_nm: f64,
    pub torque_speed_rad_per_s: f64,
    pub power_w: f64,
    pub power_speed_rad_per_s: f64,
}

/// Torque at full throttle against speed.
#[derive(Debug, Clone, PartialEq)]
pub struct TorqueCurve {
    shape: Shape,
}

#[derive(Debug, Clone, PartialEq)]
enum Shape {
    /// Points with the slope of the curve at each.
    Points(Vec<(TorquePoint, f64)>),
    Peaks {
        peaks: Peaks,
        exponent: f64,
    },
}

/// Points at which an engine's torque is tabulated, from zero to the rev limit.
const TABLE_POINTS: usize = 1_025;

impl TorqueCurve {
    /// From at least two points, speeds rising, torques finite and not negative. `field` is the path named in
    /// the error.
    pub fn from_points(field: &str, points: &[TorquePoint]) -> Result<TorqueCurve, Error> {
        if points.len() < 2 {
            return Err(Error::new(
                ErrorKind::OutOfRange,
                field,
                format!("{} points", points.len()),
                "a torque curve needs at least two points",
                "Give torque at several speeds, or peak torque and peak power instead.",
            ));
        }
        let mut last = None;
        for (index, point) in points.iter().enumerate() {
            let speed = point.speed_rad_per_s;
            if !(speed >= 0.0 && speed.is_finite() && last.is_none_or(|last| speed > last)) {
                return Err(Error::new(
                    ErrorKind::OutOfRange,
                    format!("{field}[{index}]"),
                    format!("{:.0} rpm", rpm(speed)),
                    "speeds of zero or more, each above the one before",
                    "Sort the curve by speed and drop doubled points.",
                ));
            }
            if !(point.torque_nm >= 0.0 && point.torque_nm.is_finite()) {
                return Err(Error::new(
                    ErrorKind::OutOfRange,
                    format!("{field}[{index}]"),
                    format!("{:.1} N·m", point.torque_nm),
                    "a torque of zero or more",
                    "Give torque at full throttle, where the engine drives and does not brake.",
                ));
            }
            last = Some(speed);
        }
        let slopes = pchip_slopes(points);
        Ok(TorqueCurve { shape: Shape::Points(points.iter().copied().zip(slopes).collect()) })
    }

    /// From peak torque and peak power. Refuses numbers that no such curve has; `field` is the path named in
    /// the error.
    pub fn from_peaks(field: &str, peaks: Peaks) -> Result<TorqueCurve, Error> {
        for (name, value) in [
            ("peak_torque", peaks.torque_nm),
            ("peak_torque_speed", peaks.torque_speed_rad_per_s),
            ("peak_power", peaks.power_w),
            ("peak_power_speed", peaks.power_speed_rad_per_s),
        ] {
            if !(value > 0.0 && value.is_finite()) {
                return Err(Error::new(
                    ErrorKind::OutOfRange,
                    format!("{field}.{name}"),
                    format!("{value}"),
                    "a number above zero",
                    "Give peak torque and peak power, each with its speed.",
                ));
            }
        }
        let (low, high) = (peaks.torque_speed_rad_per_s, peaks.power_speed_rad_per_s);
        if low >= high {
            return Err(Error::new(
                ErrorKind::Contradiction,
                format!("{field}.peak_power_speed"),
                format!("{:.0} rpm", rpm(high)),
                format!("above the speed of peak torque, {:.0} rpm", rpm(low)),
                "Check that the two speeds are not swapped: power peaks after torque.",
            ));
        }
        let torque_at_power_nm = peaks.power_w / high;
        let fall_nm = peaks.torque_nm - torque_at_power_nm;
        let exponent = torque_at_power_nm * (high - low) / (high * fall_nm);
        let least_nm = peaks.torque_nm / (2.0 - low / high);
        let most_nm = highest_torque_at_power_nm(&peaks);
        if !(fall_nm > 0.0 && exponent > 1.0 && exponent <= STEEPEST_EXPONENT) {
            let remedy = if torque_at_power_nm > most_nm {
                "This power needs more torque than the peak torque leaves: raise peak torque, lower peak \
                 power, or check the units."
            } else {
                "Torque would fall so fast that power peaks earlier: raise peak power or bring its speed \
                 down."
            };
            return Err(Error::new(
                ErrorKind::Contradiction,
                format!("{field}.peak_power"),
                format!(
                    "{:.1} kW at {:.0} rpm, that is {torque_at_power_nm:.0} N·m",
                    peaks.power_w * 1e-3,
                    rpm(high)
                ),
                format!(
                    "between {:.1} and {:.1} kW there, with a peak torque of {:.0} N·m at {:.0} rpm",
                    least_nm * high * 1e-3,
                    most_nm * high * 1e-3,
                    peaks.torque_nm,
                    rpm(low)
                ),
                remedy,
            ));
        }
        Ok(TorqueCurve { shape: Shape::Peaks { peaks, exponent } })
    }

    /// Torque at full throttle, without the rev limit.
    #[inline]
    pub fn torque_nm(&self, speed_rad_per_s: f64) -> f64 {
        let speed = speed_rad_per_s.max(0.0);
        match &self.shape {
            Shape::Points(points) => through_points_nm(points, speed),
            Shape::Peaks { peaks, exponent } => {
                let across = (speed - peaks.torque_speed_rad_per_s)
                    / (peaks.power_speed_rad_per_s - peaks.torque_speed_rad_per_s);
                if across <= 0.0 {
                    let below = 1.0 - speed / peaks.torque_speed_rad_per_s;
                    peaks.torque_nm * (1.0 - LOW_SPEED_LOSS * below * below)
                } else {
                    let fall_nm = peaks.torque_nm - peaks.power_w / peaks.power_speed_rad_per_s;
                    (peaks.torque_nm - fall_nm * across.powf(*exponent)).max(0.0)
                }
            }
        }
    }

    /// Power at full throttle, without the rev limit.
    pub fn power_w(&self, speed_rad_per_s: f64) -> f64 {
        self.torque_nm(speed_rad_per_s) * speed_rad_per_s.max(0.0)
    }
}

/// Torque at the power peak with which the exponent reaches its limit.
fn highest_torque_at_power_nm(peaks: &Peaks) -> f64 {
    // n = T₂·s/(T₁ − T₂), s = (ω₂ − ω₁)/ω₂, solved for T₂
    let span = 1.0 - peaks.torque_speed_rad_per_s / peaks.power_speed_rad_per_s;
    peaks.torque_nm * STEEPEST_EXPONENT / (STEEPEST_EXPONENT + span)
}

/// Slopes at the points: weighted harmonic mean of the neighbouring secants, zero where they differ in sign;
/// at the ends a three-point formula, limited so that the shape is kept.
fn pchip_slopes(points: &[TorquePoint]) -> Vec<f64> {
    let secants: Vec<(f64, f64)> = points
        .windows(2)
        .map(|pair| {
            let width = pair[1].speed_rad_per_s - pair[0].speed_rad_per_s;
            (width, (pair[1].torque_nm - pair[0].torque_nm) / width)
        })
        .collect();
    let end = |near: (f64, f64), next: Option<(f64, f64)>| match next {
        None => near.1,
        Some(next) => {
            let slope = ((2.0 * near.0 + next.0) * near.1 - near.0 * next.1) / (near.0 + next.0);
            if slope * near.1 <= 0.0 {
                0.0
            } else if near.1 * next.1 < 0.0 && slope.abs() > 3.0 * near.1.abs() {
                3.0 * near.1
            } else {
                slope
            }
        }
    };
    let mut slopes = Vec::with_capacity(points.len());
    if let Some(first) = secants.first() {
        slopes.push(end(*first, secants.get(1).copied()));
    }
    for pair in secants.windows(2) {
        let ((before, secant_before), (after, secant_after)) = (pair[0], pair[1]);
        slopes.push(if secant_before * secant_after <= 0.0 {
            0.0
        } else {
            let (weight_before, weight_after) = (2.0 * after + before, after + 2.0 * before);
            (weight_before + weight_after)
                / (weight_before / secant_before + weight_after / secant_after)
        });
    }
    if let Some(last) = secants.last() {
        let next = secants.len().checked_sub(2).and_then(|index| secants.get(index)).copied();
        slopes.push(end(*last, next));
    }
    slopes
}

fn through_points_nm(points: &[(TorquePoint, f64)], speed: f64) -> f64 {
    let upper = points.partition_point(|point| point.0.speed_rad_per_s < speed);
    let before = upper.checked_sub(1).and_then(|index| points.get(index));
    match (before, points.get(upper)) {
        (Some((low, low_slope)), Some((high, high_slope))) => {
            let width = high.speed_rad_per_s - low.speed_rad_per_s;
            let across = (speed - low.speed_rad_per_s) / width;
            let left = 1.0 - across;
            left * left * (1.0 + 2.0 * across) * low.torque_nm
                + across * across * (1.0 + 2.0 * left) * high.torque_nm
                + width * across * left * (left * low_slope - across * high_slope)
        }
        (None, Some((first, _))) => first.torque_nm,
        (Some((last, _)), None) => last.torque_nm * last.speed_rad_per_s / speed,
        (None, None) => 0.0,
    }
}

/// An engine.
#[derive(Debug, Clone, PartialEq)]
pub struct Engine {
    curve: TorqueCurve,
    rev_limit_rad_per_s: f64,
    inertia_kg_m2: f64,
    /// Torque under the rev limit; without, it is computed anew every time.
    table: Option<Curve>,
}

impl Engine {
    /// Wants a rev limit above the fade and an inertia above zero. `field` is the path named in the error.
    pub fn new(
        field: &str,
        curve: TorqueCurve,
        rev_limit_rad_per_s: f64,
        inertia_kg_m2: f64,
    ) -> Result<Engine, Error> {
        if !(rev_limit_rad_per_s > REV_LIMIT_FADE_RAD_PER_S && rev_limit_rad_per_s.is_finite()) {
            return Err(Error::new(
                ErrorKind::OutOfRange,
                format!("{field}.rev_limit"),
                format!("{:.0} rpm", rpm(rev_limit_rad_per_s)),
                "above 100 rpm, over which torque fades",
                "Give the speed that the engine must not pass.",
            ));
        }
        if !(inertia_kg_m2 > 0.0 && inertia_kg_m2.is_finite()) {
            return Err(Error::new(
                ErrorKind::OutOfRange,
                format!("{field}.inertia"),
                format!("{inertia_kg_m2} kg·m²"),
                "above zero",
                "Give the inertia of crankshaft, flexplate and converter cover.",
            ));
        }
        Ok(Engine { curve, rev_limit_rad_per_s, inertia_kg_m2, table: None })
    }

    /// The same engine with its torque tabulated for quick reading, to a millionth.
    pub fn tabulated(self) -> Engine {
        let limit = self.rev_limit_rad_per_s;
        let table = Curve::tabulate(0.0, limit, TABLE_POINTS, |speed| self.torque_nm(speed));
        Engine { table: Some(table), ..self }
    }

    /// The curve without the rev limit.
    pub fn curve(&self) -> &TorqueCurve {
        &self.curve
    }

    /// The speed at which torque has faded to nothing.
    pub fn rev_limit_rad_per_s(&self) -> f64 {
        self.rev_limit_rad_per_s
    }

    /// Moment of inertia of what turns with the crankshaft.
    pub fn inertia_kg_m2(&self) -> f64 {
        self.inertia_kg_m2
    }

    /// Torque at full throttle under the engine's own rev limit.
    pub fn torque_nm(&self, speed_rad_per_s: f64) -> f64 {
        match &self.table {
            Some(table) => table.at(speed_rad_per_s),
            None => self.torque_under_limit_nm(speed_rad_per_s, self.rev_limit_rad_per_s),
        }
    }

    /// Torque at full throttle under another, lower limit (a brake hold); the engine's own still holds.
    #[inline]
    pub fn torque_under_limit_nm(&self, speed_rad_per_s: f64, limit_rad_per_s: f64) -> f64 {
        let limit_rad_per_s = limit_rad_per_s.min(self.rev_limit_rad_per_s);
        self.curve.torque_nm(speed_rad_per_s) * fade(speed_rad_per_s, limit_rad_per_s)
    }
}

/// 1 well below the limit, 0 at and above it.
#[inline]
fn fade(speed_rad_per_s: f64, limit_rad_per_s: f64) -> f64 {
    let left = ((limit_rad_per_s - speed_rad_per_s) / REV_LIMIT_FADE_RAD_PER_S).clamp(0.0, 1.0);
    left * left * (3.0 - 2.0 * left)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const RPM: f64 = PI / 30.0;

    fn points(list: &[(f64, f64)]) -> Vec<TorquePoint> {
        list.iter()
            .map(|&(rpm, torque_nm)| TorquePoint { speed_rad_per_s: rpm * RPM, torque_nm })
            .collect()
    }

    fn peaks(torque_nm: f64, torque_rpm: f64, power_kw: f64, power_rpm: f64) -> Peaks {
        Peaks {
            torque_nm,
            torque_speed_rad_per_s: torque_rpm * RPM,
            power_w: power_kw * 1e3,
            power_speed_rad_per_s: power_rpm * RPM,
        }
    }

    #[test]
    fn points_are_met_and_neighbours_never_left() -> Result<(), Error> {
        let sheet = points(&[
            (2000.0, 500.0),
            (3000.0, 600.0),
            (4500.0, 690.0),
            (5000.0, 690.0),
            (6500.0, 600.0),
            (7500.0, 470.0),
        ]);
        let curve = TorqueCurve::from_points("curve", &sheet)?;
        for point in &sheet {
            assert!((curve.torque_nm(point.speed_rad_per_s) - point.torque_nm).abs() < 1e-9);
        }
        for pair in sheet.windows(2) {
            let (least, most) = (
                pair[0].torque_nm.min(pair[1].torque_nm),
                pair[0].torque_nm.max(pair[1].torque_nm),
            );
            for step in 0..=100 {
                let speed = pair[0].speed_rad_per_s
                    + (pair[1].speed_rad_per_s - pair[0].speed_rad_per_s) * f64::from(step) / 100.0;
                let torque_nm = curve.torque_nm(speed);
                assert!(torque_nm >= least - 1e-9 && torque_nm <= most + 1e-9);
            }
        }
        assert_eq!(curve.torque_nm(0.0), 500.0);
        assert!((curve.power_w(8000.0 * RPM) - curve.power_w(7500.0 * RPM)).abs() < 1e-6);
        Ok(())
    }

    #[test]
    fn two_points_are_a_straight_line() -> Result<(), Error> {
        let sheet = points(&[(1000.0, 300.0), (5000.0, 500.0)]);
        let curve = TorqueCurve::from_points("curve", &sheet)?;
        for rpm in [1000.0, 1700.0, 3000.0, 4999.0] {
            let expected = 300.0 + (rpm - 1000.0) * 0.05;
            assert!((curve.torque_nm(rpm * RPM) - expected).abs() < 1e-9);
        }
        Ok(())
    }

    #[test]
    fn slopes_are_those_of_the_printed_formulas() {
        // worked by hand from the formulas of Moler 3.6; secants 2, 1/2 and −2 over widths 1, 2 and 1
        let sheet: Vec<TorquePoint> = [(0.0, 1.0), (1.0, 3.0), (3.0, 4.0), (4.0, 2.0)]
            .map(|(speed_rad_per_s, torque_nm)| TorquePoint { speed_rad_per_s, torque_nm })
            .to_vec();
        let expected = [2.5, 6.0 / 7.0, 0.0, -17.0 / 6.0];
        for (found, expected) in pchip_slopes(&sheet).into_iter().zip(expected) {
            assert!((found - expected).abs() < 1e-12, "{found} {expected}");
        }
    }

    #[test]
    fn bad_curves_are_refused_by_name() {
        for (sheet, field) in [
            (points(&[]), "curve"),
            (points(&[(3000.0, 500.0)]), "curve"),
            (points(&[(3000.0, 500.0), (3000.0, 510.0)]), "curve[1]"),
            (points(&[(3000.0, 500.0), (2000.0, 510.0)]), "curve[1]"),
            (points(&[(-1.0, 500.0), (2000.0, 510.0)]), "curve[0]"),
            (points(&[(1000.0, f64::NAN), (2000.0, 510.0)]), "curve[0]"),
            (points(&[(1000.0, 400.0), (2000.0, -1.0)]), "curve[1]"),
            (points(&[(f64::NAN, 400.0), (2000.0, 100.0)]), "curve[0]"),
        ] {
            let refused = TorqueCurve::from_points("curve", &sheet);
            assert!(refused.is_err_and(|error| error.field == field));
        }
    }

    #[test]
    fn peaks_that_contradict_are_refused_with_what_would_do() {
        let refusal = |given: Peaks| match TorqueCurve::from_peaks("engine", given) {
            Ok(_) => String::new(),
            Err(error) => format!("{} | {} | {}", error.field, error.limit, error.remedy),
        };
        assert!(refusal(peaks(650.0, 6000.0, 400.0, 5000.0)).contains("swapped"));
        assert!(refusal(peaks(400.0, 4500.0, 400.0, 6500.0)).contains("more torque"));
        assert!(refusal(peaks(700.0, 3000.0, 230.0, 6500.0)).contains("bring its speed down"));
        assert!(refusal(peaks(0.0, 3000.0, 230.0, 6500.0)).contains("engine.peak_torque "));
        assert!(refusal(peaks(700.0, 3000.0, f64::NAN, 6500.0)).contains("engine.peak_power "));
    }

    #[test]
    fn the_limit_cuts_softly_and_wholly() -> Result<(), Error> {
        let curve = TorqueCurve::from_peaks("e", peaks(700.0, 5000.0, 440.0, 6500.0))?;
        let engine = Engine::new("engine", curve, 7000.0 * RPM, 0.25)?;
        let bare = |rpm: f64| engine.curve().torque_nm(rpm * RPM);
        assert_eq!(engine.torque_nm(6900.0 * RPM), bare(6900.0));
        assert!((engine.torque_nm(6950.0 * RPM) / bare(6950.0) - 0.5).abs() < 1e-9);
        assert_eq!(engine.torque_nm(7000.0 * RPM), 0.0);
        assert_eq!(engine.torque_nm(9000.0 * RPM), 0.0);
        assert_eq!(engine.torque_under_limit_nm(4200.0 * RPM, 4200.0 * RPM), 0.0);
        assert_eq!(engine.torque_under_limit_nm(7000.0 * RPM, 9000.0 * RPM), 0.0);
        let curve = engine.curve().clone();
        assert!(Engine::new("engine", curve.clone(), 0.0, 0.25).is_err());
        assert!(Engine::new("engine", curve, 700.0, 0.0).is_err());
        Ok(())
    }

    proptest! {
        #[test]
        fn two_numbers_are_met_with_level_torque_and_level_power_and_exceeded_nowhere(
            torque_nm in 200.0..1500.0f64,
            torque_rpm in 2500.0..6000.0f64,
            wider in 1.08..1.8f64,
            share in 0.05..0.95f64,
        ) {
            let power_rpm = torque_rpm * wider;
            // any power between the two limits that the error message states
            let given = peaks(torque_nm, torque_rpm, 1.0, power_rpm);
            let least = torque_nm / (2.0 - 1.0 / wider);
            let most = highest_torque_at_power_nm(&given);
            let power_w = (least + (most - least) * share) * given.power_speed_rad_per_s;
            let given = Peaks { power_w, ..given };
            let curve = TorqueCurve::from_peaks("engine", given);
            prop_assert!(curve.is_ok(), "{curve:?}");
            if let Ok(curve) = curve {
                let (first, second) = (given.torque_speed_rad_per_s, given.power_speed_rad_per_s);
                prop_assert!((curve.torque_nm(first) / torque_nm - 1.0).abs() < 1e-12);
                prop_assert!((curve.power_w(second) / power_w - 1.0).abs() < 1e-12);
                let step = 1e-6 * second;
                let power_slope =
                    (curve.power_w(second + step) - curve.power_w(second - step)) / (2.0 * step);
                prop_assert!(power_slope.abs() < 1e-5 * torque_nm, "{power_slope}");
                let torque_change = curve.torque_nm(first + step) - torque_nm;
                prop_assert!(torque_change.abs() < 2.0 * step * torque_nm / second);
                let mut last = curve.torque_nm(0.0);
                for index in 1..=200 {
                    let speed = 1.3 * second * f64::from(index) / 200.0;
                    let here = curve.torque_nm(speed);
                    prop_assert!(here <= torque_nm * (1.0 + 1e-12) && here >= 0.0);
                    prop_assert!(curve.power_w(speed) <= power_w * (1.0 + 1e-12));
                    if speed < first { prop_assert!(here > last) }
                    last = here;
                }
            }
        }
    }
}

//! The torque converter: torque, torque multiplication, and all the rest as heat.
//!
//! **Concept.** The impeller (engine side) takes the torque `T_p = (ω_p/K)²`, where the K-factor depends on
//! the speed ratio `SR = ω_t/ω_p`; the turbine (gearbox side) gives `T_t = TR·T_p`. What goes in and does
//! not come out is heat in the fluid.
//!
//! **Equations** [1]: `heat = T_p·ω_p − T_t·ω_t = T_p·ω_p·(1 − SR·TR)`; at stall (ω_t = 0) that is the whole
//! power. K in (rad/s)/√(N·m), or `λ = 1/K²` in N·m/(rad/s)². Torque is proportional to fluid density: divide
//! K by √(ρ/ρ_ref), or multiply torques by ρ/ρ_ref.
//!
//! **Assumptions.** Quasi-steady: no inertia of the fluid in the circuit. Tables are linear between points
//! and held beyond the ends. When the turbine overruns the impeller the converter acts as a fluid coupling
//! (torque ratio 1) driven from the other side, with the capacity of the mirrored speed ratio ω_p/ω_t; that
//! shape is an assumption, for published overrun tables are rare.
//!
//! **Valid range.** 0 ≤ SR ≤ 1 by table, overrun by assumption, a turbine turning backwards by the stall
//! values. No lock-up clutch.
//!
//! **Sources.** [1] Definitions of SAE J641 and J643. [2] Commission Regulation (EU) 2017/2400, Annex VI,
//! Appendix 9 (generic converter). [3] A. J. Kotwicki, SAE paper 820393, 1982; D. Cho and J. K. Hedrick,
//! J. Dyn. Sys. Meas. Control 111 (1989) 568 (quadratic form).
//!
//! **Not here.** Ballooning, blade angles, cavitation, flash stall against temperature (see the pass).

use crate::error::{Error, ErrorKind};
use crate::root::rising_root;
use crate::units::rpm;
use std::f64::consts::PI;

/// One pound-force foot in newton metres.
pub const NEWTON_METRE_PER_POUND_FORCE_FOOT: f64 = 1.355_817_948_331_400_4;

/// K in (rad/s)/√(N·m) from K in rpm/√(N·m).
pub fn k_rad_from_rpm_newton_metre(k_rpm_per_root_newton_metre: f64) -> f64 {
    k_rpm_per_root_newton_metre * PI / 30.0
}

/// K in rpm/√(N·m) from K in (rad/s)/√(N·m).
pub fn k_rpm_newton_metre_from_rad(k_rad: f64) -> f64 {
    k_rad * 30.0 / PI
}

/// K in (rad/s)/√(N·m) from K in rpm/√(lbf·ft), the unit of the trade.
pub fn k_rad_from_rpm_pound_force_foot(k_rpm_per_root_pound_force_foot: f64) -> f64 {
    k_rad_from_rpm_newton_metre(
        k_rpm_per_root_pound_force_foot / NEWTON_METRE_PER_POUND_FORCE_FOOT.sqrt(),
    )
}

/// K in rpm/√(lbf·ft) from K in (rad/s)/√(N·m).
pub fn k_rpm_pound_force_foot_from_rad(k_rad: f64) -> f64 {
    k_rpm_newton_metre_from_rad(k_rad) * NEWTON_METRE_PER_POUND_FORCE_FOOT.sqrt()
}

/// K of a converter that stalls at `speed_rad_per_s` under `torque_nm`: `K = ω/√T`.
pub fn k_from_stall(speed_rad_per_s: f64, torque_nm: f64) -> f64 {
    speed_rad_per_s / torque_nm.sqrt()
}

/// Torque that the impeller takes at stall: `(ω/K)²`.
pub fn stall_torque_nm(speed_rad_per_s: f64, k_rad: f64) -> f64 {
    (speed_rad_per_s / k_rad).powi(2)
}

/// Heat at stall, all of the power: `ω³/K²`.
pub fn stall_heat_w(speed_rad_per_s: f64, k_rad: f64) -> f64 {
    stall_torque_nm(speed_rad_per_s, k_rad) * speed_rad_per_s
}

/// Torques and heat at one pair of speeds. Torques are those that the impeller takes from the engine and
/// the turbine gives to the gearbox; both are negative in overrun.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OperatingPoint {
    pub impeller_torque_nm: f64,
    pub turbine_torque_nm: f64,
    /// `T_p·ω_p − T_t·ω_t`, exactly what an energy balance of the two shafts leaves over.
    pub heat_w: f64,
}

impl OperatingPoint {
    fn from_torques(
        impeller_torque_nm: f64,
        turbine_torque_nm: f64,
        impeller_rad_per_s: f64,
        turbine_rad_per_s: f64,
    ) -> OperatingPoint {
        OperatingPoint {
            impeller_torque_nm,
            turbine_torque_nm,
            heat_w: impeller_torque_nm * impeller_rad_per_s - turbine_torque_nm * turbine_rad_per_s,
        }
    }
}

/// A quantity against speed ratio: linear between its points, held beyond them.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    points: Vec<(f64, f64)>,
}

impl Table {
    /// Takes points (speed ratio, value), at least two, speed ratio rising from 0 or more to 1 or less,
    /// values finite and not negative. `field` is the path named in the error.
    pub fn new(field: &str, points: Vec<(f64, f64)>) -> Result<Table, Error> {
        if points.len() < 2 {
            return Err(Error::new(
                ErrorKind::OutOfRange,
                field,
                format!("{} points", points.len()),
                "a table needs at least two points",
                "Give the value at stall and near coupling at least.",
            ));
        }
        let mut last = f64::NEG_INFINITY;
        for (index, &(speed_ratio, value)) in points.iter().enumerate() {
            if !(0.0..=1.0).contains(&speed_ratio) || speed_ratio <= last {
                return Err(Error::new(
                    ErrorKind::OutOfRange,
                    format!("{field}[{index}]"),
                    format!("speed ratio {speed_ratio}"),
                    "speed ratios from 0 to 1, each above the one before",
                    "Sort the table by speed ratio and drop doubled points.",
                ));
            }
            if !value.is_finite() || value < 0.0 {
                return Err(Error::new(
                    ErrorKind::OutOfRange,
                    format!("{field}[{index}]"),
                    format!("{value}"),
                    "a finite number, zero or more",
                    "Correct this value of the table.",
                ));
            }
            last = speed_ratio;
        }
        Ok(Table { points })
    }

    /// The value at a speed ratio.
    #[inline]
    pub fn at(&self, speed_ratio: f64) -> f64 {
        let upper = self.points.partition_point(|point| point.0 < speed_ratio);
        let after = self.points.get(upper);
        let before = upper.checked_sub(1).and_then(|index| self.points.get(index));
        match (before, after) {
            (Some(low), Some(high)) => {
                low.1 + (high.1 - low.1) * (speed_ratio - low.0) / (high.0 - low.0)
            }
            (Some(only), None) | (None, Some(only)) => only.1,
            (None, None) => 0.0,
        }
    }

    /// The points (speed ratio, value), as given.
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }
}

/// How the torque that the impeller takes is tabulated. What is listed is what is interpolated.
#[derive(Debug, Clone, PartialEq)]
pub enum Capacity {
    /// `λ = T_p/ω_p²` in N·m/(rad/s)², zero allowed (at coupling).
    Coefficient(Table),
    /// `K = ω_p/√T_p` in (rad/s)/√(N·m), above zero.
    KFactor(Table),
}

/// A converter by its two tables over speed ratio, each on its own points.
#[derive(Debug, Clone, PartialEq)]
pub struct Characteristic {
    capacity: Capacity,
    torque_ratio: Table,
}

impl Characteristic {
    /// Refuses a K of zero and a torque ratio that would give more power than goes in (TR·SR > 1).
    pub fn new(
        field: &str,
        capacity: Capacity,
        torque_ratio: Table,
    ) -> Result<Characteristic, Error> {
        if let Capacity::KFactor(table) = &capacity
            && let Some(point) = table.points.iter().find(|point| point.1 <= 0.0)
        {
            return Err(Error::new(
                ErrorKind::OutOfRange,
                format!("{field}.k_factor"),
                format!("{} at speed ratio {}", point.1, point.0),
                "above zero",
                "A K-factor of zero means endless torque; a large one means little torque.",
            ));
        }
        if let Some((speed_ratio, efficiency)) = highest_efficiency(&torque_ratio)
            && efficiency > 1.0 + 1e-9
        {
            return Err(Error::new(
                ErrorKind::OutOfRange,
                format!("{field}.torque_ratio"),
                format!("efficiency {efficiency:.4} at speed ratio {speed_ratio:.4}"),
                "torque ratio times speed ratio at most 1, also between the points",
                "Lower the torque ratio there: a converter cannot give more power than it takes.",
            ));
        }
        Ok(Characteristic { capacity, torque_ratio })
    }

    /// λ = T_p/ω_p² at a speed ratio of 0 to 1, N·m/(rad/s)².
    #[inline]
    pub fn coefficient(&self, speed_ratio: f64) -> f64 {
        match &self.capacity {
            Capacity::Coefficient(table) => table.at(speed_ratio),
            Capacity::KFactor(table) => table.at(speed_ratio).powi(-2),
        }
    }

    /// T_t/T_p at a speed ratio of 0 to 1.
    #[inline]
    pub fn torque_ratio(&self, speed_ratio: f64) -> f64 {
        self.torque_ratio.at(speed_ratio)
    }

    /// Torques and heat at two speeds. `density_ratio` is the fluid's density over that at which the
    /// capacity holds. An impeller turning backwards counts as standing.
    ///
    /// Torque is continuous where the speeds meet only if the table's capacity goes to zero at SR = 1; a
    /// table that still carries torque there jumps to its negative.
    pub fn operating_point(
        &self,
        impeller_rad_per_s: f64,
        turbine_rad_per_s: f64,
        density_ratio: f64,
    ) -> OperatingPoint {
        let impeller_rad_per_s = impeller_rad_per_s.max(0.0);
        let (impeller_torque_nm, torque_ratio) = if turbine_rad_per_s > impeller_rad_per_s {
            let mirrored = impeller_rad_per_s / turbine_rad_per_s;
            (-self.coefficient(mirrored) * turbine_rad_per_s * turbine_rad_per_s, 1.0)
        } else {
            let speed_ratio = if impeller_rad_per_s > 0.0 {
                (turbine_rad_per_s / impeller_rad_per_s).max(0.0)
            } else {
                0.0
            };
            (
                self.coefficient(speed_ratio) * impeller_rad_per_s * impeller_rad_per_s,
                self.torque_ratio(speed_ratio),
            )
        };
        let impeller_torque_nm = impeller_torque_nm * density_ratio;
        OperatingPoint::from_torques(
            impeller_torque_nm,
            impeller_torque_nm * torque_ratio,
            impeller_rad_per_s,
            turbine_rad_per_s,
        )
    }
}

/// Capacity of a race converter relative to stall, against speed ratio: nearly level to 0.6, then falling to
/// nothing at coupling. Common practice, no source; slip at the finish comes out at a few per cent.
const RACE_CAPACITY: [(f64, f64); 8] = [
    (0.0, 1.0),
    (0.3, 1.0),
    (0.6, 0.95),
    (0.8, 0.82),
    (0.9, 0.62),
    (0.95, 0.42),
    (0.98, 0.20),
    (1.0, 0.0),
];
/// Speed ratio at which a race converter no longer multiplies torque, and its torque ratio from there on.
const RACE_COUPLING: (f64, f64) = (0.86, 0.985);

/// The generic shape of a race converter, scaled by its K-factor at stall, (rad/s)/√(N·m), and its torque
/// ratio at stall; torque ratio falls in a straight line to coupling. `field` is named in the error.
pub fn race_characteristic(
    field: &str,
    k_rad: f64,
    stall_torque_ratio: f64,
) -> Result<Characteristic, Error> {
    let stall = k_rad.powi(-2);
    let capacity =
        RACE_CAPACITY.iter().map(|(speed_ratio, share)| (*speed_ratio, share * stall)).collect();
    let torque_ratio = vec![(0.0, stall_torque_ratio), RACE_COUPLING, (1.0, RACE_COUPLING.1)];
    Characteristic::new(
        field,
        Capacity::Coefficient(Table::new(&format!("{field}.capacity"), capacity)?),
        Table::new(&format!("{field}.torque_ratio"), torque_ratio)?,
    )
}

/// A user's converter: torque ratio, and capacity over that at stall, against speed ratio.
#[derive(Debug, Clone, PartialEq)]
pub struct ConverterTable {
    pub torque_ratio: Table,
    pub capacity: Table,
}

/// A user's converter scaled by its K-factor at stall, (rad/s)/√(N·m). `field` is named in the error.
pub fn own_characteristic(
    field: &str,
    k_rad: f64,
    table: &ConverterTable,
) -> Result<Characteristic, Error> {
    let stall = k_rad.powi(-2);
    let capacity = table
        .capacity
        .points
        .iter()
        .map(|(speed_ratio, share)| (*speed_ratio, share * stall))
        .collect();
    Characteristic::new(
        field,
        Capacity::Coefficient(Table::new(field, capacity)?),
        table.torque_ratio.clone(),
    )
}

/// The largest SR·TR of a table and where it lies, between the points as well: on a segment
/// TR = a + b·SR, so SR·TR is a parabola.
fn highest_efficiency(torque_ratio: &Table) -> Option<(f64, f64)> {
    let at = |speed_ratio: f64| (speed_ratio, speed_ratio * torque_ratio.at(speed_ratio));
    let mut candidates: Vec<(f64, f64)> =
        torque_ratio.points.iter().map(|point| at(point.0)).collect();
    candidates.push(at(1.0));
    for pair in torque_ratio.points.windows(2) {
        let slope = (pair[1].1 - pair[0].1) / (pair[1].0 - pair[0].0);
        let vertex = -(pair[0].1 - slope * pair[0].0) / (2.0 * slope);
        if vertex > pair[0].0 && vertex < pair[1].0 {
            candidates.push(at(vertex));
        }
    }
    candidates.into_iter().max_by(|one, other| one.1.total_cmp(&other.1))
}

/// A converter by two quadratic forms of the speeds [3]: `T = c₀·ω_p² + c₁·ω_p·ω_t + c₂·ω_t²`,
/// coefficients in N·m/(rad/s)². Good for the converter phase, up to a speed ratio of about 0.9; the
/// published coefficients for the coupling phase are doubtful and not given here.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct QuadraticCharacteristic {
    pub impeller: [f64; 3],
    pub turbine: [f64; 3],
}

impl QuadraticCharacteristic {
    /// Torques and heat at two speeds.
    pub fn operating_point(
        &self,
        impeller_rad_per_s: f64,
        turbine_rad_per_s: f64,
    ) -> OperatingPoint {
        let form = |[square, cross, turbine_square]: [f64; 3]| {
            square * impeller_rad_per_s * impeller_rad_per_s
                + cross * impeller_rad_per_s * turbine_rad_per_s
                + turbine_square * turbine_rad_per_s * turbine_rad_per_s
        };
        OperatingPoint::from_torques(
            form(self.impeller),
            form(self.turbine),
            impeller_rad_per_s,
            turbine_rad_per_s,
        )
    }
}

/// Where the engine and the stalled converter balance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StallMatch {
    pub speed_rad_per_s: f64,
    pub torque_nm: f64,
    pub heat_w: f64,
}

/// Finds the speed in `range_rad_per_s` = (lowest, highest) at which the engine's torque, falling, meets
/// `(ω/K)²`: the lowest such balance, which an engine that pulls against the brake reaches first. Scans 64 steps
/// from the bottom, then closes in.
pub fn stall_match(
    engine_torque_nm: impl Fn(f64) -> f64,
    k_rad: f64,
    range_rad_per_s: (f64, f64),
) -> Result<StallMatch, Error> {
    const STEPS: u32 = 64;
    let (lowest, highest) = range_rad_per_s;
    let excess_nm = |speed: f64| engine_torque_nm(speed) - stall_torque_nm(speed, k_rad);
    let refusal = |value: String, remedy: &str| {
        Error::new(
            ErrorKind::OutOfRange,
            "stall speed",
            value,
            format!(
                "a balance of engine and converter between {:.0} and {:.0} rpm",
                rpm(lowest),
                rpm(highest)
            ),
            remedy,
        )
    };
    if !(k_rad > 0.0 && lowest >= 0.0 && lowest < highest && highest.is_finite()) {
        return Err(refusal(
            format!("K {k_rad}, range {lowest} to {highest} rad/s"),
            "Give a K-factor above zero and a range of speeds that rises.",
        ));
    }
    if excess_nm(highest) > 0.0 {
        return Err(refusal(
            format!("engine still {:.0} N·m too strong at the top", excess_nm(highest)),
            "The converter is too loose for this engine: lower K, or check the torque curve.",
        ));
    }
    let step = (highest - lowest) / f64::from(STEPS);
    let mut low = lowest;
    for index in 1..=STEPS {
        let high = lowest + step * f64::from(index);
        if excess_nm(low) > 0.0 && excess_nm(high) <= 0.0 {
            let speed_rad_per_s = rising_root(low, high, 1e-12, |speed| -excess_nm(speed));
            return Ok(StallMatch {
                speed_rad_per_s,
                torque_nm: stall_torque_nm(speed_rad_per_s, k_rad),
                heat_w: stall_heat_w(speed_rad_per_s, k_rad),
            });
        }
        low = high;
    }
    Err(refusal(
        format!("engine {:.0} N·m too weak at the bottom", -excess_nm(lowest)),
        "The converter is too tight for this engine: raise K, or check the torque curve.",
    ))
}

/// Heat of a logged pass from its averages: `P·(1 − (1 − slip)·TR)`, at least zero.
///
/// `mean_slip` is 1 − ω_t/ω_p, 0 to 1; `mean_torque_ratio` is 1 once coupled. The averages should be
/// weighted by power. A result that would be negative means that the averages contradict each other (more
/// power out than in), and is reported as zero.
pub fn slip_heat_w(input_power_w: f64, mean_slip: f64, mean_torque_ratio: f64) -> f64 {
    (input_power_w * (1.0 - (1.0 - mean_slip) * mean_torque_ratio)).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn simple() -> Result<Characteristic, Error> {
        let capacity = Table::new("c", vec![(0.0, 4e-3), (0.9, 2e-3), (1.0, 0.0)])?;
        let torque_ratio = Table::new("t", vec![(0.0, 2.0), (0.9, 1.0), (1.0, 1.0)])?;
        Characteristic::new("converter", Capacity::Coefficient(capacity), torque_ratio)
    }

    #[test]
    fn stall_heat_is_power_and_goes_with_the_cube_of_speed() {
        assert_eq!(stall_heat_w(400.0, 20.0), 400.0 * 400.0);
        assert!((stall_heat_w(800.0, 20.0) / stall_heat_w(400.0, 20.0) - 8.0).abs() < 1e-12);
        assert!((k_from_stall(400.0, 400.0) - 20.0).abs() < 1e-12);
    }

    #[test]
    fn heat_is_never_negative_and_torque_is_continuous_through_coupling() -> Result<(), Error> {
        let converter = simple()?;
        for impeller in [0.0, 50.0, 300.0] {
            for turbine in (-100..900).map(f64::from) {
                let point = converter.operating_point(impeller, turbine, 0.95);
                assert!(point.heat_w >= -1e-9, "{impeller} {turbine}: {point:?}");
            }
        }
        let below = converter.operating_point(300.0, 300.0 - 1e-6, 1.0);
        let above = converter.operating_point(300.0, 300.0 + 1e-6, 1.0);
        assert!((below.impeller_torque_nm - above.impeller_torque_nm).abs() < 1e-4);
        assert!(above.impeller_torque_nm < 0.0);
        Ok(())
    }

    #[test]
    fn bad_tables_are_refused_by_name() {
        for points in [
            vec![],
            vec![(0.0, 1.0)],
            vec![(0.0, 1.0), (0.0, 1.0)],
            vec![(0.5, 1.0), (0.2, 1.0)],
            vec![(0.0, f64::NAN), (1.0, 1.0)],
            vec![(f64::NAN, 1.0), (1.0, 1.0)],
            vec![(0.0, -1.0), (1.0, 1.0)],
            vec![(0.0, 1.0), (1.5, 1.0)],
        ] {
            let refused = Table::new("setup.converter.table", points);
            assert!(refused.is_err_and(|error| error.field.starts_with("setup.converter.table")));
        }
    }

    #[test]
    fn more_power_out_than_in_is_refused_even_between_points() -> Result<(), Error> {
        let capacity = Table::new("c", vec![(0.0, 4e-3), (1.0, 0.0)])?;
        // 2.2 − 1.2·SR: at most 1 at both ends, 1.008 at SR 0.917
        let torque_ratio = Table::new("t", vec![(0.0, 2.2), (1.0, 1.0)])?;
        let refused = Characteristic::new("c", Capacity::Coefficient(capacity), torque_ratio);
        assert!(refused.is_err_and(|error| error.field == "c.torque_ratio"));
        let capacity = Table::new("k", vec![(0.0, 0.0), (1.0, 10.0)])?;
        let torque_ratio = Table::new("t", vec![(0.0, 2.0), (1.0, 1.0)])?;
        assert!(Characteristic::new("c", Capacity::KFactor(capacity), torque_ratio).is_err());
        Ok(())
    }

    #[test]
    fn stall_match_explains_why_there_is_none() {
        let strong = stall_match(|_| 1e5, 20.0, (100.0, 800.0));
        assert!(strong.is_err_and(|error| error.remedy.contains("loose")));
        let weak = stall_match(|_| 1.0, 20.0, (100.0, 800.0));
        assert!(weak.is_err_and(|error| error.remedy.contains("tight")));
        assert!(stall_match(|_| 400.0, f64::NAN, (100.0, 800.0)).is_err());
        let level = stall_match(|_| 400.0, 20.0, (100.0, 800.0));
        assert!(level.is_ok_and(|found| (found.speed_rad_per_s - 400.0).abs() < 1e-9));
    }

    #[test]
    fn logged_slip_heat_in_its_limits() {
        assert_eq!(slip_heat_w(300e3, 1.0, 2.0), 300e3);
        assert_eq!(slip_heat_w(300e3, 0.0, 1.0), 0.0);
        assert!((slip_heat_w(300e3, 0.05, 1.0) - 15e3).abs() < 1e-6);
        assert_eq!(slip_heat_w(300e3, 0.05, 1.5), 0.0);
    }
}

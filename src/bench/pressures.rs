//! What pressures say, beside the model and beside each other.
//!
//! A gauge that is off, a pump that is larger, a regulator that is set higher move all pressures alike; so the ratio of what
//! was shown to what the model expects at that moment is compared, gear against gear and hot against cold. Equal ratios
//! mean sealed circuits: one gear below the others points to that circuit, a fall from cold to hot beyond what the
//! thinner fluid explains to a leak inside or a worn pump. A port that lies below its band in every reading is low
//! throughout: pump, regulator, pickup or gauge. Common practice, no source; a difference counts when it is
//! three times what the gauge's own errors make of it, and a twentieth at least.

use super::expected::{Expected, Shown};
use super::record::{Port, Record};
use crate::timeline::Node;
use crate::trace::Trace;

/// Pan fluid above this counts as hot (K): 50 °C.
const HOT_K: f64 = 323.15;
/// Least share that counts, and how many standard deviations.
const LEAST_SHARE: f64 = 0.05;
/// Least share by which a port that is low throughout must be low: regulators are set to about a tenth.
const LEAST_LOW: f64 = 0.15;
const CLEAR: f64 = 3.0;

/// Something that the pressures say.
#[derive(Debug, Clone, PartialEq)]
pub struct PressureFinding {
    pub port: Port,
    /// The gear that falls; empty when it is all of them.
    pub gear: String,
    /// Share by which it is lower, 0 to 1.
    pub lower: f64,
    pub kind: PressureKind,
}

/// Of which kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PressureKind {
    /// One gear below the others, while cold or hot.
    GearBelowOthers { hot: bool },
    /// Lower hot than cold by more than the fluid explains.
    FallsWhenHot,
    /// Every reading of the port below its band, by about as much.
    LowThroughout,
}

/// The logarithm of shown over expected, and its variance.
struct Ratio<'a> {
    port: Port,
    gear: &'a str,
    hot: bool,
    log: f64,
    variance: f64,
}

/// Mean and variance of logarithms; `None` of none.
fn mean<'a>(ratios: impl Iterator<Item = &'a Ratio<'a>>) -> Option<(f64, f64)> {
    let (mut weights, mut sum) = (0.0, 0.0);
    for ratio in ratios {
        weights += 1.0 / ratio.variance;
        sum += ratio.log / ratio.variance;
    }
    (weights > 0.0).then(|| (sum / weights, 1.0 / weights))
}

/// How far the first lies below the second, as a share, where that is clear.
fn below(one: Option<(f64, f64)>, other: Option<(f64, f64)>) -> Option<f64> {
    let ((one, a), (other, b)) = (one?, other?);
    let difference = other - one;
    let lower = 1.0 - (-difference).exp();
    (lower >= LEAST_SHARE && difference > CLEAR * (a + b).sqrt()).then_some(lower)
}

/// A port of which every reading lies below its band, two at least: by how much on the whole.
fn low_throughout(port: Port, record: &Record, expected: &Expected) -> Option<PressureFinding> {
    let mut shares = Vec::new();
    for (row, shown) in expected.of.iter().enumerate() {
        let Shown::Pressure(place) = shown else { continue };
        let pressure = &record.pressures[*place];
        if pressure.port != port {
            continue;
        }
        let (low, _) = expected.band(row);
        if pressure.shown_pa >= low || expected.mean[row] <= 0.0 {
            return None;
        }
        shares.push(1.0 - pressure.shown_pa / expected.mean[row]);
    }
    let lower = shares.iter().sum::<f64>() / shares.len().max(1) as f64;
    let is_clear = shares.len() > 1 && lower >= LEAST_LOW;
    let gear = String::new();
    is_clear.then_some(PressureFinding { port, gear, lower, kind: PressureKind::LowThroughout })
}

/// What the pressures of a test say.
pub fn findings(record: &Record, expected: &Expected, trace: &Trace) -> Vec<PressureFinding> {
    let ratios: Vec<Ratio> = expected
        .of
        .iter()
        .enumerate()
        .filter_map(|(row, shown)| {
            let Shown::Pressure(place) = shown else { return None };
            let pressure = &record.pressures[*place];
            let (shown_pa, stated_pa) = (pressure.shown_pa, expected.stated[row]);
            // A gauge that shows nothing has no logarithm; it counts as its own error.
            let floor_pa = pressure.deviation_pa.max(1.0);
            (stated_pa > floor_pa).then(|| Ratio {
                port: pressure.port,
                gear: &pressure.gear,
                hot: trace.temperature_at_k(Node::PanFluid, pressure.time_s) > HOT_K,
                log: (shown_pa.max(floor_pa) / stated_pa).ln(),
                variance: (pressure.deviation_pa / shown_pa.max(floor_pa)).powi(2),
            })
        })
        .collect();
    let mut found = Vec::new();
    for port in Port::ALL {
        found.extend(low_throughout(port, record, expected));
        let of_port = || ratios.iter().filter(move |ratio| ratio.port == port);
        let mut gears: Vec<&str> = of_port().map(|ratio| ratio.gear).collect();
        gears.sort_unstable();
        gears.dedup();
        for hot in [false, true] {
            let at = || of_port().filter(move |ratio| ratio.hot == hot);
            for gear in gears.iter().filter(|gear| !gear.is_empty()) {
                let own = mean(at().filter(|ratio| ratio.gear == *gear));
                let others = mean(at().filter(|ratio| ratio.gear != *gear));
                if let Some(lower) = below(own, others) {
                    let kind = PressureKind::GearBelowOthers { hot };
                    found.push(PressureFinding { port, gear: gear.to_string(), lower, kind });
                }
            }
        }
        let fall = |of: &dyn Fn(&&Ratio) -> bool| {
            let cold = mean(of_port().filter(|ratio| !ratio.hot).filter(of));
            let hot = mean(of_port().filter(|ratio| ratio.hot).filter(of));
            below(hot, cold)
        };
        let kind = PressureKind::FallsWhenHot;
        let falling: Vec<(String, f64)> = gears
            .iter()
            .filter_map(|gear| Some((gear.to_string(), fall(&|ratio| ratio.gear == *gear)?)))
            .collect();
        let compared = gears.iter().filter(|gear| {
            let has = |hot: bool| of_port().any(|ratio| ratio.gear == **gear && ratio.hot == hot);
            has(false) && has(true)
        });
        if falling.len() > 1 && falling.len() == compared.count() {
            if let Some(lower) = fall(&|_| true) {
                found.push(PressureFinding { port, gear: String::new(), lower, kind });
            }
        } else {
            // A gear that is below the others when hot has been named.
            let kind_hot = PressureKind::GearBelowOthers { hot: true };
            let named = |gear: &str| {
                let same = |known: &&PressureFinding| known.port == port && known.gear == gear;
                found.iter().filter(same).any(|known| known.kind == kind_hot)
            };
            let each: Vec<(String, f64)> =
                falling.into_iter().filter(|(gear, _)| !named(gear)).collect();
            found.extend(each.into_iter().map(|(gear, lower)| PressureFinding {
                port,
                gear,
                lower,
                kind,
            }));
        }
    }
    found
}

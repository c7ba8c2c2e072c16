//! Which fault explains the readings of a test better than a sound unit does.
//!
//! Every fault of a short list is put into the simulated unit, in five strengths. With `y` what was shown, `m` and `C` mean
//! and covariance of what a sound unit would show and `f(s)` what the faulty one shows beyond it, its evidence is the
//! logarithm of the likelihood ratio, twice:
//!
//! `Λ(s) = (y − m)ᵀC⁻¹(y − m) − (y − m − f(s))ᵀC⁻¹(y − m − f(s))`,
//!
//! at its largest over `s`. A sound unit has more than [`ENOUGH`] in fewer than one of twenty tests (tests/bench.rs).
//! Temperatures alone are judged here; pressures by rules of their own (see `pressures`).
//!
//! Assumes one fault at a time, and that a fault adds to what a unit shows whatever else it is like. It names what to
//! look at: it proves nothing.

use nalgebra::{DMatrix, DVector};

use super::expected::{AS_STATED, Expected, Instruments, Shown, shown_of};
use super::record::Record;
use crate::scenario::Scenario;

/// Evidence from which a cause is named.
pub const ENOUGH: f64 = 7.0;
/// Causes with so much less evidence than the best are named beside it: the readings do not tell them apart.
const BESIDE: f64 = 6.0;
/// Most causes that are named.
const MOST: usize = 3;
const STRENGTHS: [f64; 5] = [0.2, 0.4, 0.6, 0.8, 1.0];

/// A fault of the list.
#[derive(Clone, Copy)]
pub struct Fault {
    pub key: &'static str,
    pub label: &'static str,
    /// How it shows, and what to look at.
    pub shows: &'static str,
    pub look: &'static str,
    /// Puts it into the day, in a strength from 0 to 1.
    put: fn(&mut Scenario, f64),
    instruments: fn(f64) -> Instruments<'static>,
}

impl Fault {
    /// The day with the fault in it, in a strength from 0 to 1, and the instruments.
    pub fn of(&self, scenario: &Scenario, strength: f64) -> (Scenario, Instruments<'static>) {
        let mut day = scenario.clone();
        (self.put)(&mut day, strength);
        (day, (self.instruments)(strength))
    }
}

const fn sound(_strength: f64) -> Instruments<'static> {
    AS_STATED
}

fn nothing(_day: &mut Scenario, _strength: f64) {}

/// Every fault.
pub const FAULTS: [Fault; 8] = [
    Fault {
        key: "dragging",
        label: "Something drags in the gear train",
        shows: "The case warms faster than churning and pump explain while the engine turns.",
        look: "A clutch or band that does not release, a tight bearing or bushing, too little end play: turn the output by hand in neutral.",
        put: |day, s| day.setup.transmission.drag_torque_nm *= 1.0 + 9.0 * s,
        instruments: sound,
    },
    Fault {
        key: "no_flow",
        label: "Little or no flow through converter and cooler",
        shows: "The shell cools too slowly and the cooler stays cold while the pan hardly notices the converter.",
        look: "Hoses swapped or kinked, a blocked cooler, a check valve, air in the line, the circulation pump's direction.",
        put: |day, s| {
            day.setup.front_pump.cooler_flow_m3_per_s *= 1.0 - 0.93 * s;
            day.setup.circulation.flow_m3_per_s *= 1.0 - 0.93 * s;
        },
        instruments: sound,
    },
    Fault {
        key: "weak_cooler",
        label: "The cooler gives off too little heat",
        shows: "Pan and shell cool together, too slowly; the hoses into and out of the cooler are nearly as hot.",
        look: "The fan and its direction, shrouding, dirt between the fins, air in the core.",
        put: |day, s| {
            let cooler = &mut day.setup.cooler;
            cooler.ua_w_per_k *= 1.0 - 0.9 * s;
            let (on, off) = (cooler.fan_air_flow_m3_per_s, cooler.still_air_flow_m3_per_s);
            cooler.fan_air_flow_m3_per_s = on + s * (off.min(on) - on);
        },
        instruments: sound,
    },
    Fault {
        key: "more_heat",
        label: "The converter takes more power than stated",
        shows: "The shell jumps higher at every hold and in gear.",
        look: "Speed and time of the holds as they really were; a tighter converter than the sheet says; idle speed in gear.",
        put: |day, s| day.setup.converter.k_factor *= 1.0 - 0.3 * s,
        instruments: sound,
    },
    Fault {
        key: "less_heat",
        label: "The converter takes less power than stated",
        shows: "The shell stays cooler at every hold and in gear.",
        look: "Speed and time of the holds as they really were; the converter not full; a looser converter; the brake slipping.",
        put: |day, s| day.setup.converter.k_factor *= 1.0 + 0.6 * s,
        instruments: sound,
    },
    Fault {
        key: "low_fluid",
        label: "Less fluid than stated",
        shows: "The pan warms and cools faster than its fill explains.",
        look: "The level, hot, at idle; foam on the dipstick; how much went in.",
        put: |day, s| day.setup.transmission.pan_volume_m3 *= 1.0 - 0.6 * s,
        instruments: sound,
    },
    Fault {
        key: "gauge",
        label: "The pan gauge is off",
        shows: "All its readings are off by about as much, hot and cold, and the others agree.",
        look: "Hold a probe beside it, or boil some water.",
        put: nothing,
        instruments: |s| Instruments { pan_offset_k: 20.0 * s, ..AS_STATED },
    },
    Fault {
        key: "gauge_low",
        label: "The pan gauge is off",
        shows: "All its readings are off by about as much, hot and cold, and the others agree.",
        look: "Hold a probe beside it, or boil some water.",
        put: nothing,
        instruments: |s| Instruments { pan_offset_k: -20.0 * s, ..AS_STATED },
    },
];

/// A fault with its evidence.
#[derive(Clone, Copy)]
pub struct Cause {
    pub fault: &'static Fault,
    /// In which it explains most, 0 to 1.
    pub strength: f64,
    pub evidence: f64,
}

/// The faults that explain the readings clearly better than a sound unit does, the best first.
pub fn causes(record: &Record, expected: &Expected) -> Vec<Cause> {
    let rows: Vec<usize> = (0..expected.of.len())
        .filter(|row| matches!(expected.of[*row], Shown::Reading(_)))
        .collect();
    if rows.is_empty() {
        return Vec::new();
    }
    let part =
        DMatrix::from_fn(rows.len(), rows.len(), |a, b| expected.covariance[(rows[a], rows[b])]);
    let Some(parts) = part.cholesky() else { return Vec::new() };
    let off = DVector::from_iterator(
        rows.len(),
        rows.iter().map(|row| expected.shown[*row] - expected.mean[*row]),
    );
    let distance = |off: &DVector<f64>| off.dot(&parts.solve(off));
    let as_sound = distance(&off);
    let mut causes: Vec<Cause> = FAULTS
        .iter()
        .filter_map(|fault| {
            let evidence = |strength: &f64| -> Option<Cause> {
                let (day, instruments) = fault.of(&record.scenario, *strength);
                let shown = shown_of(record, &day, &instruments).ok()?;
                let beyond: Option<Vec<f64>> = rows
                    .iter()
                    .map(|row| {
                        let Shown::Reading(reading) = expected.of[*row] else { return None };
                        // Where the fault leaves nothing to compare, it explains nothing.
                        Some(shown[reading].map_or(0.0, |k| k - expected.stated[*row]))
                    })
                    .collect();
                let evidence = as_sound - distance(&(&off - DVector::from_vec(beyond?)));
                Some(Cause { fault, strength: *strength, evidence })
            };
            STRENGTHS.iter().filter_map(evidence).max_by(|a, b| a.evidence.total_cmp(&b.evidence))
        })
        .filter(|cause| cause.evidence > ENOUGH)
        .collect();
    causes.sort_by(|a, b| b.evidence.total_cmp(&a.evidence));
    let best = causes.first().map_or(0.0, |cause| cause.evidence);
    causes.retain(|cause| cause.evidence > best - BESIDE);
    causes.dedup_by(|a, b| a.fault.label == b.fault.label);
    causes.truncate(MOST);
    causes
}

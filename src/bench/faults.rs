//! Which fault explains the readings of a test better than a sound unit does.
//!
//! Every fault of a short list is put into the simulated unit, in five strengths. With `y` what was shown, `m` and `C` mean
//! and covariance of what a sound unit would show and `f(s)` what the faulty one shows beyond it, its evidence is the
//! logarithm of the likelihood ratio, twice:
//!
//! `Λ(s) = (y − m)ᵀC⁻¹(y − m) − (y − m − f(s))ᵀC⁻¹(y − m − f(s))`,
//!
//! at its largest over `s`. Of a sound unit it exceeds `z²` about as often as a standard normal number exceeds z, for every
//! fault (Wilks 1938, one strength, one-sided). A single reading that was taken or written wrongly is tried as a fault of
//! its own, for every reading. The limits share [`FALSE_ALARM`] and [`FALSE_SLIP`] among all that is tried (Bonferroni), so
//! that a sound unit has anything named in fewer than one of twenty tests (tests/bench.rs measures it).
//! Temperatures alone are judged here; pressures by rules of their own (see `pressures`).
//!
//! Assumes one fault at a time, and that a fault adds to what a unit shows whatever else it is like. It names what to
//! look at: it proves nothing.

use nalgebra::{DMatrix, DVector};

use super::expected::{AS_STATED, Expected, Instruments, Shown, shown_of};
use super::record::Record;
use crate::band::normal_quantile;
use crate::scenario::Scenario;
use crate::timeline::Node;
use crate::units::clock_seconds_text;

/// Share of sound units that may have a fault named, and a reading called wrong.
const FALSE_ALARM: f64 = 0.02;
const FALSE_SLIP: f64 = 0.01;
/// Causes with so much less evidence than the best are named beside it: the readings do not tell them apart.
const BESIDE: f64 = 6.0;
/// Fewest readings that can show the pattern of a fault.
const FEWEST_OF_A_FAULT: usize = 4;
/// So many deviations of chi-square above its mean fewer readings are off.
const WIDE_OF_FEW: f64 = 4.0;
/// Fewest readings of which one can be called wrong.
const FEWEST: usize = 6;
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
pub const FAULTS: [Fault; 11] = [
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
        key: "no_circulation",
        label: "The circulation pump moves little or nothing",
        shows: "All is as expected while the engine turns; converter and pan cool too slowly while the pump is said to run.",
        look: "The pump's current and direction, air in its inlet, its check valve, a hose sucked flat.",
        put: |day, s| day.setup.circulation.flow_m3_per_s *= 1.0 - 0.96 * s,
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
        key: "warm_start",
        label: "The unit was warm already when the timeline began",
        shows: "Readings are high from the first one on, and less so later.",
        look: "What was run before: begin the timeline there, or state the temperatures at the start.",
        put: |day, s| {
            // What stands before the engine is the unit's own.
            for temperature_k in day.initial_temperature_k.iter_mut().take(Node::Engine.index()) {
                *temperature_k += 40.0 * s;
            }
        },
        instruments: sound,
    },
    Fault {
        key: "infrared",
        label: "The infrared thermometer saw bare metal, or was set otherwise than stated",
        shows: "All that it read is too low, the more so the hotter it was; the gauges agree with the unit as stated.",
        look: "The spots: is the tape on them? The thermometer's setting. A touching probe beside it for once.",
        put: nothing,
        instruments: |s| Instruments { emissivity_share: 1.0 - 0.7 * s, ..AS_STATED },
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

/// Of so few readings that nobody can tell a slip of the pen from a fault, no more is said than that they are off.
fn too_few(as_sound: f64, count: usize) -> Option<Cause> {
    let enough = (count as f64) + WIDE_OF_FEW * (2.0 * count as f64).sqrt();
    (as_sound > enough).then(|| Cause {
        key: "few",
        label: "Too few temperatures to tell a slip of the pen from a fault".to_string(),
        shows: "What was read does not go with a sound unit; what is the matter cannot be told from so little."
            .to_string(),
        look: "The notes first: time, place, surface and figure. Then shell, pan and case again, at two times at least."
            .to_string(),
        strength: 1.0,
        evidence: as_sound,
    })
}

/// What may be the matter, with its evidence.
#[derive(Debug, Clone, PartialEq)]
pub struct Cause {
    /// That of its fault, or `reading` for one that was taken or written wrongly.
    pub key: &'static str,
    pub label: String,
    pub shows: String,
    pub look: String,
    /// In which the fault explains most, 0 to 1.
    pub strength: f64,
    pub evidence: f64,
}

/// A fault in one strength, and what readings show beyond those of the day as stated (K), in the order of the expectation.
pub struct Tried {
    fault: &'static Fault,
    strength: f64,
    beyond: Vec<f64>,
}

/// Rows of the expectation that are readings, with their places in the record.
fn reading_rows(expected: &Expected) -> Vec<(usize, usize)> {
    let rows = expected.of.iter().enumerate();
    rows.filter_map(|(row, of)| match of {
        Shown::Reading(reading) => Some((row, *reading)),
        Shown::Pressure(_) => None,
    })
    .collect()
}

/// Simulates every fault in every strength; what was shown does not matter.
pub fn tried(record: &Record, expected: &Expected) -> Vec<Tried> {
    let rows = reading_rows(expected);
    let one = |fault: &'static Fault, strength: f64| -> Option<Tried> {
        let (day, instruments) = fault.of(&expected.scenario, strength);
        let shown = shown_of(record, &day, &instruments).ok()?;
        // Where the fault leaves nothing to compare, it explains nothing.
        let beyond = rows
            .iter()
            .map(|(row, reading)| shown[*reading].map_or(0.0, |k| k - expected.stated[*row]))
            .collect();
        Some(Tried { fault, strength, beyond })
    };
    let all = FAULTS.iter().flat_map(|fault| STRENGTHS.map(|strength| (fault, strength)));
    all.filter_map(|(fault, strength)| one(fault, strength)).collect()
}

/// The faults that explain the readings clearly better than a sound unit does, the best first.
pub fn causes(record: &Record, expected: &Expected) -> Vec<Cause> {
    causes_among(record, expected, &tried(record, expected))
}

/// The same with the faults simulated before.
pub fn causes_among(record: &Record, expected: &Expected, tried: &[Tried]) -> Vec<Cause> {
    let rows = reading_rows(expected);
    let count = rows.len();
    if count == 0 {
        return Vec::new();
    }
    let part = DMatrix::from_fn(count, count, |a, b| expected.covariance[(rows[a].0, rows[b].0)]);
    let Some(parts) = part.cholesky() else { return Vec::new() };
    let off = rows.iter().map(|(row, _)| expected.shown[*row] - expected.mean[*row]);
    let off = DVector::from_iterator(count, off);
    let distance = |off: &DVector<f64>| off.dot(&parts.solve(off));
    let as_sound = distance(&off);
    if count < FEWEST_OF_A_FAULT {
        return too_few(as_sound, count).into_iter().collect();
    }
    let enough = normal_quantile(FALSE_ALARM / FAULTS.len() as f64).powi(2);
    let mut causes: Vec<Cause> = FAULTS
        .iter()
        .filter_map(|fault| {
            let strengths = tried.iter().filter(|one| one.fault.key == fault.key);
            let evidence = strengths.map(|one| Cause {
                key: fault.key,
                label: fault.label.to_string(),
                shows: fault.shows.to_string(),
                look: fault.look.to_string(),
                strength: one.strength,
                evidence: as_sound - distance(&(&off - DVector::from_column_slice(&one.beyond))),
            });
            evidence.max_by(|a, b| a.evidence.total_cmp(&b.evidence))
        })
        .filter(|cause| cause.evidence > enough)
        .collect();
    causes.extend(slip(record, &rows, &parts.inverse(), &off));
    causes.sort_by(|a, b| b.evidence.total_cmp(&a.evidence));
    let best = causes.first().map_or(0.0, |cause| cause.evidence);
    causes.retain(|cause| cause.evidence > best - BESIDE);
    causes.dedup_by(|a, b| a.label == b.label);
    causes.truncate(MOST);
    causes
}

/// The reading that stands farthest from where all others have it, if that is far: with `w = C⁻¹(y − m)` its evidence is
/// `wᵢ²/(C⁻¹)ᵢᵢ`.
fn slip(
    record: &Record,
    rows: &[(usize, usize)],
    precision: &DMatrix<f64>,
    off: &DVector<f64>,
) -> Option<Cause> {
    // Of two or three readings that disagree nobody knows which is wrong.
    if rows.len() < FEWEST {
        return None;
    }
    let weighed = precision * off;
    let evidence = |i: usize| weighed[i] * weighed[i] / precision[(i, i)];
    let i = (0..rows.len()).max_by(|a, b| evidence(*a).total_cmp(&evidence(*b)))?;
    let enough = normal_quantile(0.5 * FALSE_SLIP / rows.len() as f64).powi(2);
    let number = rows[i].1;
    let reading = record.readings.get(number).filter(|_| evidence(i) > enough)?;
    Some(Cause {
        key: "reading",
        label: format!("Reading {} was taken or written wrongly", number + 1),
        shows: format!(
            "{} at {} does not go with the readings around it, which go with each other.",
            reading.place.label(),
            clock_seconds_text(reading.time_s)
        ),
        look: "The notes: time, place, surface and figure.".to_string(),
        strength: 1.0,
        evidence: evidence(i),
    })
}

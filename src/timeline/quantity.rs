//! The one table of quantities that an event can state: key, units, range, label, sentence, field of its loads.
//!
//! A row here makes the key in scenario files, the range check, the schema entry, the row of `docs/parameters.md` and
//! the control on the page; the kinds that take it name it with a default in `kind`. Ranges are in the SI display unit.

use super::Loads;
use crate::units::{Dimension, System, Unit, quantity_words, unit_or_si};

/// A quantity that an event can state.
pub struct EventParameter {
    pub key: &'static str,
    pub dimension: Dimension,
    pub us_unit: &'static str,
    pub si_unit: &'static str,
    min: f64,
    max: f64,
    pub label: &'static str,
    pub sentence: &'static str,
    get: fn(&Loads) -> f64,
    set: fn(&mut Loads, f64),
}

impl EventParameter {
    /// The reader's unit.
    pub fn reader_unit(&self, system: System) -> &'static Unit {
        unit_or_si(self.dimension, system.pick(self.us_unit, self.si_unit))
    }

    /// A value (SI) as the reader sees it, `4200 rpm`, to so many significant digits.
    pub fn words(&self, value_si: f64, system: System, digits: usize) -> String {
        quantity_words(self.dimension, self.reader_unit(system), value_si, digits)
    }

    /// The value in the loads of an event, SI.
    pub fn value_si(&self, loads: &Loads) -> f64 {
        (self.get)(loads)
    }

    /// Puts a value (SI) into the loads of an event. The caller has checked the range.
    pub fn set_si(&self, loads: &mut Loads, value_si: f64) {
        (self.set)(loads, value_si);
    }

    /// The SI display unit, in which tables state defaults and ranges.
    pub fn display_unit(&self) -> &'static Unit {
        unit_or_si(self.dimension, self.si_unit)
    }

    /// Least allowed value, SI.
    pub fn min_si(&self) -> f64 {
        self.display_unit().to_si(self.min)
    }

    /// Largest allowed value, SI.
    pub fn max_si(&self) -> f64 {
        self.display_unit().to_si(self.max)
    }
}

/// Quantities of events, with ranges; which kind takes which, and its default, is a row of `kind`.
pub static EVENT_PARAMETERS: &[EventParameter] = &[
    EventParameter {
        key: "engine_speed",
        dimension: Dimension::AngularVelocity,
        us_unit: "rpm",
        si_unit: "rpm",
        min: 300.0,
        max: 12_000.0,
        label: "Engine speed",
        sentence: "Mean engine speed during the event.",
        get: |loads| loads.engine_speed_rad_per_s,
        set: |loads, value| loads.engine_speed_rad_per_s = value,
    },
    EventParameter {
        key: "input_power",
        dimension: Dimension::Power,
        us_unit: "hp",
        si_unit: "kW",
        min: 0.0,
        max: 4_000.0,
        label: "Power into the converter",
        sentence: "Mean power during the event, from a data log.",
        get: |loads| loads.input_power_w,
        set: |loads, value| loads.input_power_w = value,
    },
    EventParameter {
        key: "slip",
        dimension: Dimension::One,
        us_unit: "",
        si_unit: "",
        min: 0.0,
        max: 1.0,
        label: "Converter slip",
        sentence: "Mean of 1 − turbine speed / engine speed, weighted with power.",
        get: |loads| loads.slip,
        set: |loads, value| loads.slip = value,
    },
    EventParameter {
        key: "torque_ratio",
        dimension: Dimension::One,
        us_unit: "",
        si_unit: "",
        min: 0.8,
        max: 3.0,
        label: "Converter torque ratio",
        sentence: "Mean turbine torque / engine torque; 1 when the log does not tell.",
        get: |loads| loads.torque_ratio,
        set: |loads, value| loads.torque_ratio = value,
    },
    EventParameter {
        key: "shifts",
        dimension: Dimension::One,
        us_unit: "",
        si_unit: "",
        min: 0.0,
        max: 40.0,
        label: "Shifts",
        sentence: "Number of shifts during the event.",
        get: |loads| loads.shifts,
        set: |loads, value| loads.shifts = value,
    },
    EventParameter {
        key: "road_speed",
        dimension: Dimension::Velocity,
        us_unit: "mph",
        si_unit: "km/h",
        min: 0.0,
        max: 600.0,
        label: "Road speed",
        sentence: "Mean road speed during the event.",
        get: |loads| loads.road_speed_m_per_s,
        set: |loads, value| loads.road_speed_m_per_s = value,
    },
];

//! The one table of kinds of events: name, work, turbine, loads, how long a new one lasts.
//!
//! A row here makes the kind in scenario files, the schema, `docs/parameters.md`, the command line and the timeline
//! of the page (add menu, block, rows of the sheet), and what engine, converter and battery do in it. To add a kind,
//! add a row. A computed pass and the planner's rests are told from other kinds elsewhere: they are more than a row.
//!
//! Defaults are common practice, no source; they describe an invented car.

use super::Loads;
use super::quantity::{EVENT_PARAMETERS, EventParameter};

/// What engine and car do, as far as heat, battery and the look of a block go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Work {
    /// Engine off, standing where a charger may be.
    Parked,
    /// Engine off, pulled or pushed.
    Moved,
    /// Engine running, next to no power through the converter.
    Running,
    /// Engine running, the converter loaded.
    Loaded,
}

/// Whether the turbine stands while the engine turns: in gear with the car held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turbine {
    Turns,
    Held,
    /// As the event's `gear` says: held in gear, free in neutral.
    BySelector,
}

/// How car and engine make the loads while no log states them (`steady`).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FromCar {
    /// Driven tyres spin at the stated engine speed.
    Spinning,
    /// A steady road speed under power.
    Driving,
    /// A road speed with the throttle closed.
    Coasting,
}

impl FromCar {
    /// Quantities that only a log knows then.
    fn logged_keys(self) -> &'static [&'static str] {
        match self {
            FromCar::Spinning => &["input_power", "slip", "torque_ratio"],
            FromCar::Driving | FromCar::Coasting => {
                &["engine_speed", "input_power", "slip", "torque_ratio"]
            }
        }
    }
}

/// One row of the table.
struct Kind {
    /// The name in files and JSON, and for people.
    key: &'static str,
    label: &'static str,
    work: Work,
    turbine: Turbine,
    from_car: Option<FromCar>,
    /// How long one lasts that is new on the page.
    lasts: &'static str,
    /// Keys of [`EVENT_PARAMETERS`] with defaults in their SI display unit; `None`: the engine's idle speed.
    takes: &'static [(&'static str, Option<f64>)],
}

macro_rules! kinds {
    ($( $(#[$what:meta])+ $Kind:ident { $($field:ident: $value:expr),+ $(,)? } )+) => {
        /// What the engine and the car do during an event.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum EventKind { $( $(#[$what])+ $Kind, )+ }

        /// Number of kinds.
        const KINDS: usize = [$( EventKind::$Kind ),+].len();

        impl EventKind {
            /// All kinds.
            pub const ALL: [EventKind; KINDS] = [$( EventKind::$Kind ),+];
        }

        static ROWS: [Kind; KINDS] = [$( Kind { $($field: $value),+ } ),+];
    };
}

kinds! {
    /// Engine at idle, car standing, in neutral or in gear.
    Idle {
        key: "idle", label: "Idle", lasts: "5 min",
        work: Work::Running, turbine: Turbine::BySelector, from_car: None,
        takes: &[("engine_speed", None)],
    }
    /// Wheelspin in the water box.
    Burnout {
        key: "burnout", label: "Burnout", lasts: "4 s",
        work: Work::Loaded, turbine: Turbine::Turns, from_car: Some(FromCar::Spinning),
        takes: &[
            ("engine_speed", Some(5_500.0)), ("input_power", Some(160.0)), ("slip", Some(0.10)),
            ("torque_ratio", Some(1.0)), ("shifts", Some(0.0)),
        ],
    }
    /// Idle in gear between burnout and the brake.
    Stage {
        key: "stage", label: "Stage, in gear", lasts: "20 s",
        work: Work::Running, turbine: Turbine::Held, from_car: None,
        takes: &[("engine_speed", None)],
    }
    /// Held against the brake at a limited engine speed: the converter at full stall.
    BrakeHold {
        key: "brake_hold", label: "Held on the brake", lasts: "3 s",
        work: Work::Loaded, turbine: Turbine::Held, from_car: None,
        takes: &[("engine_speed", Some(4_200.0))],
    }
    /// The pass: from a data log, mean power and mean slip, or computed over its distance.
    Pass {
        key: "pass", label: "Pass", lasts: "10 s",
        work: Work::Loaded, turbine: Turbine::Turns, from_car: None,
        takes: &[
            ("engine_speed", Some(6_400.0)), ("input_power", Some(370.0)), ("slip", Some(0.16)),
            ("torque_ratio", Some(1.0)), ("shifts", Some(1.0)), ("road_speed", Some(140.0)),
        ],
    }
    /// Coasting after the finish.
    SlowDown {
        key: "slow_down", label: "Slow down", lasts: "20 s",
        work: Work::Running, turbine: Turbine::Turns, from_car: Some(FromCar::Coasting),
        takes: &[
            ("engine_speed", Some(2_800.0)), ("input_power", Some(4.0)), ("slip", Some(0.15)),
            ("torque_ratio", Some(1.0)), ("road_speed", Some(110.0)),
        ],
    }
    /// Driving back under power.
    ReturnRoad {
        key: "return_road", label: "Return road", lasts: "3 min",
        work: Work::Running, turbine: Turbine::Turns, from_car: Some(FromCar::Driving),
        takes: &[
            ("engine_speed", Some(1_500.0)), ("input_power", Some(6.0)), ("slip", Some(0.25)),
            ("torque_ratio", Some(1.0)), ("road_speed", Some(25.0)),
        ],
    }
    /// Pulled back, engine off.
    Tow {
        key: "tow", label: "Tow", lasts: "5 min",
        work: Work::Moved, turbine: Turbine::Turns, from_car: None,
        takes: &[("road_speed", Some(20.0))],
    }
    /// Standing, engine off.
    EngineOff {
        key: "engine_off", label: "Engine off", lasts: "10 min",
        work: Work::Parked, turbine: Turbine::Turns, from_car: None,
        takes: &[],
    }
    /// On a dyno, turning against a stated load.
    DynoPull {
        key: "dyno_pull", label: "Dyno pull", lasts: "20 s",
        work: Work::Loaded, turbine: Turbine::Turns, from_car: None,
        takes: &[
            ("engine_speed", Some(3_500.0)), ("input_power", Some(90.0)), ("slip", Some(0.12)),
            ("torque_ratio", Some(1.0)), ("shifts", Some(0.0)),
        ],
    }
}

impl EventKind {
    fn row(self) -> &'static Kind {
        &ROWS[self as usize]
    }

    /// The name in files and JSON.
    pub fn key(self) -> &'static str {
        self.row().key
    }

    /// The name for people.
    pub fn label(self) -> &'static str {
        self.row().label
    }

    /// What engine and car do.
    pub fn work(self) -> Work {
        self.row().work
    }

    /// How the page marks it: `off`, `running` or `loaded`.
    pub fn look(self) -> &'static str {
        match self.work() {
            Work::Parked | Work::Moved => "off",
            Work::Running => "running",
            Work::Loaded => "loaded",
        }
    }

    /// Whether the engine turns.
    pub fn engine_runs(self) -> bool {
        matches!(self.work(), Work::Running | Work::Loaded)
    }

    /// What decides whether the turbine stands.
    pub fn turbine(self) -> Turbine {
        self.row().turbine
    }

    /// Whether the engine works against a turbine that stands.
    pub fn holds_turbine(self, loads: &Loads) -> bool {
        match self.turbine() {
            Turbine::Turns => false,
            Turbine::Held => true,
            Turbine::BySelector => loads.in_gear,
        }
    }

    /// How car and engine make its loads while no log states them; `None` where loads are always stated (and for the
    /// pass, whose duration decides).
    pub fn from_car(self) -> Option<FromCar> {
        self.row().from_car
    }

    /// Quantities that only a log knows: while none of them is stated, the loads follow from the car.
    pub fn logged_keys(self) -> &'static [&'static str] {
        self.from_car().map_or(&[], FromCar::logged_keys)
    }

    /// How long one lasts that is new on the page.
    pub fn lasts(self) -> &'static str {
        self.row().lasts
    }

    /// The quantities it takes, with defaults in their SI display unit; `None`: the engine's idle speed.
    pub fn takes(self) -> impl Iterator<Item = (&'static EventParameter, Option<f64>)> {
        self.row().takes.iter().filter_map(|(key, default)| {
            let quantity = EVENT_PARAMETERS.iter().find(|quantity| quantity.key == *key)?;
            Some((quantity, *default))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_takes_known_quantities_in_range() {
        for kind in EventKind::ALL {
            assert_eq!(kind.takes().count(), kind.row().takes.len(), "{}", kind.key());
            for (quantity, default) in kind.takes() {
                let range_si = quantity.min_si()..=quantity.max_si();
                let within = |value| range_si.contains(&quantity.display_unit().to_si(value));
                assert!(default.is_none_or(within), "{} {}", kind.key(), quantity.key);
            }
            for key in kind.logged_keys() {
                assert!(kind.takes().any(|(quantity, _)| quantity.key == *key), "{}", kind.key());
            }
        }
    }

    #[test]
    fn keys_are_apart_and_new_ones_last_a_time() {
        for (place, kind) in EventKind::ALL.into_iter().enumerate() {
            assert!(EventKind::ALL[..place].iter().all(|other| other.key() != kind.key()));
            let lasts = crate::units::parse_quantity(crate::units::Dimension::Time, kind.lasts());
            assert!(lasts.is_ok_and(|time_s| time_s > 0.0), "{}", kind.key());
        }
    }
}

//! The course of a pass in the reader's units: the table of the pass picture.

use serde::Serialize;

use super::mark_label;
use crate::chart::{ordinal, shifts};
use crate::moment::{PassMoment, pass_at};
use crate::pass::Mark;
use crate::scenario::Scenario;
use crate::trace::Trace;
use crate::units::{Dimension, System, power_unit, rpm, speed_unit, unit_or_si};

/// Something that happens in a pass.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PassRow {
    /// `Launch`, `2nd gear`, `60 ft`, `Finish, 1/4 mile`.
    pub what: String,
    /// Elapsed time as the timing equipment has it, from rollout on (s); negative before.
    pub elapsed_s: f64,
    pub at: PassMoment,
}

/// What a log says of a pass.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LoggedPass {
    pub engine_rpm: f64,
    pub input_power: f64,
    pub power_unit: &'static str,
    /// 0 to 1.
    pub slip: f64,
    pub speed: f64,
    pub shifts: f64,
}

/// The pass of a launch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PassCourse {
    pub start_s: f64,
    pub end_s: f64,
    pub speed_unit: &'static str,
    /// In order of time; empty for a logged pass.
    pub rows: Vec<PassRow>,
    /// Present when the pass is logged.
    pub logged: Option<LoggedPass>,
    /// A sentence about it.
    pub says: String,
}

/// The pass of a launch by its index; `None` where the day has none of that index.
pub fn pass_course(
    scenario: &Scenario,
    trace: &Trace,
    launch: usize,
    system: System,
) -> Option<PassCourse> {
    let launch = trace.launches.get(launch)?;
    let event = trace.events.get(launch.event)?;
    let speed_unit = speed_unit(system);
    let mut course = PassCourse {
        start_s: event.start_s,
        end_s: event.end_s,
        speed_unit,
        rows: Vec::new(),
        logged: None,
        says: String::new(),
    };
    let Some(pass) = &launch.pass else {
        let loads = &event.loads;
        course.logged = Some(LoggedPass {
            engine_rpm: rpm(loads.engine_speed_rad_per_s),
            input_power: unit_or_si(Dimension::Power, power_unit(system))
                .from_si(loads.input_power_w),
            power_unit: power_unit(system),
            slip: loads.slip,
            speed: unit_or_si(Dimension::Velocity, speed_unit).from_si(loads.road_speed_m_per_s),
            shifts: loads.shifts,
        });
        course.says = format!(
            "This pass of {:.1} s is logged, not computed: only the means of the log are known.",
            event.end_s - event.start_s
        );
        return Some(course);
    };
    let velocity = unit_or_si(Dimension::Velocity, speed_unit);
    let mut put = |what: String, since_s: f64, mark: Option<&Mark>| {
        let Some(mut at) = pass_at(&scenario.setup, pass, since_s, system) else { return };
        if let Some(mark) = mark {
            // Marks are located on the integration's own curve, not on the straight between two of its steps.
            at.speed = velocity.from_si(mark.speed_m_per_s);
            at.engine_rpm = rpm(mark.engine_rad_per_s);
        }
        // In order of time; there are a dozen at most.
        let place = course.rows.iter().filter(|row| row.at.time_s <= since_s).count();
        course.rows.insert(place, PassRow { what, elapsed_s: since_s - pass.rollout_s, at });
    };
    put(String::from("Launch"), 0.0, None);
    for shift in shifts(pass) {
        put(format!("{} gear", ordinal(shift.gear + 1)), shift.time_s, None);
    }
    for (place, mark) in pass.marks.iter().enumerate() {
        let label = mark_label(mark.distance_m);
        let last = place + 1 == pass.marks.len();
        let what = if last { format!("Finish, {label}") } else { label.to_string() };
        put(what, mark.elapsed_s + pass.rollout_s, Some(mark));
    }
    if let Some(PassRow { elapsed_s, at, .. }) = course.rows.last() {
        course.says = format!(
            "ET {elapsed_s:.3} s at {:.1} {speed_unit}: the engine turns {:.0} rpm at the finish, the input shaft {:.0}, slip {:.1} %.",
            at.speed,
            at.engine_rpm,
            at.turbine_rpm,
            100.0 * at.slip
        );
    }
    Some(course)
}

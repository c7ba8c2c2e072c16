//! What the reader sees: the usual US or SI unit of each quantity, temperatures, times and clocks as texts.
//!
//! These are for showing; a file may state a quantity in any unit of its dimension.

use super::{Dimension, System, significant, unit_or_si};

/// A temperature in the reader's scale: value in °F or °C.
pub fn temperature_in(system: System, temperature_k: f64) -> f64 {
    unit_or_si(Dimension::Temperature, temperature_symbol(system)).from_si(temperature_k)
}

/// A temperature difference in the reader's scale.
pub fn temperature_difference_in(system: System, delta_k: f64) -> f64 {
    match system {
        System::Us => delta_k * 1.8,
        System::Si => delta_k,
    }
}

/// `°F` or `°C`.
pub fn temperature_symbol(system: System) -> &'static str {
    system.pick("°F", "°C")
}

/// `162 °F`: a temperature as a reader sees it, to the whole degree, with a space that does not break.
pub fn temperature_text(system: System, temperature_k: f64) -> String {
    format!("{:.0}\u{a0}{}", temperature_in(system, temperature_k), temperature_symbol(system))
}

/// `28 °F`: a temperature difference as a reader sees it, likewise.
pub fn temperature_difference_text(system: System, delta_k: f64) -> String {
    let difference = temperature_difference_in(system, delta_k);
    format!("{difference:.0}\u{a0}{}", temperature_symbol(system))
}

/// `10 s`, `12 min`, `1 h 05 min`: a time as a reader sees it.
pub fn time_text(time_s: f64) -> String {
    if time_s < 99.5 {
        return format!("{} s", significant((time_s * 10.0).round() / 10.0, 3));
    }
    let minutes = (time_s / 60.0).round() as i64;
    if minutes < 100 {
        let exact = time_s / 60.0;
        if (exact - exact.round()).abs() > 0.05 && exact < 20.0 {
            return format!("{exact:.1} min");
        }
        return format!("{minutes} min");
    }
    format!("{} h {:02} min", minutes / 60, minutes % 60)
}

/// `1 h 05 min` as a clock of the day: `1:05`, hours and minutes since its start.
pub fn clock_text(time_s: f64) -> String {
    let minutes = (time_s / 60.0).floor() as i64;
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

/// `1:05:09` as a clock of the day, with seconds.
pub fn clock_seconds_text(time_s: f64) -> String {
    let seconds = (time_s + 1e-6).floor() as i64;
    format!("{}:{:02}:{:02}", seconds / 3600, seconds / 60 % 60, seconds % 60)
}

/// The reader's unit of heat.
pub fn energy_unit(system: System) -> &'static str {
    system.pick("Btu", "kJ")
}

/// Heat (J) in it.
pub fn energy_in(system: System, heat_j: f64) -> f64 {
    unit_or_si(Dimension::Energy, energy_unit(system)).from_si(heat_j)
}

/// The reader's unit of pressure.
pub fn pressure_unit(system: System) -> &'static str {
    system.pick("psi", "bar")
}

/// The reader's unit of flow.
pub fn flow_unit(system: System) -> &'static str {
    system.pick("gpm", "L/min")
}

/// The reader's unit of speed over ground.
pub fn speed_unit(system: System) -> &'static str {
    system.pick("mph", "km/h")
}

/// The reader's unit of distances and altitudes.
pub fn length_unit(system: System) -> &'static str {
    system.pick("ft", "m")
}

/// The reader's unit of power.
pub fn power_unit(system: System) -> &'static str {
    system.pick("hp", "kW")
}

/// A pressure (Pa) in it.
pub fn pressure_in(system: System, pressure_pa: f64) -> f64 {
    unit_or_si(Dimension::Pressure, pressure_unit(system)).from_si(pressure_pa)
}

//! The `setup` and `initial_temperatures` of a scenario file.

use super::json::Reader;
use super::parameters::{PARAMETERS, Parameter, Setup};
use super::tables::TABLES;
use super::{alternatives, tables};
use crate::air::{SPECIFIC_HEAT_J_PER_KG_K, air_properties};
use crate::error::{Error, ErrorKind};
use crate::fluid::{CLASSES, FluidClass};
use crate::timeline::{NODES, Node};
use crate::units::{Dimension, unit_or_si};

/// Temperatures that a day may start with: from an arctic night to a unit straight off the bench (°C).
const INITIAL_CELSIUS: (f64, f64) = (-40.0, 250.0);

/// Largest ratio of a cooler's rated conductance to the capacity of its rated air flow (number of transfer
/// units). Compact exchangers are built with 1 to 5 (Kays & London, from memory).
const MAX_RATED_NTU: f64 = 8.0;

/// Reads `setup`; whatever is not stated has its default.
pub fn read(setup: Option<Reader>) -> Result<Setup, Error> {
    let mut read = Setup::default();
    let Some(reader) = setup else { return Ok(read) };
    let object = reader.object()?;
    let mut parts: Vec<&str> = Vec::new();
    for parameter in PARAMETERS {
        if !parts.contains(&parameter.part) {
            parts.push(parameter.part);
        }
    }
    object.only(&parts)?;

    for part in parts {
        let Some(part_reader) = object.optional(part) else { continue };
        let values = part_reader.object()?;
        let mut known: Vec<&str> = PARAMETERS
            .iter()
            .filter(|parameter| parameter.part == part)
            .map(|parameter| parameter.key)
            .collect();
        if part == "fluid" {
            known.insert(0, "class");
        }
        known.extend(
            alternatives::of_part(part).flat_map(|other| other.inputs).map(|input| input.key),
        );
        known.extend(TABLES.iter().filter(|table| table.part == part).map(|table| table.key));
        values.only(&known)?;
        if part == "fluid"
            && let Some(class) = values.optional("class")
        {
            let choices: Vec<(&'static str, &'static FluidClass)> =
                CLASSES.iter().map(|class| (class.key, class)).collect();
            read.take_fluid_class(class.choice(&choices)?);
        }
        for parameter in PARAMETERS.iter().filter(|parameter| parameter.part == part) {
            if let Some(value) = values.optional(parameter.key) {
                let value_si = read_parameter(&value, parameter)?;
                parameter.set_si(&mut read, value_si);
            }
        }
        alternatives::read(&values, part, &mut read)?;
        tables::read(&values, part, &mut read)?;
    }
    check_together(&read)?;
    Ok(read)
}

/// The largest cooler (UA, W/K) that its rated air flow allows.
pub fn largest_ua_w_per_k(setup: &Setup) -> f64 {
    let air = air_properties(setup.air.temperature_k, setup.air.pressure_pa);
    MAX_RATED_NTU
        * setup.cooler.rated_air_flow_m3_per_s
        * air.density_kg_per_m3
        * SPECIFIC_HEAT_J_PER_KG_K
}

/// Pairs of parameters that are each in range and cannot both hold.
fn check_together(setup: &Setup) -> Result<(), Error> {
    let mm2 = |m2_per_s: f64| format!("{:.2} mm²/s", m2_per_s * 1e6);
    let celsius = |kelvin: f64| format!("{:.1} °C", kelvin - 273.15);
    if setup.fluid.kv100_m2_per_s >= 0.6 * setup.fluid.kv40_m2_per_s {
        return Err(Error::new(
            ErrorKind::Contradiction,
            "setup.fluid.kv100",
            mm2(setup.fluid.kv100_m2_per_s),
            format!("below 0.6 times kv40, which is {}", mm2(setup.fluid.kv40_m2_per_s)),
            "Take both viscosities from one data sheet; the one at 100 °C is the smaller by far.",
        ));
    }
    let largest_w_per_k = largest_ua_w_per_k(setup);
    if setup.cooler.ua_w_per_k > largest_w_per_k {
        return Err(Error::new(
            ErrorKind::Contradiction,
            "setup.cooler.ua",
            format!("{:.0} W/K", setup.cooler.ua_w_per_k),
            format!(
                "at most {largest_w_per_k:.0} W/K with its rated air flow: no core is {MAX_RATED_NTU} transfer units deep"
            ),
            "Rate the cooler with the air flow it was measured at, or state a smaller one.",
        ));
    }
    if setup.limits.window_low_k >= setup.limits.window_high_k {
        return Err(Error::new(
            ErrorKind::Contradiction,
            "setup.limits.window_low",
            celsius(setup.limits.window_low_k),
            format!("below window_high, which is {}", celsius(setup.limits.window_high_k)),
            "Widen the launch window.",
        ));
    }
    Ok(())
}

/// Reads the value of a parameter (SI), within its range.
pub fn read_parameter(value: &Reader, parameter: &Parameter) -> Result<f64, Error> {
    let (min_si, max_si) = (parameter.min_si(), parameter.max_si());
    value.quantity(parameter.dimension, parameter.us_unit, min_si, max_si)
}

/// Reads `initial_temperatures`: `"all"` and single nodes; what is not stated starts as it is `otherwise`. By itself, because most
/// days state none.
#[inline(never)]
pub fn read_initial_temperatures(
    reader: Reader,
    otherwise: [f64; NODES],
) -> Result<[f64; NODES], Error> {
    let mut temperature_k = otherwise;
    let object = reader.object()?;
    let mut known = vec!["all"];
    known.extend(Node::ALL.iter().map(|node| node.key()));
    object.only(&known)?;
    let celsius = unit_or_si(Dimension::Temperature, "°C");
    let read = |value: Reader| {
        value.quantity(
            Dimension::Temperature,
            "°F",
            celsius.to_si(INITIAL_CELSIUS.0),
            celsius.to_si(INITIAL_CELSIUS.1),
        )
    };
    if let Some(all) = object.optional("all") {
        temperature_k = [read(all)?; NODES];
    }
    for node in Node::ALL {
        if let Some(value) = object.optional(node.key()) {
            temperature_k[node.index()] = read(value)?;
        }
    }
    Ok(temperature_k)
}

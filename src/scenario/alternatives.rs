//! Other ways to state a parameter: altitude for pressure, stall speed at a torque for the K-factor, a rating
//! or a size for the cooler's UA.
//!
//! A row here makes keys of scenario files, schema entries, rows of `docs/parameters.md` and boxes on the
//! page. What is stated is turned into the parameter when the file is read; a day knows only that.

use super::json::{ObjectReader, Reader};
use super::parameters::{PARAMETERS, Setup};
use crate::air::{SPECIFIC_HEAT_J_PER_KG_K, air_properties};
use crate::converter::k_from_stall;
use crate::cooler::{Arrangement, ntu_for_effectiveness};
use crate::error::{Error, ErrorKind};
use crate::units::{Dimension, significant, unit_or_si};
use crate::weather::{STANDARD_PRESSURE_PA, geopotential_altitude_m, standard_pressure_pa};

/// One quantity that is stated instead.
pub struct Input {
    pub key: &'static str,
    pub dimension: Dimension,
    pub us_unit: &'static str,
    pub si_unit: &'static str,
    /// In the SI display unit.
    min: f64,
    max: f64,
    /// A usual value, in the SI display unit: for examples and for the page to start from.
    usual: f64,
    pub label: &'static str,
    pub sentence: &'static str,
}

impl Input {
    /// Least allowed value, SI.
    pub fn min_si(&self) -> f64 {
        unit_or_si(self.dimension, self.si_unit).to_si(self.min)
    }

    /// Largest allowed value, SI.
    pub fn max_si(&self) -> f64 {
        unit_or_si(self.dimension, self.si_unit).to_si(self.max)
    }

    /// A usual value, SI.
    pub fn usual_si(&self) -> f64 {
        unit_or_si(self.dimension, self.si_unit).to_si(self.usual)
    }
}

/// What is wrong, and what helps.
type NoAnswer = (&'static str, &'static str);

/// A way to state a parameter through others, all of them together.
pub struct Alternative {
    /// Key of the part: `converter`.
    pub part: &'static str,
    /// Key of the parameter it stands in for: `k_factor`.
    pub instead_of: &'static str,
    /// That parameter's name in a sentence.
    name: &'static str,
    pub inputs: &'static [Input],
    pub label: &'static str,
    pub sentence: &'static str,
    pub source: &'static str,
    /// SI in, SI out; what is wrong and what helps when there is no answer.
    value_si: fn(&Setup, &[f64]) -> Result<f64, NoAnswer>,
}

/// UA of a plate-and-fin oil cooler per volume of its core, W/(m³·K).
const UA_PER_CORE_VOLUME: f64 = 30e3;
/// Oil temperature of a cooler's rating (80 °C, K), as everywhere.
const RATING_OIL_K: f64 = 353.15;
/// Air temperature of a cooler's rating (20 °C, K).
const RATING_AIR_K: f64 = 293.15;

/// Every alternative.
pub static ALTERNATIVES: &[Alternative] = &[
    Alternative {
        part: "air",
        instead_of: "pressure",
        name: "air pressure",
        inputs: &[Input {
            key: "altitude",
            dimension: Dimension::Length,
            us_unit: "ft",
            si_unit: "m",
            min: -400.0,
            max: 4_000.0,
            usual: 300.0,
            label: "Altitude of the track",
            sentence: "Above sea level, from a map.",
        }],
        label: "By altitude",
        sentence: "Pressure of the standard atmosphere at that altitude; weather moves it by 2 % either way.",
        source: "ISO 2533",
        value_si: |_, values| Ok(standard_pressure_pa(geopotential_altitude_m(values[0]))),
    },
    Alternative {
        part: "converter",
        instead_of: "k_factor",
        name: "K-factor at stall",
        inputs: &[
            Input {
                key: "stall_speed",
                dimension: Dimension::AngularVelocity,
                us_unit: "rpm",
                si_unit: "rpm",
                min: 1_000.0,
                max: 9_000.0,
                usual: 5_200.0,
                label: "Stall speed",
                sentence: "Engine speed with the turbine held, at the torque beside it.",
            },
            Input {
                key: "stall_torque",
                dimension: Dimension::Torque,
                us_unit: "lbf ft",
                si_unit: "N m",
                min: 50.0,
                max: 6_000.0,
                usual: 725.0,
                label: "Torque at that stall",
                sentence: "Engine torque at which the stall speed was read or is sold.",
            },
        ],
        label: "By stall speed at a torque",
        sentence: "K = speed / √torque.",
        source: "SAE J643 definition",
        value_si: |_, values| Ok(k_from_stall(values[0], values[1])),
    },
    Alternative {
        part: "cooler",
        instead_of: "ua",
        name: "cooler size (UA)",
        inputs: &[
            Input {
                key: "rating_heat",
                dimension: Dimension::Power,
                us_unit: "Btu/min",
                si_unit: "kW",
                min: 0.2,
                max: 80.0,
                usual: 3.0,
                label: "Rated heat",
                sentence: "Heat that the maker states, at the rated oil and air flow.",
            },
            Input {
                key: "rating_difference",
                dimension: Dimension::TemperatureDifference,
                us_unit: "°F",
                si_unit: "K",
                min: 5.0,
                max: 150.0,
                usual: 55.0,
                label: "Oil in over air in",
                sentence: "Inlet temperature difference at which that heat is stated.",
            },
        ],
        label: "By a rating point",
        sentence: "UA that gives the rated heat in cross-flow at the rated flows, with oil of 80 °C and air of 20 °C.",
        source: "effectiveness–NTU method, both streams unmixed",
        value_si: |setup, values| {
            let fluid = setup.stated_fluid();
            let oil_w_per_k = setup.cooler.rated_oil_flow_m3_per_s
                * fluid.density_kg_per_m3(RATING_OIL_K)
                * fluid.specific_heat_j_per_kg_k(RATING_OIL_K);
            let air_w_per_k = setup.cooler.rated_air_flow_m3_per_s
                * air_properties(RATING_AIR_K, STANDARD_PRESSURE_PA).density_kg_per_m3
                * SPECIFIC_HEAT_J_PER_KG_K;
            let (least, most) = (oil_w_per_k.min(air_w_per_k), oil_w_per_k.max(air_w_per_k));
            let wanted = values[0] / (least * values[1]);
            ntu_for_effectiveness(Arrangement::CrossflowUnmixed, wanted, least / most)
                .map(|ntu| ntu * least)
                .ok_or((
                    "no cooler moves that much heat between these flows",
                    "Raise rated_oil_flow or rated_air_flow to what the rating was measured at, or lower rating_heat.",
                ))
        },
    },
    Alternative {
        part: "cooler",
        instead_of: "ua",
        name: "cooler size (UA)",
        inputs: &[
            Input {
                key: "core_width",
                dimension: Dimension::Length,
                us_unit: "in",
                si_unit: "m",
                min: 0.05,
                max: 1.0,
                usual: 0.28,
                label: "Core width",
                sentence: "Finned part only.",
            },
            Input {
                key: "core_height",
                dimension: Dimension::Length,
                us_unit: "in",
                si_unit: "m",
                min: 0.03,
                max: 1.0,
                usual: 0.2,
                label: "Core height",
                sentence: "Finned part only.",
            },
            Input {
                key: "core_depth",
                dimension: Dimension::Length,
                us_unit: "in",
                si_unit: "m",
                min: 0.01,
                max: 0.15,
                usual: 0.04,
                label: "Core depth",
                sentence: "In the direction of the air.",
            },
        ],
        label: "By the size of the core",
        sentence: "An estimate for plate-and-fin cores: 30 W/K per litre of core at the rated flows, ±40 %.",
        source: "common practice, no source",
        value_si: |_, values| Ok(UA_PER_CORE_VOLUME * values[0] * values[1] * values[2]),
    },
];

/// Alternatives of a part.
pub fn of_part(part: &str) -> impl Iterator<Item = &'static Alternative> {
    ALTERNATIVES.iter().filter(move |alternative| alternative.part == part)
}

/// Reads the alternatives that a part's object states into the set-up.
pub fn read(values: &ObjectReader, part: &str, setup: &mut Setup) -> Result<(), Error> {
    for alternative in of_part(part) {
        let stated: Vec<Option<Reader>> =
            alternative.inputs.iter().map(|input| values.optional(input.key)).collect();
        if let Some(first) = stated.iter().flatten().next() {
            read_stated(alternative, first, &stated, values, setup)?;
        }
    }
    Ok(())
}

/// Reads an alternative of which something is stated, `first` of it; by itself, because most days state none.
#[inline(never)]
fn read_stated(
    alternative: &Alternative,
    first: &Reader,
    stated: &[Option<Reader>],
    values: &ObjectReader,
    setup: &mut Setup,
) -> Result<(), Error> {
    let part = alternative.part;
    if values.optional(alternative.instead_of).is_some() {
        return Err(first.error(
            ErrorKind::Contradiction,
            format!("either this or \"{}\", not both", alternative.instead_of),
            "Remove one of them.",
        ));
    }
    let rival = of_part(part).find(|other| {
        !std::ptr::eq(*other, alternative)
            && other.instead_of == alternative.instead_of
            && other.inputs.iter().any(|input| values.optional(input.key).is_some())
    });
    if let Some(rival) = rival {
        return Err(first.error(
            ErrorKind::Contradiction,
            format!("either this or \"{}\", not both", rival.inputs[0].key),
            "State it one way.",
        ));
    }
    let mut values_si = Vec::new();
    for (input, value) in alternative.inputs.iter().zip(stated) {
        let Some(value) = value else {
            let unit = unit_or_si(input.dimension, input.us_unit);
            let example = significant(unit.from_si(input.usual_si()), 3);
            return Err(Error::new(
                ErrorKind::Missing,
                format!("{}.{}", values.path(), input.key),
                "nothing",
                format!("belongs to \"{}\"", first_key(alternative, stated)),
                format!("Add \"{}\": \"{example} {}\".", input.key, unit.symbol),
            ));
        };
        values_si.push(value.quantity(
            input.dimension,
            input.us_unit,
            input.min_si(),
            input.max_si(),
        )?);
    }
    let value_si = (alternative.value_si)(setup, &values_si)
        .map_err(|(limit, remedy)| first.error(ErrorKind::Contradiction, limit, remedy))?;
    let Some(parameter) =
        PARAMETERS.iter().find(|row| row.part == part && row.key == alternative.instead_of)
    else {
        return Ok(());
    };
    let unit = unit_or_si(parameter.dimension, parameter.us_unit);
    let shown = |si: f64| {
        format!("{} {}", significant(unit.from_si(si), 3), unit.symbol).trim_end().to_string()
    };
    if !(parameter.min_si()..=parameter.max_si()).contains(&value_si) {
        return Err(first.error(
            ErrorKind::OutOfRange,
            format!(
                "makes {} {}, which must be from {} to {}",
                alternative.name,
                shown(value_si),
                shown(parameter.min_si()),
                shown(parameter.max_si())
            ),
            "Check these numbers and their units.",
        ));
    }
    parameter.set_si(setup, value_si);
    Ok(())
}

fn first_key(alternative: &Alternative, stated: &[Option<Reader>]) -> &'static str {
    let place = stated.iter().position(Option::is_some).unwrap_or(0);
    alternative.inputs[place].key
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fluid::Fluid;

    #[test]
    fn every_alternative_stands_in_for_a_parameter_and_has_a_usual_value_in_range() {
        for alternative in ALTERNATIVES {
            let stood_for = PARAMETERS
                .iter()
                .find(|row| row.part == alternative.part && row.key == alternative.instead_of);
            let label = stood_for.map(|row| row.wording().label.to_lowercase());
            assert_eq!(label, Some(alternative.name.to_lowercase()), "{}", alternative.label);
            let usual: Vec<f64> = alternative.inputs.iter().map(Input::usual_si).collect();
            for (input, value) in alternative.inputs.iter().zip(&usual) {
                assert!(input.min_si() < *value && *value < input.max_si(), "{}", input.key);
                let taken = PARAMETERS
                    .iter()
                    .any(|row| row.part == alternative.part && row.key == input.key);
                assert!(!taken, "{} is a parameter too", input.key);
            }
            let value = (alternative.value_si)(&Setup::default(), &usual).unwrap();
            assert!(value > 0.0, "{}", alternative.label);
        }
    }

    /// ISO 2533 at 1 000 m geopotential: 89 874.57 Pa; and a K-factor in closed form.
    #[test]
    fn alternatives_by_hand() {
        let setup = Setup::default();
        let geometric_m = 6_356_766.0 * 1_000.0 / (6_356_766.0 - 1_000.0);
        let pressure_pa = (ALTERNATIVES[0].value_si)(&setup, &[geometric_m]).unwrap();
        assert!((pressure_pa - 89_874.57).abs() < 0.1, "{pressure_pa}");
        assert_eq!((ALTERNATIVES[1].value_si)(&setup, &[500.0, 625.0]), Ok(20.0));
        let litres_w_per_k = (ALTERNATIVES[3].value_si)(&setup, &[0.1, 0.1, 0.1]).unwrap();
        assert!((litres_w_per_k - 30.0).abs() < 1e-9);
    }

    /// A cooler stated by the heat that its UA gives in the method itself comes back as that UA.
    #[test]
    fn a_rating_returns_its_cooler() {
        let setup = Setup::default();
        let fluid = Fluid::new(34.0, 7.2, 860.0);
        let oil = setup.cooler.rated_oil_flow_m3_per_s
            * fluid.density_kg_per_m3(RATING_OIL_K)
            * fluid.specific_heat_j_per_kg_k(RATING_OIL_K);
        let air = setup.cooler.rated_air_flow_m3_per_s
            * air_properties(RATING_AIR_K, STANDARD_PRESSURE_PA).density_kg_per_m3
            * SPECIFIC_HEAT_J_PER_KG_K;
        let (least, most) = (oil.min(air), oil.max(air));
        let share =
            crate::cooler::effectiveness(Arrangement::CrossflowUnmixed, 85.0 / least, least / most);
        let ua = (ALTERNATIVES[2].value_si)(&setup, &[share * least * 50.0, 50.0]).unwrap();
        assert!((ua - 85.0).abs() < 1e-6, "{ua}");
        assert!((ALTERNATIVES[2].value_si)(&setup, &[80e3, 5.0]).is_err());
    }
}

//! Units: from what people write to SI and back.
//!
//! Inside the program every number is SI (K, kg, J, W, m, s, Pa, m³/s, rad/s). The trade's units
//! (°F, psi, gpm, qt, lbf·ft, hp, rpm, ft, mph, lb) live here and nowhere else, so the page and the
//! command line convert nothing themselves.
//!
//! A quantity is written as a number and a unit, `"95 °F"`, `"4.5 gpm"`, and a time may be a sum,
//! `"1 h 30 min"`. Absolute temperature and temperature difference are two dimensions: 10 °F of
//! difference is 5.56 K, 10 °F on a gauge is 260.93 K.
//!
//! Factors: NIST Special Publication 811 (2008), appendix B; mechanical horsepower 550 ft·lbf/s,
//! US liquid gallon 231 in³, international foot 0.3048 m, pound 0.453 592 37 kg, all exact by definition.
//!
//! What the reader sees of it, in US or SI units, is `reader`.
//!
//! Not here: locale-specific decimal commas. `"1,5 L"` is refused rather than guessed.

mod reader;

pub use reader::*;

use std::f64::consts::PI;

use crate::decimal::decimal;

/// What a quantity measures. Two units convert into each other only within one dimension.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dimension {
    /// A plain number: share, ratio, emissivity, count.
    One,
    /// Absolute temperature, SI: K.
    Temperature,
    /// Difference of temperatures, SI: K.
    TemperatureDifference,
    /// s
    Time,
    /// kg
    Mass,
    /// m
    Length,
    /// m²
    Area,
    /// m³
    Volume,
    /// m³/s
    Flow,
    /// m/s
    Velocity,
    /// rad/s
    AngularVelocity,
    /// W
    Power,
    /// J
    Energy,
    /// J/K
    HeatCapacity,
    /// W/K
    Conductance,
    /// (W/K)/(m³/s) = J/(K·m³)
    ConductancePerFlow,
    /// Pa
    Pressure,
    /// N·m
    Torque,
    /// m²/s
    KinematicViscosity,
    /// kg/m³
    Density,
    /// A
    Current,
    /// A·s
    Charge,
    /// Converter K-factor, speed over root of torque. SI: (rad/s)/√(N·m).
    KFactor,
    /// Pump displacement per turn. SI: m³/rad.
    Displacement,
    /// Moment of inertia. SI: kg·m².
    Inertia,
    /// V
    Voltage,
}

impl Dimension {
    /// The word used in messages: "needs a pressure".
    pub fn noun(self) -> &'static str {
        match self {
            Dimension::One => "a plain number",
            Dimension::Temperature => "a temperature",
            Dimension::TemperatureDifference => "a temperature difference",
            Dimension::Time => "a time",
            Dimension::Mass => "a mass",
            Dimension::Length => "a length",
            Dimension::Area => "an area",
            Dimension::Volume => "a volume",
            Dimension::Flow => "a flow",
            Dimension::Velocity => "a speed",
            Dimension::AngularVelocity => "an engine speed",
            Dimension::Power => "a power",
            Dimension::Energy => "an energy",
            Dimension::HeatCapacity => "a heat capacity",
            Dimension::Conductance => "a conductance",
            Dimension::ConductancePerFlow => "a conductance per flow",
            Dimension::Pressure => "a pressure",
            Dimension::Torque => "a torque",
            Dimension::KinematicViscosity => "a kinematic viscosity",
            Dimension::Density => "a density",
            Dimension::Current => "a current",
            Dimension::Charge => "a battery charge",
            Dimension::KFactor => "a converter K-factor",
            Dimension::Displacement => "a displacement per turn",
            Dimension::Voltage => "a voltage",
            Dimension::Inertia => "a moment of inertia",
        }
    }
}

/// The two systems a reader can choose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum System {
    /// °F, psi, gpm, qt, hp, lb, ft, mph: the trade's.
    #[default]
    Us,
    /// °C, bar, L/min, L, kW, kg, m, km/h.
    Si,
}

impl System {
    /// What the reader's system has of two.
    pub fn pick<T>(self, us: T, si: T) -> T {
        match self {
            System::Us => us,
            System::Si => si,
        }
    }
}

/// One unit: `si = value × factor + offset`.
#[derive(Debug, Clone, Copy)]
pub struct Unit {
    /// The spelling we print.
    pub symbol: &'static str,
    /// Other spellings we read. Compared without regard to case, spaces, `·` and `.`.
    pub aliases: &'static [&'static str],
    pub dimension: Dimension,
    pub factor: f64,
    pub offset: f64,
}

const fn unit(
    symbol: &'static str,
    aliases: &'static [&'static str],
    dimension: Dimension,
    factor: f64,
) -> Unit {
    Unit { symbol, aliases, dimension, factor, offset: 0.0 }
}

const LB: f64 = 0.453_592_37;
const FT: f64 = 0.3048;
const GALLON: f64 = 231.0 * 0.0254 * 0.0254 * 0.0254;
const LBF: f64 = LB * 9.806_65;
const BTU: f64 = 1_055.055_852_62;
const CFM: f64 = FT * FT * FT / 60.0;
const RPM: f64 = PI / 30.0;
/// √(lbf·ft in N·m); `f64::sqrt` is not `const`, so the digits stand here and a test checks them.
const SQRT_LBF_FT: f64 = 1.164_395_958_568_819_7;

/// Every unit that can be written, the first of a dimension being its SI unit.
pub const UNITS: &[Unit] = &[
    unit("K", &["kelvin"], Dimension::Temperature, 1.0),
    Unit {
        symbol: "°C",
        aliases: &["C", "degC", "celsius"],
        dimension: Dimension::Temperature,
        factor: 1.0,
        offset: 273.15,
    },
    Unit {
        symbol: "°F",
        aliases: &["F", "degF", "fahrenheit"],
        dimension: Dimension::Temperature,
        factor: 5.0 / 9.0,
        offset: 459.67 * 5.0 / 9.0,
    },
    unit("K", &["kelvin", "°C", "C", "degC"], Dimension::TemperatureDifference, 1.0),
    unit("°F", &["F", "degF"], Dimension::TemperatureDifference, 5.0 / 9.0),
    unit("s", &["sec", "second", "seconds"], Dimension::Time, 1.0),
    unit("ms", &[], Dimension::Time, 1e-3),
    unit("min", &["minute", "minutes"], Dimension::Time, 60.0),
    unit("h", &["hr", "hour", "hours"], Dimension::Time, 3600.0),
    unit("kg", &[], Dimension::Mass, 1.0),
    unit("lb", &["lbs", "lbm", "pound", "pounds"], Dimension::Mass, LB),
    unit("m", &["metre", "meter"], Dimension::Length, 1.0),
    unit("mm", &[], Dimension::Length, 1e-3),
    unit("in", &["inch", "inches"], Dimension::Length, 0.0254),
    unit("ft", &["foot", "feet"], Dimension::Length, FT),
    unit("m²", &["m2", "m^2"], Dimension::Area, 1.0),
    unit("ft²", &["ft2", "ft^2", "sq ft"], Dimension::Area, FT * FT),
    unit("in²", &["in2", "in^2", "sq in"], Dimension::Area, 0.0254 * 0.0254),
    unit("m³", &["m3", "m^3"], Dimension::Volume, 1.0),
    unit("L", &["litre", "liter", "litres", "liters"], Dimension::Volume, 1e-3),
    unit("qt", &["quart", "quarts"], Dimension::Volume, GALLON / 4.0),
    unit("gal", &["gallon", "gallons"], Dimension::Volume, GALLON),
    unit("m³/s", &["m3/s"], Dimension::Flow, 1.0),
    unit("L/min", &["lpm", "l/m"], Dimension::Flow, 1e-3 / 60.0),
    unit("L/s", &[], Dimension::Flow, 1e-3),
    unit("m³/h", &["m3/h"], Dimension::Flow, 1.0 / 3600.0),
    unit("gpm", &["gal/min"], Dimension::Flow, GALLON / 60.0),
    unit("qt/min", &["qpm"], Dimension::Flow, GALLON / 240.0),
    unit("cfm", &["ft³/min", "ft3/min"], Dimension::Flow, CFM),
    unit("m/s", &[], Dimension::Velocity, 1.0),
    unit("km/h", &["kph", "kmh"], Dimension::Velocity, 1.0 / 3.6),
    unit("mph", &["mi/h"], Dimension::Velocity, 1609.344 / 3600.0),
    unit("ft/s", &["fps"], Dimension::Velocity, FT),
    unit("rad/s", &[], Dimension::AngularVelocity, 1.0),
    unit("rpm", &["1/min", "r/min", "rev/min"], Dimension::AngularVelocity, RPM),
    unit("W", &["watt"], Dimension::Power, 1.0),
    unit("kW", &[], Dimension::Power, 1e3),
    unit("hp", &["bhp"], Dimension::Power, 550.0 * FT * LBF),
    unit("Btu/min", &["btu/m"], Dimension::Power, BTU / 60.0),
    unit("Btu/h", &["btu/hr"], Dimension::Power, BTU / 3600.0),
    unit("J", &["joule"], Dimension::Energy, 1.0),
    unit("kJ", &[], Dimension::Energy, 1e3),
    unit("MJ", &[], Dimension::Energy, 1e6),
    unit("Btu", &[], Dimension::Energy, BTU),
    unit("J/K", &["J/°C"], Dimension::HeatCapacity, 1.0),
    unit("kJ/K", &["kJ/°C"], Dimension::HeatCapacity, 1e3),
    unit("Btu/°F", &["btu/f", "btu/degF"], Dimension::HeatCapacity, BTU * 1.8),
    unit("W/K", &["W/°C"], Dimension::Conductance, 1.0),
    unit("Btu/(min °F)", &["btu/min/°F", "btu/min/F"], Dimension::Conductance, BTU * 1.8 / 60.0),
    unit(
        "Btu/(h °F)",
        &["btu/h/°F", "btu/h/F", "btu/hr/°F", "btu/hr/F", "btu/(h F)", "btu/(hr °F)", "btu/(hr F)"],
        Dimension::Conductance,
        BTU * 1.8 / 3600.0,
    ),
    unit("J/(K m³)", &["W/K/(m³/s)"], Dimension::ConductancePerFlow, 1.0),
    unit("W/K per L/min", &["W/K/(L/min)"], Dimension::ConductancePerFlow, 60_000.0),
    unit("W/K per gpm", &["W/K/gpm"], Dimension::ConductancePerFlow, 60.0 / GALLON),
    unit("Pa", &[], Dimension::Pressure, 1.0),
    unit("kPa", &[], Dimension::Pressure, 1e3),
    unit("bar", &[], Dimension::Pressure, 1e5),
    unit("psi", &["lbf/in²", "psig"], Dimension::Pressure, LBF / (0.0254 * 0.0254)),
    unit("inHg", &["in Hg"], Dimension::Pressure, 3_386.389),
    unit("N m", &["Nm"], Dimension::Torque, 1.0),
    unit("lbf ft", &["lb ft", "ft lb", "ft lbf", "lb-ft", "ft-lb"], Dimension::Torque, LBF * FT),
    unit("m²/s", &["m2/s"], Dimension::KinematicViscosity, 1.0),
    unit("mm²/s", &["cSt", "mm2/s"], Dimension::KinematicViscosity, 1e-6),
    unit("kg/m³", &["kg/m3"], Dimension::Density, 1.0),
    unit("lb/gal", &[], Dimension::Density, LB / GALLON),
    unit("A", &["amp", "amps"], Dimension::Current, 1.0),
    unit("A s", &["As"], Dimension::Charge, 1.0),
    unit("Ah", &["A h"], Dimension::Charge, 3600.0),
    unit("(rad/s)/√(N m)", &["rad/s/sqrt(N m)"], Dimension::KFactor, 1.0),
    unit("rpm/√(N m)", &["rpm/sqrt(N m)", "rpm/√Nm"], Dimension::KFactor, RPM),
    unit(
        "rpm/√(lbf ft)",
        &["rpm/sqrt(lbf ft)", "rpm/sqrt(lb ft)", "rpm/√(lb ft)", "rpm/sqrt(ft lb)"],
        Dimension::KFactor,
        RPM / SQRT_LBF_FT,
    ),
    unit("V", &["volt", "volts"], Dimension::Voltage, 1.0),
    unit("kg m²", &["kg m2"], Dimension::Inertia, 1.0),
    unit("lb ft²", &["lb ft2"], Dimension::Inertia, LB * FT * FT),
    unit("m³/rad", &[], Dimension::Displacement, 1.0),
    unit("cm³/rev", &["cm3/rev", "cc/rev"], Dimension::Displacement, 1e-6 / (2.0 * PI)),
    unit(
        "in³/rev",
        &["in3/rev", "cu in/rev"],
        Dimension::Displacement,
        0.0254 * 0.0254 * 0.0254 / (2.0 * PI),
    ),
];

impl Unit {
    /// From this unit to SI.
    pub fn to_si(&self, value: f64) -> f64 {
        value * self.factor + self.offset
    }

    /// From SI to this unit.
    pub fn from_si(&self, value_si: f64) -> f64 {
        (value_si - self.offset) / self.factor
    }
}

/// The characters of a unit that count: lower case, without spaces, `·` and `.`.
fn folded(text: &str) -> impl Iterator<Item = char> + '_ {
    text.chars()
        .filter(|c| !c.is_whitespace() && *c != '·' && *c != '.')
        .map(|c| c.to_ascii_lowercase())
}

impl Unit {
    fn is_written(&self, text: &str) -> bool {
        folded(self.symbol).eq(folded(text))
            || self.aliases.iter().any(|alias| folded(alias).eq(folded(text)))
    }
}

/// The unit of `dimension` written as `text`, if there is one.
///
/// Case is ignored except where two units differ only by it; none does within one dimension.
pub fn find_unit(dimension: Dimension, text: &str) -> Option<&'static Unit> {
    UNITS.iter().filter(|unit| unit.dimension == dimension).find(|unit| unit.is_written(text))
}

/// A unit's symbol, looked up by its own spelling in a table of ours; falls back to SI for a dimension.
pub fn unit_or_si(dimension: Dimension, symbol: &str) -> &'static Unit {
    const PLAIN: Unit = unit("", &[], Dimension::One, 1.0);
    // Exactly as spelled first: this is called for every sample of a day.
    UNITS
        .iter()
        .find(|unit| unit.dimension == dimension && unit.symbol == symbol)
        .or_else(|| find_unit(dimension, symbol))
        .or_else(|| UNITS.iter().find(|unit| unit.dimension == dimension))
        .unwrap_or(&PLAIN)
}

/// The spellings accepted for a dimension, for an error's limit: `°C, °F, K`.
pub fn accepted_units(dimension: Dimension) -> String {
    let symbols: Vec<&str> =
        UNITS.iter().filter(|unit| unit.dimension == dimension).map(|unit| unit.symbol).collect();
    symbols.join(", ")
}

/// Why a text is not a quantity of the wanted dimension.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum QuantityError {
    /// No number at the start, or one that is not finite.
    NotANumber,
    /// A number alone where a unit is needed.
    NoUnit,
    /// A unit of another dimension, which is named.
    OtherDimension(Dimension),
    /// A unit we do not know.
    UnknownUnit(String),
}

/// Reads `"95 °F"` as a quantity of `dimension` and returns it in SI.
///
/// A time may be a sum of parts, `"1 h 30 min"`. A plain number is accepted for [`Dimension::One`] only.
/// Spaces between number and unit are optional; underscores and commas are not accepted.
pub fn parse_quantity(dimension: Dimension, text: &str) -> Result<f64, QuantityError> {
    parse_quantity_and_unit(dimension, text).map(|(value_si, _)| value_si)
}

/// The same with the unit it was written in, the first one of a sum; `None` for a plain number.
pub fn parse_quantity_and_unit(
    dimension: Dimension,
    text: &str,
) -> Result<(f64, Option<&'static Unit>), QuantityError> {
    let mut rest = text.trim();
    if rest.is_empty() {
        return Err(QuantityError::NotANumber);
    }
    let mut total_si = 0.0;
    let mut first_unit = None;
    let mut parts = 0;
    while !rest.is_empty() {
        let number_length = number_prefix_length(rest);
        let (number, behind) = parted(rest, number_length);
        let value = decimal(number).ok_or(QuantityError::NotANumber)?;
        rest = behind.trim_start();
        let unit_length = if dimension == Dimension::Time {
            rest.find(|c: char| c.is_ascii_digit() || c == '-' || c == '+').unwrap_or(rest.len())
        } else {
            rest.len()
        };
        let (written, behind) = parted(rest, unit_length);
        let written = written.trim();
        if written.is_empty() {
            if dimension != Dimension::One {
                return Err(QuantityError::NoUnit);
            }
            return Ok((value, None));
        }
        let unit = match find_unit(dimension, written) {
            Some(unit) => unit,
            None => {
                let other = UNITS.iter().find(|unit| unit.is_written(written));
                return Err(match other {
                    Some(unit) => QuantityError::OtherDimension(unit.dimension),
                    None => QuantityError::UnknownUnit(written.to_string()),
                });
            }
        };
        first_unit = first_unit.or(Some(unit));
        total_si += unit.to_si(value);
        rest = behind.trim_start();
        parts += 1;
        if parts > 4 {
            return Err(QuantityError::UnknownUnit(rest.to_string()));
        }
    }
    Ok((total_si, first_unit))
}

/// A text in two at a byte, or whole and nothing where that is inside a letter. Indexing would bring the words of its
/// panic, and tables of all letters, into the page.
pub(crate) fn parted(text: &str, at: usize) -> (&str, &str) {
    text.split_at_checked(at).unwrap_or((text, ""))
}

/// Bytes of the longest prefix that reads as a decimal number: sign, digits, point, exponent.
fn number_prefix_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let mut at = 0;
    if matches!(bytes.first(), Some(b'+' | b'-')) {
        at += 1;
    }
    while at < bytes.len() && (bytes[at].is_ascii_digit() || bytes[at] == b'.') {
        at += 1;
    }
    if at < bytes.len() && matches!(bytes[at], b'e' | b'E') {
        let mut exponent = at + 1;
        if matches!(bytes.get(exponent), Some(b'+' | b'-')) {
            exponent += 1;
        }
        if matches!(bytes.get(exponent), Some(digit) if digit.is_ascii_digit()) {
            while exponent < bytes.len() && bytes[exponent].is_ascii_digit() {
                exponent += 1;
            }
            at = exponent;
        }
    }
    at
}

/// rad/s in revolutions per minute, for messages and reports.
pub fn rpm(rad_per_s: f64) -> f64 {
    rad_per_s / RPM
}

/// A number with `digits` significant digits and no trailing zeros: 0.35, 14, 2 640, 1.2e-7.
pub fn significant(value: f64, digits: usize) -> String {
    if value == 0.0 || !value.is_finite() {
        return if value == 0.0 { "0".to_string() } else { value.to_string() };
    }
    let magnitude = value.abs().log10().floor() as i32;
    if !(-5..9).contains(&magnitude) {
        return format!("{:.*e}", digits.saturating_sub(1), value);
    }
    let decimals = (digits as i32 - 1 - magnitude).max(0) as usize;
    let text = format!("{value:.decimals$}");
    let text = if decimals > 0 {
        text.trim_end_matches('0').trim_end_matches('.').to_string()
    } else {
        text
    };
    if text == "-0" { "0".to_string() } else { text }
}

/// `110 W/K`, or `0.35` where there is no unit: a value (SI) in a unit, to so many significant digits.
pub fn quantity_words(dimension: Dimension, unit: &Unit, value_si: f64, digits: usize) -> String {
    let number = significant(unit.from_si(value_si), digits);
    if dimension == Dimension::One { number } else { format!("{number} {}", unit.symbol) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clocks_count_from_the_start_of_the_day() {
        assert_eq!(clock_text(3909.9), "1:05");
        assert_eq!(clock_seconds_text(3909.9), "1:05:09");
        assert_eq!(clock_seconds_text(0.0), "0:00:00");
    }

    #[test]
    fn published_factors() {
        // NIST SP 811 (2008) appendix B.8: printed to seven digits or exact.
        let cases = [
            (Dimension::Pressure, "1 psi", 6_894.757),
            (Dimension::Power, "1 hp", 745.699_9),
            (Dimension::Torque, "1 lbf ft", 1.355_818),
            (Dimension::Volume, "1 qt", 9.463_529e-4),
            (Dimension::Flow, "1 gpm", 6.309_020e-5),
            (Dimension::Flow, "1 cfm", 4.719_474e-4),
            (Dimension::Velocity, "1 mph", 0.447_04),
            (Dimension::Energy, "1 Btu", 1_055.056),
            (Dimension::AngularVelocity, "1 rpm", 0.104_719_8),
            // Of those factors: 1 055.056 J in 3 600 s for 1/1.8 K; a quart in 60 s.
            (Dimension::Conductance, "1 Btu/(h °F)", 0.527_528),
            (Dimension::Flow, "1 qt/min", 1.577_255e-5),
        ];
        for (dimension, text, expected) in cases {
            let got = parse_quantity(dimension, text).unwrap();
            assert!((got / expected - 1.0).abs() < 1e-6, "{text}: {got} against {expected}");
        }
    }

    #[test]
    fn temperatures_and_their_differences_are_two_things() {
        let gauge = parse_quantity(Dimension::Temperature, "212°F").unwrap();
        assert!((gauge - 373.15).abs() < 1e-9);
        let difference = parse_quantity(Dimension::TemperatureDifference, "9 °F").unwrap();
        assert!((difference - 5.0).abs() < 1e-12);
        assert!((temperature_in(System::Us, 373.15) - 212.0).abs() < 1e-9);
    }

    #[test]
    fn k_factor_constant_is_the_root_of_one_pound_foot() {
        assert!((SQRT_LBF_FT * SQRT_LBF_FT - LBF * FT).abs() < 1e-12);
    }

    #[test]
    fn times_may_be_sums() {
        assert_eq!(parse_quantity(Dimension::Time, "1 h 30 min").unwrap(), 5400.0);
        assert_eq!(parse_quantity(Dimension::Time, "2min30s").unwrap(), 150.0);
    }

    #[test]
    fn bad_quantities_say_what_is_wrong() {
        use QuantityError::*;
        let read = |text: &str| parse_quantity(Dimension::Temperature, text);
        assert_eq!(read("95"), Err(NoUnit));
        assert_eq!(read("95 psi"), Err(OtherDimension(Dimension::Pressure)));
        assert_eq!(read("95 furlong"), Err(UnknownUnit("furlong".to_string())));
        for text in ["", "NaN °F", "inf °F", "1e999 °F", "hot", "1,5 °F", "--3 °F", "°F"] {
            assert!(read(text).is_err(), "{text}");
        }
        assert_eq!(read("NaN °F"), Err(NotANumber));
        assert_eq!(read("1e999 °F"), Err(NotANumber));
    }

    #[test]
    fn every_unit_round_trips_and_is_found_by_its_symbol() {
        for unit in UNITS {
            let back = unit.from_si(unit.to_si(12.5));
            assert!((back - 12.5).abs() < 1e-9, "{}", unit.symbol);
            let found = find_unit(unit.dimension, unit.symbol).unwrap();
            assert_eq!(found.symbol, unit.symbol);
        }
    }

    #[test]
    fn numbers_are_printed_short() {
        assert_eq!(significant(0.35, 3), "0.35");
        assert_eq!(significant(14.0, 3), "14");
        assert_eq!(significant(2640.0, 3), "2640");
        assert_eq!(significant(-0.000_04, 3), "-0.00004");
        assert_eq!(time_text(10.0), "10 s");
        assert_eq!(time_text(3_900.0), "65 min");
        assert_eq!(time_text(7_500.0), "2 h 05 min");
    }
}

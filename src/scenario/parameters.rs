//! The one parameter table: every quantity of a set-up with key, unit, default, range, one sentence, source.
//!
//! A row here makes the field of [`Setup`], the key in scenario files, the range check, the JSON Schema
//! entry, the row of `docs/parameters.md` and the control on the page. To add a parameter, add a row and use
//! the field.
//!
//! Defaults and ranges are written in the SI display unit of the row. They describe an invented car of a
//! usual kind; where no source is named, the value is common practice.

use super::json::nearest_word;
use crate::converter::ConverterTable;
use crate::engine::TorquePoint;
use crate::fluid::{CLASSES, Fluid, FluidClass};
use crate::units::{Dimension, System, Unit, quantity_words, significant, unit_or_si};
use crate::weather::Weather;

/// One row of the table.
pub struct Parameter {
    /// Key of the part: `converter`.
    pub part: &'static str,
    /// Key within the part: `shell_mass`.
    pub key: &'static str,
    pub dimension: Dimension,
    pub us_unit: &'static str,
    pub si_unit: &'static str,
    default: f64,
    min: f64,
    max: f64,
    /// How well a shop knows it, where it does not know it well.
    pub spread: Option<Spread>,
    get: fn(&Setup) -> f64,
    set: fn(&mut Setup, f64),
}

/// What people read of a parameter. It lies beside the table, so that a program that only computes need not hold it.
pub struct Wording {
    /// Name of the part.
    pub part_label: &'static str,
    pub label: &'static str,
    pub sentence: &'static str,
    pub source: &'static str,
}

/// What a shop does not know about a parameter: one standard deviation, by judgement. A source that says "±50 %"
/// is read as 19 of 20, two standard deviations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spread {
    /// Share of the value: the logarithm is normal, one standard deviation up is the value times 1 + this.
    Relative(f64),
    /// In the SI display unit: the value is normal.
    Absolute(f64),
}

impl Parameter {
    /// What people read of it.
    pub fn wording(&self) -> &'static Wording {
        // Rows are made in this file only: every one has its words.
        let place = PARAMETERS.iter().position(|row| std::ptr::eq(row, self)).unwrap_or_default();
        &WORDINGS[place]
    }

    /// Default, SI.
    pub fn default_si(&self) -> f64 {
        self.display_unit().to_si(self.default)
    }

    /// Least allowed value, SI.
    pub fn min_si(&self) -> f64 {
        self.display_unit().to_si(self.min)
    }

    /// Largest allowed value, SI.
    pub fn max_si(&self) -> f64 {
        self.display_unit().to_si(self.max)
    }

    /// The SI display unit, in which the table states its numbers.
    pub fn display_unit(&self) -> &'static Unit {
        unit_or_si(self.dimension, self.si_unit)
    }

    /// The value in a set-up, SI.
    pub fn value_si(&self, setup: &Setup) -> f64 {
        (self.get)(setup)
    }

    /// Puts a value (SI) into a set-up. The caller has checked the range.
    pub fn set_si(&self, setup: &mut Setup, value_si: f64) {
        (self.set)(setup, value_si);
    }

    /// A value (SI) moved by a number of standard deviations, kept within the range; itself without a spread.
    pub fn moved_si(&self, value_si: f64, deviations: f64) -> f64 {
        let moved_si = match self.spread {
            None => return value_si,
            Some(Spread::Relative(share)) => value_si * (deviations * share.ln_1p()).exp(),
            Some(Spread::Absolute(by)) => {
                let unit = self.display_unit();
                value_si + deviations * (unit.to_si(by) - unit.to_si(0.0))
            }
        };
        moved_si.clamp(self.min_si(), self.max_si())
    }

    /// The reader's unit.
    pub fn reader_unit(&self, system: System) -> &'static Unit {
        unit_or_si(self.dimension, system.pick(self.us_unit, self.si_unit))
    }

    /// A value (SI) as the reader sees it, `110 W/K`, to so many significant digits.
    pub fn words(&self, value_si: f64, system: System, digits: usize) -> String {
        quantity_words(self.dimension, self.reader_unit(system), value_si, digits)
    }

    /// Two values (SI) as the reader sees them, the unit once: `80 to 140 W/K`.
    pub fn range_words(&self, ends_si: (f64, f64), system: System, digits: usize) -> String {
        let low = significant(self.reader_unit(system).from_si(ends_si.0), digits);
        format!("{low} to {}", self.words(ends_si.1, system, digits))
    }

    /// `converter.shell_mass`.
    pub fn path(&self) -> String {
        format!("{}.{}", self.part, self.key)
    }
}

/// The parameter of a path, `converter.shell_mass`.
pub fn of_path(path: &str) -> Option<&'static Parameter> {
    let (part, key) = path.split_once('.')?;
    PARAMETERS.iter().find(|parameter| parameter.part == part && parameter.key == key)
}

/// The path nearest to what was written, among the parameters that `may` be meant; empty when there is none.
pub fn nearest_path(written: &str, may: impl Fn(&Parameter) -> bool) -> String {
    let paths: Vec<String> =
        PARAMETERS.iter().filter(|parameter| may(parameter)).map(Parameter::path).collect();
    let words: Vec<&str> = paths.iter().map(String::as_str).collect();
    nearest_word(written, &words).to_string()
}

macro_rules! spread {
    () => {
        None
    };
    ($Kind:ident($by:literal)) => {
        Some(Spread::$Kind($by))
    };
}

macro_rules! parameters {
    ($(
        $part:ident : $Part:ident = $part_label:literal {
            $( $field:ident : $key:literal, $dimension:ident, $us:literal, $si:literal,
               $default:literal, $min:literal .. $max:literal, $label:literal, $sentence:literal,
               $source:literal $(, $Kind:ident($by:literal))?; )+
        }
    )+) => {
        $(
            #[doc = concat!($part_label, ", SI.")]
            #[derive(Debug, Clone, PartialEq)]
            pub struct $Part { $( #[doc = $sentence] pub $field: f64, )+ }
        )+

        /// Everything about the car, its transmission and the place, SI.
        #[derive(Debug, Clone, PartialEq)]
        pub struct Setup {
            /// Class of the fluid; its typical properties are the defaults of `fluid`.
            pub fluid_class: &'static str,
            /// Points of a dynamometer sheet; empty: from peak torque and peak power.
            pub torque_curve: Vec<TorquePoint>,
            /// The user's own converter; without: the generic shape of a race converter.
            pub converter_table: Option<ConverterTable>,
            /// All forward gears, lowest first; empty: low gear and a direct high gear.
            pub gear_ratios: Vec<f64>,
            $( #[doc = $part_label] pub $part: $Part, )+
        }

        /// Every parameter, by part, in the order of the page.
        pub static PARAMETERS: &[Parameter] = &[ $( $( Parameter {
            part: stringify!($part),
            key: $key,
            dimension: Dimension::$dimension,
            us_unit: $us,
            si_unit: $si,
            default: $default,
            min: $min,
            max: $max,
            spread: spread!($($Kind($by))?),
            get: |setup| setup.$part.$field,
            set: |setup, value| setup.$part.$field = value,
        }, )+ )+ ];

        static WORDINGS: &[Wording] = &[ $( $( Wording {
            part_label: $part_label,
            label: $label,
            sentence: $sentence,
            source: $source,
        }, )+ )+ ];

        fn unset() -> Setup {
            Setup {
                fluid_class: CLASSES[0].key,
                torque_curve: Vec::new(),
                converter_table: None,
                gear_ratios: Vec::new(),
                $( $part: $Part { $( $field: 0.0, )+ }, )+
            }
        }
    };
}

parameters! {
    air: Air = "Air and place" {
        temperature_k: "temperature", Temperature, "°F", "°C", 30.0, -30.0..55.0,
            "Air temperature", "Air around the car and into the cooler, in the shade.",
            "user's reading";
        pressure_pa: "pressure", Pressure, "inHg", "kPa", 101.325, 60.0..110.0,
            "Air pressure", "Pressure at the track itself, not reduced to sea level.",
            "standard atmosphere, ISO 2533";
        humidity: "humidity", One, "", "", 0.45, 0.0..1.0,
            "Relative humidity", "Share of the vapour that air of this temperature can hold.",
            "user's reading";
        wind_m_per_s: "wind", Velocity, "mph", "m/s", 1.0, 0.0..15.0,
            "Air past the parked car", "Breeze or draught along the case when the car stands.",
            "common practice, no source", Relative(0.3);
    }
    fluid: FluidParameters = "Fluid" {
        kv40_m2_per_s: "kv40", KinematicViscosity, "mm²/s", "mm²/s", 35.0, 15.0..220.0,
            "Viscosity at 40 °C", "Kinematic viscosity at 40 °C (104 °F) from the data sheet.",
            "class of fluid";
        kv100_m2_per_s: "kv100", KinematicViscosity, "mm²/s", "mm²/s", 7.2, 3.0..25.0,
            "Viscosity at 100 °C", "Kinematic viscosity at 100 °C (212 °F) from the data sheet.",
            "class of fluid";
        density15_kg_per_m3: "density15", Density, "lb/gal", "kg/m³", 860.0, 780.0..920.0,
            "Density at 15 °C", "Density at 15 °C (59 °F) from the data sheet.",
            "class of fluid";
        life_s: "life", Time, "h", "h", 3000.0, 50.0..50000.0,
            "Life of a fill at 175 °F", "Hours at 80 °C (175 °F) after which fluid is worn out; every 20 °F more halves it.",
            "common practice, no source: 100 000 miles at 175 °F, at some 35 mph";
    }
    engine: Engine = "Engine" {
        peak_power_w: "peak_power", Power, "hp", "kW", 440.0, 40.0..3000.0,
            "Peak power", "At the flywheel, at the reference conditions of SAE J1349 (25 °C, 99 kPa dry).",
            "common practice, no source: 400 to 900 hp in door cars";
        peak_power_speed_rad_per_s: "peak_power_speed", AngularVelocity, "rpm", "rpm", 6600.0, 2500.0..11000.0,
            "Speed of peak power", "Engine speed at which the engine makes it.",
            "dynamometer sheet";
        peak_torque_nm: "peak_torque", Torque, "lbf ft", "N m", 720.0, 100.0..6000.0,
            "Peak torque", "At the same conditions.",
            "dynamometer sheet";
        peak_torque_speed_rad_per_s: "peak_torque_speed", AngularVelocity, "rpm", "rpm", 4900.0, 1200.0..9000.0,
            "Speed of peak torque", "Engine speed at which the engine makes it.",
            "dynamometer sheet";
        rev_limit_rad_per_s: "rev_limit", AngularVelocity, "rpm", "rpm", 7600.0, 2600.0..12000.0,
            "Rev limit", "Torque fades to nothing over the last 100 rpm below it.",
            "common practice, no source: 6 500 to 8 500 rpm";
        inertia_kg_m2: "inertia", Inertia, "lb ft²", "kg m²", 0.25, 0.03..2.0,
            "Inertia", "Crankshaft, flexplate and the converter's cover and impeller.",
            "judgement, ±30 %", Relative(0.15);
        motoring_torque_nm: "motoring_torque", Torque, "lbf ft", "N m", 45.0, 5.0..500.0,
            "Torque to turn it, throttle closed", "Friction and pumping that the car overcomes while it coasts in gear.",
            "common practice, no source: 1 to 1.5 bar of mean pressure", Relative(0.2);
        idle_speed_rad_per_s: "idle_speed", AngularVelocity, "rpm", "rpm", 1100.0, 500.0..2500.0,
            "Idle speed", "Engine speed at idle, used where an event states none.",
            "common practice, no source";
        thermostat_k: "thermostat", Temperature, "°F", "°C", 80.0, 40.0..115.0,
            "Engine temperature", "Temperature that the running engine settles at.",
            "common practice, no source";
        heat_capacity_j_per_k: "heat_capacity", HeatCapacity, "Btu/°F", "kJ/K", 100.0, 20.0..400.0,
            "Heat capacity", "Block, heads and coolant together.",
            "about 150 kg of iron and aluminium and 8 L of coolant", Relative(0.15);
        warm_up_w_per_k: "warm_up", Conductance, "W/K", "W/K", 500.0, 20.0..3000.0,
            "Warm-up strength", "How firmly the running engine is pulled to its own temperature.",
            "a warm-up of about three minutes; common practice, no source", Relative(0.3);
        to_air_w_per_k: "to_air", Conductance, "W/K", "W/K", 18.0, 2.0..200.0,
            "Loss to air, engine off", "Heat the standing engine gives to the air per degree.",
            "1.5 m² at 12 W/m²K, natural convection and radiation", Relative(0.3);
    }
    converter: Converter = "Torque converter" {
        k_factor: "k_factor", KFactor, "rpm/√(lbf ft)", "rpm/√(N m)", 193.0, 60.0..500.0,
            "K-factor at stall", "Engine speed over root of torque with the turbine held; a looser converter has a larger one.",
            "SAE J643 definition; 225 rpm/√(lbf ft) is a 9-inch race converter";
        k_reference_k: "k_reference", Temperature, "°F", "°C", 80.0, 20.0..150.0,
            "Fluid temperature of the K-factor", "The torque at a held speed goes with fluid density, which is one at this temperature.",
            "T ∝ ρ, fluid mechanics of similar machines";
        stall_torque_ratio: "stall_torque_ratio", One, "", "", 1.9, 1.0..3.0,
            "Torque ratio at stall", "Torque to the gears over torque from the engine, with the turbine held.",
            "common practice, no source: 1.6 to 2.2", Relative(0.04);
        stall_per_10_c_rad_per_s: "stall_per_10_c", AngularVelocity, "rpm", "rpm", 0.0, -50.0..200.0,
            "Stall rise per 10 °C of converter fluid", "What hotter fluid adds, beyond its density, to the stall speed at one torque: it stands in for falling charge pressure. Fit it to your own log.",
            "zero: density alone", Absolute(10.0);
        fluid_volume_m3: "fluid_volume", Volume, "qt", "L", 2.8, 0.8..9.0,
            "Fluid inside", "Fluid that fills the converter, where shear turns power into heat.",
            "common practice, no source: 2 to 4 qt", Relative(0.1);
        shell_mass_kg: "shell_mass", Mass, "lb", "kg", 14.0, 5.0..40.0,
            "Steel mass", "Cover, impeller, turbine and stator: what an infrared thermometer sees.",
            "common practice, no source: 25 to 45 lb", Relative(0.1);
        link_at_rest_w_per_k: "link_at_rest", Conductance, "W/K", "W/K", 120.0, 20.0..1000.0,
            "Fluid to steel, standing", "Natural convection inside the standing converter, about 0.6 m² wetted at 200 W/m²K.",
            "order of Churchill & Chu in hot oil", Relative(0.25);
        link_per_flow: "link_per_flow", ConductancePerFlow, "W/K per gpm", "W/K per L/min", 20.0, 0.0..200.0,
            "Fluid to steel, per through-flow", "What fluid pumped through the standing converter adds to the link.",
            "judgement, ±50 %", Relative(0.25);
        link_turning_w_per_k: "link_turning", Conductance, "W/K", "W/K", 2500.0, 200.0..10000.0,
            "Fluid to steel at 5 000 rpm", "Forced convection on the blades at 5 000 rpm; goes with speed to the power 0.8.",
            "turbulent duct flow, Nu ∝ Re^0.8", Relative(0.25);
        shell_to_air_at_rest_w_per_k: "shell_to_air_at_rest", Conductance, "W/K", "W/K", 2.0, 0.2..20.0,
            "Steel to bellhousing air, standing", "About 0.2 m² of steel at 10 W/m²K in still air.",
            "natural convection and radiation of 0.2 m²", Relative(0.25);
        shell_to_air_turning_w_per_k: "shell_to_air_turning", Conductance, "W/K", "W/K", 14.0, 0.5..80.0,
            "Steel to bellhousing air at 5 000 rpm", "Rotating outside of the converter at 5 000 rpm; goes with speed to the power 0.8.",
            "rotating cylinder, about 70 W/m²K on 0.2 m²", Relative(0.25);
        shell_to_engine_w_per_k: "shell_to_engine", Conductance, "W/K", "W/K", 4.0, 0.5..30.0,
            "Steel to crankshaft", "Conduction through flexplate and bolts into the engine.",
            "judgement, ±50 %", Relative(0.25);
        shell_to_gears_w_per_k: "shell_to_gears", Conductance, "W/K", "W/K", 5.0, 0.5..30.0,
            "Steel to input shaft", "Conduction through input shaft, stator tube and pump hub.",
            "judgement, ±50 %", Relative(0.25);
    }
    transmission: Transmission = "Transmission" {
        pan_volume_m3: "pan_volume", Volume, "qt", "L", 5.0, 2.0..20.0,
            "Fluid in pan and case", "Fluid outside converter, cooler and lines.",
            "common practice, no source: 5 to 8 qt";
        gear_mass_kg: "gear_mass", Mass, "lb", "kg", 28.0, 8.0..90.0,
            "Steel of gears, drums and shafts", "Planetaries, drums, hubs and shafts.",
            "common practice, no source", Relative(0.15);
        case_mass_kg: "case_mass", Mass, "lb", "kg", 22.0, 8.0..80.0,
            "Case mass, aluminium", "Case with bellhousing and tail: what a hand feels.",
            "common practice, no source", Relative(0.1);
        case_area_m2: "case_area", Area, "ft²", "m²", 0.75, 0.2..2.5,
            "Case surface", "Outside surface of case and pan that air touches.",
            "cylinder 0.3 m across and 0.7 m long, with ribs", Relative(0.1);
        case_diameter_m: "case_diameter", Length, "in", "m", 0.30, 0.15..0.6,
            "Case diameter", "Diameter of the cylinder whose correlation the case follows.",
            "Churchill & Chu 1975; Churchill & Bernstein 1977";
        case_emissivity: "case_emissivity", One, "", "", 0.40, 0.03..0.98,
            "Case emissivity", "Bare as-cast aluminium about 0.3, dirty 0.5, painted 0.9.",
            "common practice, no source", Absolute(0.1);
        pan_to_case_w_per_k: "pan_to_case", Conductance, "W/K", "W/K", 16.0, 2.0..200.0,
            "Pan fluid to case, standing", "Fluid lying in the pan against pan and case.",
            "0.25 m² at about 60 W/m²K, natural convection in oil", Relative(0.25);
        pan_to_case_running_w_per_k: "pan_to_case_running", Conductance, "W/K", "W/K", 60.0, 5.0..600.0,
            "Pan fluid to case, engine running", "Splash and return flow wet the case.",
            "judgement, ±50 %", Relative(0.25);
        pan_to_gears_w_per_k: "pan_to_gears", Conductance, "W/K", "W/K", 6.0, 0.5..100.0,
            "Pan fluid to gears, standing", "The lower part of the drums hangs in the fluid.",
            "judgement, ±50 %", Relative(0.25);
        pan_to_gears_running_w_per_k: "pan_to_gears_running", Conductance, "W/K", "W/K", 30.0, 2.0..400.0,
            "Pan fluid to gears, engine running", "Splash on turning parts.",
            "judgement, ±50 %", Relative(0.25);
        gears_to_case_w_per_k: "gears_to_case", Conductance, "W/K", "W/K", 10.0, 1.0..100.0,
            "Gears to case, standing", "Bushings, clutch packs and air between.",
            "judgement, ±50 %", Relative(0.25);
        gears_to_case_running_w_per_k: "gears_to_case_running", Conductance, "W/K", "W/K", 25.0, 2.0..300.0,
            "Gears to case, engine running", "Oil films and oil mist between turning parts and case.",
            "judgement, ±50 %", Relative(0.25);
        case_to_engine_w_per_k: "case_to_engine", Conductance, "W/K", "W/K", 5.0, 0.5..40.0,
            "Case to engine", "Conduction through the bellhousing's flange.",
            "75 cm² of aluminium, 15 cm long, at 100 W/mK", Relative(0.25);
        lubrication_effectiveness: "lubrication_effectiveness", One, "", "", 0.30, 0.0..0.95,
            "Lubrication heat exchange", "Share of the way to gear temperature that the lubrication flow goes.",
            "judgement, ±50 %", Relative(0.25);
        mesh_loss: "mesh_loss", One, "", "", 0.015, 0.0..0.15,
            "Mesh and bearing loss", "Share of the power behind the converter that gears and bearings turn into heat.",
            "common practice, no source: 1 to 3 %", Relative(0.25);
        drag_torque_nm: "drag_torque", Torque, "lbf ft", "N m", 3.0, 0.0..60.0,
            "Drag torque", "Open clutches, seals and churning while the gear train turns, with fluid of 80 °C (176 °F); goes with viscosity to the power 2/3.",
            "common practice, no source", Relative(0.3);
        shift_heat_j: "shift_heat", Energy, "Btu", "kJ", 12.0, 0.0..150.0,
            "Heat of one shift", "Slip of the clutch that takes over, into the gear train.",
            "½·I·Δω² of 0.15 kg m² stopped from 4 000 rpm", Relative(0.3);
    }
    gearbox: GearboxParameters = "Gears and shift" {
        low_ratio: "low_ratio", One, "", "", 1.76, 1.2..3.5,
            "Low gear ratio", "First of two gears; high gear is direct.",
            "common practice, no source: 1.65 to 2.1";
        shift_speed_rad_per_s: "shift_speed", AngularVelocity, "rpm", "rpm", 6900.0, 2000.0..11500.0,
            "Shift speed", "Engine speed at which high gear is taken.",
            "common practice, no source";
        turbine_inertia_kg_m2: "turbine_inertia", Inertia, "lb ft²", "kg m²", 0.06, 0.005..0.6,
            "Turbine-side inertia", "Turbine, input shaft and the drums that turn with it.",
            "judgement, ±30 %", Relative(0.15);
    }
    front_pump: FrontPump = "Front pump" {
        displacement_m3_per_rad: "displacement", Displacement, "in³/rev", "cm³/rev", 22.0, 4.0..80.0,
            "Displacement", "Volume the engine-driven pump moves per turn.",
            "common practice, no source";
        line_pressure_pa: "line_pressure", Pressure, "psi", "bar", 13.0, 3.0..30.0,
            "Line pressure", "Regulated pressure with the fluid hot; pressure times flow ends as heat in the pan.",
            "common practice, no source: 150 to 250 psi";
        efficiency: "efficiency", One, "", "", 0.85, 0.4..1.0,
            "Mechanical efficiency", "Share of the pump's shaft power that pressurises fluid; all of it ends as heat.",
            "common practice, no source", Absolute(0.04);
        cooler_flow_m3_per_s: "cooler_flow", Flow, "gpm", "L/min", 5.0, 0.5..15.0,
            "Cooler flow at 1 000 rpm", "Flow pan, converter, cooler, lubrication, pan with the fluid at 80 °C (176 °F); it sizes the circuit.",
            "common practice, no source: 1 to 2 gpm", Relative(0.2);
    }
    cooler: Cooler = "Cooler and fan" {
        ua_w_per_k: "ua", Conductance, "W/K", "W/K", 70.0, 5.0..1500.0,
            "Cooler size (UA)", "Overall conductance at the rated oil and air flow: heat per degree between oil and air, before effectiveness.",
            "plate-fin, 2 to 10 kW at 100 °F (56 K), common practice", Relative(0.15);
        oil_side_share: "oil_side_share", One, "", "", 0.35, 0.05..0.9,
            "Oil-side share of resistance", "Share of the cooler's thermal resistance that lies on the oil side.",
            "judgement for turbulated plate-fin", Absolute(0.08);
        rated_oil_flow_m3_per_s: "rated_oil_flow", Flow, "gpm", "L/min", 8.0, 0.5..60.0,
            "Rated oil flow", "Oil flow at which the size is stated; the oil side goes with flow to the power 0.4.",
            "developing laminar flow between 1/3 and 1/2";
        rated_air_flow_m3_per_s: "rated_air_flow", Flow, "cfm", "m³/h", 800.0, 100.0..6000.0,
            "Rated air flow", "Air flow at which the size is stated.",
            "common practice, no source: 300 to 900 cfm";
        fan_air_flow_m3_per_s: "fan_air_flow", Flow, "cfm", "m³/h", 800.0, 0.0..6000.0,
            "Air flow, fan on", "Air through the core with the fan on and the car standing.",
            "common practice, no source: 300 to 900 cfm", Relative(0.15);
        still_air_flow_m3_per_s: "still_air_flow", Flow, "cfm", "m³/h", 30.0, 5.0..500.0,
            "Air flow, fan off", "Draught through the core with fan off and car standing.",
            "chimney draught of a hot core, judgement", Relative(0.3);
        ram_area_m2: "ram_area", Area, "in²", "m²", 0.020, 0.0..0.1,
            "Ram air area", "Road speed times this is the air that driving pushes through the core.",
            "a third of a 11 by 9 in face", Relative(0.3);
        metal_mass_kg: "metal_mass", Mass, "lb", "kg", 2.0, 0.3..15.0,
            "Core mass, aluminium", "Metal that has to warm up first.",
            "common practice, no source";
        fluid_volume_m3: "fluid_volume", Volume, "qt", "L", 0.7, 0.1..6.0,
            "Fluid in cooler and lines", "Fluid in the core and the hoses.",
            "common practice, no source: 0.5 to 1.5 qt";
        fan_current_a: "fan_current", Current, "A", "A", 10.0, 0.0..80.0,
            "Fan current", "What the fan draws from the battery.",
            "common practice, no source: 6 to 15 A";
    }
    circulation: CirculationPump = "Circulation pump" {
        flow_m3_per_s: "flow", Flow, "gpm", "L/min", 6.0, 0.2..40.0,
            "Pump flow", "Flow of the electric pump round the pan loop at 13 V with the fluid at 80 °C (176 °F); thicker fluid, and the way through the converter, let less flow.",
            "common practice, no source: 1 to 4 gpm", Relative(0.15);
    }
    battery: Battery = "Battery" {
        capacity_a_s: "capacity", Charge, "Ah", "Ah", 45.0, 5.0..400.0,
            "Capacity", "Rated capacity, full at the start of the day.",
            "common practice, no source: 20 to 60 Ah";
        voltage_v: "voltage", Voltage, "V", "V", 13.0, 9.0..18.0,
            "Voltage", "At the circulation pump while it runs.",
            "common practice, no source: 12 to 16 V";
        reserve: "reserve", One, "", "", 0.5, 0.0..0.95,
            "Wanted reserve", "Share of the capacity that must remain to start and to stage.",
            "common practice, no source";
        alternator_current_a: "alternator_current", Current, "A", "A", 0.0, 0.0..200.0,
            "Charging, engine running", "Current into the battery while the engine runs; most race cars have none.",
            "common practice, no source";
        running_current_a: "running_current", Current, "A", "A", 15.0, 0.0..100.0,
            "Drawn while running", "What ignition, fuel and water pumps take while the engine runs; the alternator, if there is one, gives it back.",
            "common practice, no source: 10 to 25 A";
        charger_current_a: "charger_current", Current, "A", "A", 15.0, 0.0..100.0,
            "Charging, parked", "Current from a charger whenever the car stands with the engine off; zero if there is none in the lanes.",
            "common practice, no source";
    }
    car: CarParameters = "Car" {
        mass_kg: "mass", Mass, "lb", "kg", 1450.0, 500.0..3000.0,
            "Weight with driver", "As it goes to the line.",
            "common practice, no source: 2 600 to 3 500 lb for door cars";
        tyre_diameter_m: "tyre_diameter", Length, "in", "m", 0.724, 0.45..1.1,
            "Tyre diameter", "Rolling diameter of the driven tyres.",
            "common practice, no source: 28 to 33 in";
        final_drive: "final_drive", One, "", "", 4.3, 2.5..7.0,
            "Final drive", "Turns of the driveshaft for one of the wheels.",
            "common practice, no source: 3.7 to 5.1";
        axle_efficiency: "axle_efficiency", One, "", "", 0.96, 0.8..1.0,
            "Axle efficiency", "Share of power that axle and joints pass on.",
            "common practice, no source", Absolute(0.01);
        grip: "grip", One, "", "", 1.7, 0.4..3.0,
            "Grip", "Effective friction of the driven tyres on the starting line.",
            "common practice, no source: 1.3 to 2 for slicks";
        burnout_grip: "burnout_grip", One, "", "", 0.8, 0.2..2.0,
            "Grip of spinning tyres in the burnout", "Friction over load of the driven tyres while they spin on wet and drying concrete.",
            "judgement, ±30 %", Relative(0.15);
        driven_weight_share: "driven_weight_share", One, "", "", 0.52, 0.3..0.9,
            "Weight on driven wheels", "Share of the standing weight.",
            "common practice, no source";
        height_over_wheelbase: "height_over_wheelbase", One, "", "", 0.19, 0.03..0.4,
            "Centre of gravity over wheelbase", "Height of the centre of gravity over wheelbase: how much launch loads the driven wheels.",
            "common practice, no source";
        drag_area_m2: "drag_area", Area, "ft²", "m²", 0.75, 0.2..2.0,
            "Drag area", "Drag coefficient times frontal area.",
            "0.25 to 0.5 times 1.7 to 2.4 m², handbook ranges from memory", Relative(0.1);
        rolling_resistance: "rolling_resistance", One, "", "", 0.018, 0.005..0.06,
            "Rolling resistance", "Force over weight; soft slicks are above road tyres.",
            "road tyres 0.010 to 0.015, from memory; slicks higher", Relative(0.2);
        wheel_inertia_kg_m2: "wheel_inertia", Inertia, "lb ft²", "kg m²", 2.5, 0.3..15.0,
            "Inertia of the driven wheels", "Both wheels, axle and brakes.",
            "judgement, ±30 %", Relative(0.15);
        rollout_m: "rollout", Length, "in", "m", 0.28, 0.0..0.6,
            "Rollout", "Way from the staged position until the starting beam is free and the clock runs.",
            "common practice, no source: 8 to 13 in";
        underbody_air_share: "underbody_air_share", One, "", "", 0.35, 0.0..1.0,
            "Air along the case when driving", "Speed of the air along the case as a share of road speed.",
            "judgement, ±50 %", Relative(0.25);
    }
    limits: Limits = "Window and limits" {
        window_low_k: "window_low", Temperature, "°F", "°C", 65.0, 20.0..140.0,
            "Launch window, low", "Coldest pan fluid at which the crew wants to launch.",
            "common practice, no source: 130 to 190 °F";
        window_high_k: "window_high", Temperature, "°F", "°C", 77.0, 21.0..160.0,
            "Launch window, high", "Hottest pan fluid at which the crew wants to launch.",
            "common practice, no source: 130 to 190 °F";
        pan_fluid_k: "pan_fluid", Temperature, "°F", "°C", 121.0, 60.0..200.0,
            "Pan fluid, worry above", "Above this, fluid life and nitrile seals suffer.",
            "common practice, no source: 250 °F";
        converter_fluid_k: "converter_fluid", Temperature, "°F", "°C", 150.0, 80.0..260.0,
            "Converter fluid, worry above", "Above this, fluid breaks down quickly.",
            "common practice, no source: 300 °F";
        seal_k: "seal", Temperature, "°F", "°C", 120.0, 60.0..300.0,
            "Seals, continuous", "Ordinary nitrile about 120 °C, acrylic 150 °C, fluoroelastomer 200 °C.",
            "usual continuous-use ranges, from memory";
        touch_k: "touch", Temperature, "°F", "°C", 48.0, 40.0..70.0,
            "Touch, bare metal", "Burn threshold of bare metal for ten minutes of contact.",
            "ISO 13732-1:2006, from memory";
        charge_pressure_pa: "charge_pressure", Pressure, "psi", "kPa", 100.0, 0.0..800.0,
            "Converter charge, worry below", "With less pressure at its inlet a loaded converter draws vapour: it slips more and hums.",
            "common practice, no source: 15 to 40 psi at idle";
        fluid_life_share: "fluid_life_share", One, "", "", 0.1, 0.001..1.0,
            "Fluid life, worry above", "Share of a fill's life that one day may use.",
            "judgement: ten race days on a fill";
    }
}

impl Setup {
    /// The set-up in which every parameter has its default and the fluid is of the given class.
    pub fn with_defaults(class: &FluidClass) -> Setup {
        let mut setup = unset();
        for parameter in PARAMETERS {
            parameter.set_si(&mut setup, parameter.default_si());
        }
        setup.take_fluid_class(class);
        setup
    }

    /// The day's weather.
    pub fn weather(&self) -> Weather {
        Weather {
            pressure_pa: self.air.pressure_pa,
            temperature_k: self.air.temperature_k,
            relative_humidity: self.air.humidity,
        }
    }

    /// The fluid with the stated properties.
    pub fn stated_fluid(&self) -> Fluid {
        Fluid::new(
            self.fluid.kv40_m2_per_s * 1e6,
            self.fluid.kv100_m2_per_s * 1e6,
            self.fluid.density15_kg_per_m3,
        )
    }

    /// All forward gears, lowest first.
    pub fn gears(&self) -> Vec<f64> {
        if self.gear_ratios.is_empty() {
            vec![self.gearbox.low_ratio, 1.0]
        } else {
            self.gear_ratios.clone()
        }
    }

    /// Sets the class and its typical properties.
    pub fn take_fluid_class(&mut self, class: &FluidClass) {
        self.fluid_class = class.key;
        self.fluid.kv40_m2_per_s = class.kv40_mm2_per_s * 1e-6;
        self.fluid.kv100_m2_per_s = class.kv100_mm2_per_s * 1e-6;
        self.fluid.density15_kg_per_m3 = class.density15_kg_per_m3;
    }
}

impl Default for Setup {
    fn default() -> Setup {
        Setup::with_defaults(&CLASSES[0])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_complete_and_in_range() {
        for (i, parameter) in PARAMETERS.iter().enumerate() {
            let path = parameter.path();
            assert!(parameter.min < parameter.default || parameter.min == 0.0, "{path}");
            assert!(parameter.default < parameter.max, "{path}");
            assert!(parameter.wording().sentence.ends_with('.'), "{path}");
            assert!(
                !parameter.wording().source.is_empty() && !parameter.wording().label.is_empty(),
                "{path}"
            );
            for symbol in [parameter.us_unit, parameter.si_unit] {
                if parameter.dimension == Dimension::One {
                    assert!(symbol.is_empty(), "{path}");
                } else {
                    assert!(
                        crate::units::find_unit(parameter.dimension, symbol).is_some(),
                        "{path}: {symbol}"
                    );
                }
            }
            assert!(PARAMETERS[..i].iter().all(|other| other.path() != path), "{path} twice");
        }
    }

    #[test]
    fn a_value_set_is_the_value_read() {
        let mut setup = Setup::default();
        for parameter in PARAMETERS {
            let value = 0.5 * (parameter.min_si() + parameter.max_si());
            parameter.set_si(&mut setup, value);
            assert_eq!(parameter.value_si(&setup), value, "{}", parameter.path());
        }
    }
}

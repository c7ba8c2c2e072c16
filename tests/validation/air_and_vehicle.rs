//! Standard atmosphere, humid air, density altitude, power correction, and the force of drag.

use crate::{assert_near, assert_within};
use stallheat::air::air_properties;
use stallheat::weather::{
    STANDARD_GRAVITY_M_PER_S2, Weather, geopotential_altitude_m, pressure_altitude_m,
    saturation_pressure_pa, standard_pressure_pa, standard_temperature_k,
};

fn kelvin(celsius: f64) -> f64 {
    celsius + 273.15
}

#[test]
pub fn standard_atmosphere_at_geometric_altitudes() {
    // ISO 2533 and U.S. Standard Atmosphere 1976, which agree below 32 km (computed with fluids 1.3):
    // geometric altitude m, K, Pa, kg/m³, Pa·s
    for (altitude_m, temperature_k, pressure_pa, density, viscosity) in [
        (0.0, 288.15, 101325.0, 1.2249991558877125, 1.789380278077583e-05),
        (500.0, 284.9002556130261, 95461.28949694506, 1.1672725123243854, 1.773657203776756e-05),
        (1000.0, 281.6510223716947, 89876.28518727123, 1.1116589850558272, 1.7578504775661537e-05),
        (1500.0, 278.4023001554197, 84559.67669331304, 1.0581038525932882, 1.74195899253745e-05),
        (2000.0, 275.15408884365297, 79501.42464166698, 1.0065532169786469, 1.7259816220014495e-05),
        (3000.0, 268.65919845164115, 70121.16223642998, 0.9092539408451479, 1.693764616800102e-05),
    ] {
        let geopotential_m = geopotential_altitude_m(altitude_m);
        let found_k = standard_temperature_k(geopotential_m);
        let found_pa = standard_pressure_pa(geopotential_m);
        assert_near("temperature", found_k, temperature_k, 1e-5);
        assert_near("pressure", found_pa, pressure_pa, 1e-5);
        let air = air_properties(found_k, found_pa);
        assert_near("density", air.density_kg_per_m3, density, 1e-5);
        assert_near("viscosity", air.dynamic_viscosity_pa_s, viscosity, 1e-5);
        let dry = Weather { pressure_pa, temperature_k, relative_humidity: 0.0 };
        assert_near("density of dry weather", dry.density_kg_per_m3(), density, 1e-5);
    }
}

#[test]
pub fn standard_atmosphere_at_a_geopotential_kilometre() {
    // ISO 2533, table: 281.650 K, 898.746 hPa, 1.11164 kg/m³. At a geometric kilometre: 281.651 K, 898.763 hPa
    assert_near("temperature", standard_temperature_k(1000.0), 281.65, 1e-12);
    assert_near("pressure", standard_pressure_pa(1000.0), 89874.57, 1e-6);
    let air = air_properties(281.65, standard_pressure_pa(1000.0));
    assert_near("density", air.density_kg_per_m3, 1.111643, 1e-5);
    assert_within("pressure altitude, m", pressure_altitude_m(89874.57), 1000.0, 0.01);
}

#[test]
pub fn humid_air() {
    // Moist air as a real gas, ASHRAE RP-1485 (computed with CoolProp 8.0): °C, relative humidity, Pa,
    // kg/m³, vapour pressure Pa
    for (celsius, relative_humidity, pressure_pa, density, vapour_pa) in [
        (15.0, 0.0, 101325.0, 1.2255674564767598, 0.0),
        (35.0, 0.5, 101325.0, 1.1338155363619495, 2827.3034180435147),
        (35.0, 0.6, 84000.0, 0.9354646367397074, 3391.1335209629297),
        (30.0, 0.8, 95000.0, 1.077327694376539, 3411.8018530683667),
    ] {
        let weather = Weather { pressure_pa, temperature_k: kelvin(celsius), relative_humidity };
        assert_near("density", weather.density_kg_per_m3(), density, 1e-3);
        if vapour_pa > 0.0 {
            assert_near("vapour pressure", weather.vapour_pressure_pa(), vapour_pa, 1e-3);
        } else {
            assert_eq!(weather.vapour_pressure_pa(), 0.0);
        }
    }
}

#[test]
pub fn saturation_pressure_of_water() {
    // Hyland and Wexler (1983) against the later IAPWS-95, from memory: 101.418 kPa at 100 °C of the scale of
    // 1990, 611.657 Pa at the triple point. Two formulations of nature, not one arithmetic: 0.1 %
    assert_near("boiling", saturation_pressure_pa(kelvin(100.0)), 101_418.0, 1e-3);
    assert_near("triple point", saturation_pressure_pa(273.16), 611.657, 1e-3);
}

#[test]
pub fn density_altitude_of_a_hot_humid_day() {
    // 35 °C, 50 %, 1013.25 hPa: 798.5 m from CoolProp's density and the closed form (computed)
    let weather =
        Weather { pressure_pa: 101_325.0, temperature_k: kelvin(35.0), relative_humidity: 0.5 };
    let found_m = weather.density_altitude_m();
    assert_within("density altitude, m", found_m, 798.4521081902357, 15.0);
    let standard = Weather {
        pressure_pa: standard_pressure_pa(1500.0),
        temperature_k: standard_temperature_k(1500.0),
        relative_humidity: 0.0,
    };
    assert_within("of the standard at 1500 m, m", standard.density_altitude_m(), 1500.0, 0.1);
}

#[test]
pub fn power_correction() {
    // SAE J1349 in the form of June 1990, from a secondary quotation (computed): dry hPa, °C, factor
    for (dry_hpa, celsius, expected) in [
        (990.0, 25.0, 1.0),
        (950.0, 35.0, 1.0701462509694433),
        (840.0, 30.0, 1.2223328191406466),
        (1013.25, 15.0, 0.9534143355148401),
    ] {
        let weather = Weather {
            pressure_pa: dry_hpa * 100.0,
            temperature_k: kelvin(celsius),
            relative_humidity: 0.0,
        };
        assert_within("factor", weather.sae_j1349_1990_factor(), expected, 1e-6);
    }
    // ISO 1585, exponent form, from memory (computed). Written with 35 °C = 308 K as in J1349; with 308.15 K
    // over 298 K it would be 1.07207.
    let weather =
        Weather { pressure_pa: 95_000.0, temperature_k: kelvin(35.0), relative_humidity: 0.0 };
    assert_near("ISO 1585", weather.iso_1585_factor(), 1.0717526811, 1e-9);
    let reference = Weather::engine_reference();
    assert_near("at the reference", reference.sae_j1349_1990_factor(), 1.0, 1e-14);
    assert_near("at the reference", reference.iso_1585_factor(), 1.0, 1e-14);
    // humidity takes its share of the pressure: 35 °C, 50 %
    let humid = Weather { relative_humidity: 0.5, ..weather };
    let dry = Weather { pressure_pa: humid.dry_pressure_pa(), ..weather };
    assert_near("humid", humid.sae_j1349_1990_factor(), dry.sae_j1349_1990_factor(), 1e-14);
}

#[test]
pub fn force_of_rolling_and_drag() {
    // Usual handbook ranges (Gillespie; Wong; Bosch; from memory): rolling resistance 0.010 to 0.015 on
    // asphalt, drag coefficient 0.25 to 0.50, frontal area 1.7 to 2.4 m²; slicks at low pressure roll harder.
    // A car at the upper end of the first and amid the others (computed): 1500 kg, Crr 0.015, CdA 0.7 m²,
    // 1.2 kg/m³, 50 m/s
    let temperature_k = 293.15;
    let weather = Weather {
        pressure_pa: 1.2 * stallheat::air::GAS_CONSTANT_J_PER_KG_K * temperature_k,
        temperature_k,
        relative_humidity: 0.0,
    };
    let rolling_n = 0.015 * 1500.0 * STANDARD_GRAVITY_M_PER_S2;
    let force_n = rolling_n + 0.7 * weather.dynamic_pressure_pa(50.0);
    assert_near("force", force_n, 1270.649625, 1e-9);
    assert!((0.25 * 1.7..=0.50 * 2.4).contains(&0.7));
}

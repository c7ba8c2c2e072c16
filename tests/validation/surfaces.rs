//! Convection and radiation from surfaces, and the properties of air they rest on.
//!
//! Book: Bergman et al. (Incropera), *Fundamentals of Heat and Mass Transfer*, chapters 7 and 9, Table A.4.
//! The examples are fed with the book's own rounded properties, so that the arithmetic can be tested
//! tightly; the correlations themselves are good to 15 % to 25 %.

use crate::assert_near;
use stallheat::air::air_properties;
use stallheat::convection::{
    Buoyancy, nusselt_cross_flow_cylinder, nusselt_flat_plate, nusselt_free_horizontal_cylinder,
    nusselt_free_plate_hot_down, nusselt_free_plate_hot_up, nusselt_free_vertical_plate,
    nusselt_free_vertical_plate_laminar, radiation_coefficient_w_per_m2_k, radiation_w,
    rayleigh_number,
};

/// The library that the radiation heats below were computed with uses the Stefan–Boltzmann constant of
/// CODATA 2014, 5.670367e-8; the code uses that of CODATA 2018 (exact since the SI of 2019), 5.670374419e-8,
/// and is right. The heats are brought to it by this ratio, 1 + 1.3e-6.
const STEFAN_BOLTZMANN_2018_OVER_2014: f64 = 5.670_374_419 / 5.670_367;

#[test]
pub fn incropera_9_2_vertical_glass_door() {
    let rayleigh = rayleigh_number(&Buoyancy {
        expansion_per_k: 0.0025,
        difference_k: 232.0 - 23.0,
        length_m: 0.71,
        kinematic_viscosity_m2_per_s: 26.4e-6,
        thermal_diffusivity_m2_per_s: 38.3e-6,
    });
    assert_near("Rayleigh number", rayleigh, 1814377482.8655348, 1e-9);
    let nusselt = nusselt_free_vertical_plate(rayleigh, 0.690);
    assert_near("Nusselt number (computed)", nusselt, 147.15372654182016, 1e-9);
    let coefficient = nusselt * 0.0338 / 0.71;
    assert_near("coefficient (computed)", coefficient, 7.005346418469748, 1e-9);
    let heat_w = coefficient * 0.71 * 1.02 * 209.0;
    assert_near("heat (computed)", heat_w, 1060.3138221374604, 1e-9);
    assert_near("heat, example", heat_w, 1060.0, 0.005);
}

#[test]
pub fn incropera_9_3_box_with_sides_top_and_bottom() {
    let buoyancy = |length_m: f64| Buoyancy {
        expansion_per_k: 0.0033,
        difference_k: 30.0,
        length_m,
        kinematic_viscosity_m2_per_s: 16.2e-6,
        thermal_diffusivity_m2_per_s: 22.9e-6,
    };
    let (height_m, width_m, conductivity) = (0.3, 0.75, 0.0265);
    let side = rayleigh_number(&buoyancy(height_m));
    assert_near("Rayleigh number, side", side, 70683406.1135371, 1e-9);
    let side = nusselt_free_vertical_plate_laminar(side, 0.71) * conductivity / height_m;
    assert_near("side (computed)", side, 4.225154100626781, 1e-9);
    let level_m = 0.5 * width_m;
    let level = rayleigh_number(&buoyancy(level_m));
    assert_near("Rayleigh number, top and bottom", level, 138053527.56550217, 1e-9);
    let top = nusselt_free_plate_hot_up(level) * conductivity / level_m;
    assert_near("top (computed)", top, 5.478416348768887, 1e-9);
    let bottom = nusselt_free_plate_hot_down(level) * conductivity / level_m;
    assert_near("bottom (computed)", bottom, 2.0681891119388958, 1e-9);
    let heat_w_per_m = (2.0 * side * height_m + (top + bottom) * width_m) * 30.0;
    assert_near("heat per length (computed)", heat_w_per_m, 245.85139667720716, 1e-9);
    assert_near("heat per length, example", heat_w_per_m, 246.0, 0.005);
}

#[test]
pub fn incropera_9_4_horizontal_pipe_with_radiation() {
    let diameter_m = 0.1;
    let rayleigh = rayleigh_number(&Buoyancy {
        expansion_per_k: 0.002725,
        difference_k: 142.0,
        length_m: diameter_m,
        kinematic_viscosity_m2_per_s: 22.8e-6,
        thermal_diffusivity_m2_per_s: 32.8e-6,
    });
    assert_near("Rayleigh number", rayleigh, 5075924.663029528, 1e-9);
    let nusselt = nusselt_free_horizontal_cylinder(rayleigh, 0.697);
    assert_near("Nusselt number (computed)", nusselt, 23.094934008737056, 1e-9);
    let coefficient = nusselt * 0.0313 / diameter_m;
    assert_near("coefficient (computed)", coefficient, 7.228714344734699, 1e-9);
    let around_m = std::f64::consts::PI * diameter_m;
    let convection = coefficient * around_m * 142.0;
    assert_near("convection per length (computed)", convection, 322.4773975005112, 1e-9);
    let radiation = radiation_w(0.85, around_m, 438.0, 296.0);
    let computed = 441.04614031204966 * STEFAN_BOLTZMANN_2018_OVER_2014;
    assert_near("radiation per length (computed)", radiation, computed, 1e-9);
    let heat_w_per_m = convection + radiation;
    let computed = 322.4773975005112 + computed;
    assert_near("together (computed)", heat_w_per_m, computed, 1e-9);
    assert_near("together, example", heat_w_per_m, 763.0, 0.005);
}

#[test]
pub fn incropera_7_4_cylinder_in_cross_flow() {
    let diameter_m = 0.0127;
    let reynolds = 10.0 * diameter_m / 20.92e-6;
    assert_near("Reynolds number", reynolds, 6070.745697896749, 1e-9);
    let nusselt = nusselt_cross_flow_cylinder(reynolds, 0.700);
    assert_near("Nusselt number (computed)", nusselt, 40.63617078212563, 1e-9);
    let coefficient = nusselt * 0.0300 / diameter_m;
    assert_near("coefficient (computed)", coefficient, 95.99095460344638, 1e-9);
    assert_near("coefficient, measured in the example", coefficient, 102.0, 0.15);
}

#[test]
pub fn flat_plate_laminar_and_mixed() {
    // Incropera equations 7.30 and 7.38 (computed); the first Reynolds number is that of Example 7.2
    assert_near("laminar", nusselt_flat_plate(113593.0, 0.69), 197.7547365401523, 1e-9);
    assert_near("mixed", nusselt_flat_plate(1e6, 0.69), 1293.2672270443343, 1e-9);
}

#[test]
pub fn radiation_between_grey_surface_and_surroundings() {
    // Computed: emissivity 0.85, 120 °C to 35 °C, per m²; the heat with ht 1.2 (constant of 2014), the
    // coefficient from the closed form with the constant of 2018
    let heat_w = radiation_w(0.85, 1.0, 393.15, 308.15);
    assert_near("heat", heat_w, 716.9090164588473 * STEFAN_BOLTZMANN_2018_OVER_2014, 1e-9);
    let coefficient = radiation_coefficient_w_per_m2_k(0.85, 393.15, 308.15);
    assert_near("coefficient", coefficient, 8.434234758222667, 1e-9);
    assert_near("both agree", coefficient * 85.0, heat_w, 1e-12);
}

#[test]
pub fn air_against_incropera_table_a_4() {
    // Table A.4 (values from memory of the book). Its densities are those of 1 bar: 1.1614 at 300 K.
    for (temperature_k, conductivity, kinematic, prandtl) in [
        (300.0, 0.0263, 15.89e-6, 0.707),
        (350.0, 0.0300, 20.92e-6, 0.700),
        (400.0, 0.0338, 26.41e-6, 0.690),
    ] {
        let air = air_properties(temperature_k, 100_000.0);
        assert_near("conductivity", air.conductivity_w_per_m_k, conductivity, 0.02);
        assert_near("kinematic viscosity", air.kinematic_viscosity_m2_per_s, kinematic, 0.02);
        assert_near("Prandtl number", air.prandtl, prandtl, 0.02);
    }
}

#[test]
pub fn air_viscosity_and_density_of_the_standard_atmosphere() {
    // ISO 2533 / U.S. Standard Atmosphere 1976 at 0 to 3000 m geometric altitude (computed with fluids 1.3):
    // temperature K, pressure Pa, density kg/m³, viscosity Pa·s
    for (temperature_k, pressure_pa, density, viscosity) in [
        (288.15, 101325.0, 1.2249991558877125, 1.789380278077583e-5),
        (284.9002556130261, 95461.28949694506, 1.1672725123243854, 1.773657203776756e-5),
        (281.6510223716947, 89876.28518727123, 1.1116589850558272, 1.7578504775661537e-5),
        (278.4023001554197, 84559.67669331304, 1.0581038525932882, 1.74195899253745e-5),
        (275.15408884365297, 79501.42464166698, 1.0065532169786469, 1.7259816220014495e-5),
        (268.65919845164115, 70121.16223642998, 0.9092539408451479, 1.693764616800102e-5),
    ] {
        let air = air_properties(temperature_k, pressure_pa);
        assert_near("viscosity", air.dynamic_viscosity_pa_s, viscosity, 1e-5);
        assert_near("density", air.density_kg_per_m3, density, 1e-5);
    }
}

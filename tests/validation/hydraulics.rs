//! Friction factors, pressure drops of hoses and leakage of a pump.

use crate::assert_near;
use stallheat::error::Error;
use stallheat::hydraulics::{
    Circuit, Element, FluidState, FrontPump, Hose, Slot, darcy_friction_factor,
    slot_leakage_m3_per_s,
};
use std::f64::consts::PI;

const L_PER_MIN: f64 = 1.0 / 60e3;

#[test]
pub fn darcy_friction_factors() {
    // laminar 64/Re; turbulent Colebrook, J. Inst. Civ. Eng. 11 (1939) 133, solved exactly (computed with
    // fluids 1.3, Clamond's method). No value between Re 2000 and 4000: there nature is indeterminate.
    for (reynolds, relative_roughness, expected) in [
        (500.0, 0.0, 0.128),
        (1e4, 0.0, 0.030882950353487693),
        (1e5, 1e-4, 0.01851386607747165),
        (1e6, 1e-3, 0.01994346584047687),
    ] {
        let found = darcy_friction_factor(reynolds, relative_roughness);
        assert_near("friction factor", found, expected, 1e-8);
    }
}

#[test]
pub fn friction_factor_against_explicit_formulas() {
    // Haaland, J. Fluids Eng. 105 (1983) 89, and Swamee & Jain, J. Hydraul. Div. 102 (1976) 657: both are
    // stated by their authors as within about 2 % of Colebrook
    for reynolds in [1e4, 1e5, 1e6, 1e7] {
        for roughness in [1e-5f64, 1e-4, 1e-3] {
            let found = darcy_friction_factor(reynolds, roughness);
            let haaland = (-1.8 * ((roughness / 3.7).powf(1.11) + 6.9 / reynolds).log10()).powi(-2);
            let swamee_jain = 0.25 * (roughness / 3.7 + 5.74 / reynolds.powf(0.9)).log10().powi(-2);
            assert_near("Haaland", found, haaland, 0.02);
            assert_near("Swamee and Jain", found, swamee_jain, 0.02);
        }
    }
}

#[test]
pub fn pressure_drop_of_a_smooth_hose() -> Result<(), Error> {
    // Darcy–Weisbach with loss coefficient, 9.5 mm × 3 m (computed with fluids 1.3): flow in L/min, ν in
    // mm²/s, ρ, K, then velocity, Reynolds number, friction factor, drop in Pa
    for (flow_l_per_min, viscosity, density, loss, expected) in [
        (
            8.0,
            10.0,
            820.0,
            0.0,
            (1.8810556524249868, 1787.0028698037372, 0.03581415625092364, 16407.390687966206),
        ),
        (
            8.0,
            10.0,
            820.0,
            3.0,
            (1.8810556524249868, 1787.0028698037372, 0.03581415625092364, 20759.586240015797),
        ),
        (
            8.0,
            100.0,
            850.0,
            0.0,
            (1.8810556524249868, 178.70028698037373, 0.3581415625092364, 170076.61078989357),
        ),
        (
            30.0,
            3.0,
            790.0,
            0.0,
            (7.0539586965937, 22337.535872546716, 0.025194968172349615, 156377.54252680266),
        ),
    ] {
        let hose = Hose { bore_m: 9.5e-3, length_m: 3.0, roughness_m: 0.0, loss_coefficient: loss };
        let fluid = FluidState {
            kinematic_viscosity_m2_per_s: viscosity * 1e-6,
            density_kg_per_m3: density,
        };
        let flow = flow_l_per_min * L_PER_MIN;
        assert_near("velocity", hose.velocity_m_per_s(flow), expected.0, 1e-12);
        let reynolds = hose.reynolds(flow, &fluid);
        assert_near("Reynolds number", reynolds, expected.1, 1e-12);
        assert_near("friction factor", darcy_friction_factor(reynolds, 0.0), expected.2, 1e-8);
        assert_near("drop", hose.pressure_drop_pa(flow, &fluid), expected.3, 1e-7);
        let circuit = Circuit::new("hose", vec![Element::Hose(hose)])?;
        assert_near("flow back", circuit.flow_m3_per_s(expected.3, &fluid), flow, 1e-7);
    }
    // the first case is laminar: Hagen–Poiseuille 128·μ·L·Q/(π·D⁴) (closed form)
    let poiseuille = 128.0 * 10e-6 * 820.0 * 3.0 * 8.0 * L_PER_MIN / (PI * 9.5e-3f64.powi(4));
    assert_near("Hagen–Poiseuille", 16407.390687966206, poiseuille, 1e-12);
    Ok(())
}

#[test]
pub fn leakage_of_a_pump_through_a_slot() {
    // Q = b·h³·Δp/(12·μ·L) (closed form): 20 cm³ per turn at 3000 rpm, slot 150 mm wide, 50 µm high, 5 mm
    // long, 1 MPa; μ in Pa·s, leakage in L/min, volumetric efficiency
    let slot = Slot { width_m: 0.15, gap_m: 50e-6, length_m: 5e-3 };
    let theoretical_l_per_min = 20e-6 * 3000.0 / 60.0 / L_PER_MIN;
    assert_near("theoretical flow", theoretical_l_per_min, 60.0, 1e-12);
    for (viscosity_pa_s, leakage, efficiency) in [
        (0.0082, 2.2865853658536586, 0.961890243902439),
        (0.0041, 4.573170731707317, 0.9237804878048781),
    ] {
        let found = slot_leakage_m3_per_s(slot.conductance_m3(), 1e6, viscosity_pa_s) / L_PER_MIN;
        assert_near("leakage", found, leakage, 1e-9);
        assert_near("efficiency", 1.0 - found / theoretical_l_per_min, efficiency, 1e-9);
    }
    // ideal power Q·Δp is 1 000 W, and the shaft takes that over the mechanical efficiency: the front pump with this
    // displacement and speed, at the pressure that it then makes
    let pump = FrontPump { displacement_m3_per_rad: 20e-6 / (2.0 * PI), ..FrontPump::typical() };
    assert_near("power", 60.0 * L_PER_MIN * 1e6, 1000.0, 1e-9);
    let fluid = FluidState { kinematic_viscosity_m2_per_s: 10e-6, density_kg_per_m3: 820.0 };
    let circuit = Circuit::typical_converter_to_sump();
    let point = pump.operating_point(3000.0 * PI / 30.0, 1e6, &circuit, &fluid);
    let ideal_w = 60.0 * L_PER_MIN * point.line_pressure_pa;
    assert_near("shaft power", point.shaft_power_w, ideal_w / pump.mechanical_efficiency, 1e-12);
    // it leaks as its slot does at that pressure
    let leakage = slot_leakage_m3_per_s(pump.leakage_m3, point.line_pressure_pa, 0.0082);
    assert_near("leakage", point.leakage_m3_per_s, leakage, 1e-12);
}

//! Resistance to flow: pipes by their friction factor, orifices, passages by a rating, and their sum.
//!
//! **Concept.** Everything in series carries the same flow Q, and the pressure drops add up. Drops that go
//! with viscosity (∝ μQ) rule when the fluid is cold, drops that go with density (∝ ρQ²) when it is hot.
//!
//! **Equations.**
//! - hose [1]: `Δp = (f·L/D + K)·ρV²/2`, V = 4Q/(πD²), Re = V·D/ν
//! - friction factor of Darcy: laminar `f = 64/Re`; turbulent by Colebrook [2],
//!   `1/√f = −2·log10(ε/(3.7·D) + 2.51/(Re·√f))`, solved to rounding
//! - orifice: `Δp = ρQ²/(2·(Cd·A)²)`
//! - passages (cooler core, converter): from a drop Δp₁ measured at Q₁, μ₁, ρ₁, of which a share s is
//!   laminar, `Δp = Δp₁·[s·μQ/(μ₁Q₁) + (1−s)·ρQ²/(ρ₁Q₁²)]`
//!
//! **The indeterminate band.** Between Re 2040 and 4000 the flow is laminar, turbulent or both by turns, and
//! no formula is right. Here the two laws are blended, `f = (1−w)·64/Re + w·f_turbulent`, with a weight w
//! that goes from 0 to 1 as a cubic with level ends. The turbulent law lies above the laminar one in the
//! whole band, so f·Re rises throughout: drop against flow is smooth and rises, and the flow under a given
//! pressure exists and is unique. That, not accuracy, is the purpose of the blend.
//!
//! What no blend can give: flow that always falls as the fluid thickens. Laminar flow at Re 2040 rubs less
//! (f = 0.031) than turbulent flow at 4000 (0.040), so a hose that falls back to laminar flow as its fluid
//! cools may for a moment pass a little more. Away from the band thicker fluid always flows less, and six
//! times the viscosity always does.
//!
//! **Assumptions.** Developed flow at one temperature; loss coefficients do not depend on Re.
//!
//! **Valid range.** Any flow of zero or more (a negative one counts as zero). Colebrook's formula describes
//! measured pipes within a few per cent, for ε/D up to 0.05.
//!
//! **Sources.** [1] Darcy–Weisbach and Hagen–Poiseuille, as in White, *Fluid Mechanics*. [2] C. F.
//! Colebrook, J. Inst. Civ. Eng. 11 (1939) 133. The limit 2040: Avila et al., Science 333 (2011) 192, as
//! used by the library `fluids`.
//!
//! **Not here.** Entry lengths, swirl, bends other than through K, viscosity that differs between wall and
//! core, branches in parallel.

use super::FluidState;
use crate::error::{Error, ErrorKind};
use crate::root::rising_root;
use std::f64::consts::PI;

/// Below this Reynolds number the flow is taken as laminar.
pub const LAMINAR_LIMIT: f64 = 2040.0;
/// Above this Reynolds number the flow is taken as turbulent.
pub const TURBULENT_LIMIT: f64 = 4000.0;

/// Darcy's friction factor, continuous with its slope; for Re of zero or less it is infinite.
pub fn darcy_friction_factor(reynolds: f64, relative_roughness: f64) -> f64 {
    if reynolds <= LAMINAR_LIMIT {
        return if reynolds > 0.0 { 64.0 / reynolds } else { f64::INFINITY };
    }
    let turbulent = colebrook_friction_factor(reynolds, relative_roughness);
    if reynolds >= TURBULENT_LIMIT {
        return turbulent;
    }
    let across = (reynolds - LAMINAR_LIMIT) / (TURBULENT_LIMIT - LAMINAR_LIMIT);
    let weight = across * across * (3.0 - 2.0 * across);
    (1.0 - weight) * 64.0 / reynolds + weight * turbulent
}

/// Colebrook's equation for y = 1/√f by Newton's method; three steps reach rounding. The start is
/// Haaland's explicit formula with his exponent 1.11 left out.
fn colebrook_friction_factor(reynolds: f64, relative_roughness: f64) -> f64 {
    let rough = relative_roughness.max(0.0) / 3.7;
    let viscous = 2.51 / reynolds;
    let mut y = -1.8 * (rough + 6.9 / reynolds).log10();
    for _ in 0..6 {
        let inside = rough + viscous * y;
        let excess = y + 2.0 * inside.log10();
        let step = excess / (1.0 + 2.0 * std::f64::consts::LOG10_E * viscous / inside);
        y -= step;
        if step.abs() < 1e-9 * y {
            // quadratic: the error left is of the order of the square of this step
            break;
        }
    }
    1.0 / (y * y)
}

/// A round hose or pipe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hose {
    pub bore_m: f64,
    pub length_m: f64,
    /// Height of the wall's roughness; zero for a smooth hose.
    pub roughness_m: f64,
    /// Sum of the K of fittings and bends, referred to the velocity in this bore.
    pub loss_coefficient: f64,
}

impl Hose {
    /// Mean velocity.
    pub fn velocity_m_per_s(&self, flow_m3_per_s: f64) -> f64 {
        4.0 * flow_m3_per_s / (PI * self.bore_m * self.bore_m)
    }

    /// Reynolds number V·D/ν.
    pub fn reynolds(&self, flow_m3_per_s: f64, fluid: &FluidState) -> f64 {
        self.velocity_m_per_s(flow_m3_per_s) * self.bore_m / fluid.kinematic_viscosity_m2_per_s
    }

    /// Pressure drop.
    #[inline]
    pub fn pressure_drop_pa(&self, flow_m3_per_s: f64, fluid: &FluidState) -> f64 {
        let reynolds = self.reynolds(flow_m3_per_s, fluid);
        if reynolds <= 0.0 || reynolds.is_nan() {
            return 0.0;
        }
        let velocity_m_per_s = self.velocity_m_per_s(flow_m3_per_s);
        let friction = darcy_friction_factor(reynolds, self.roughness_m / self.bore_m);
        (friction * self.length_m / self.bore_m + self.loss_coefficient)
            * 0.5
            * fluid.density_kg_per_m3
            * velocity_m_per_s
            * velocity_m_per_s
    }
}

/// A sharp-edged hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Orifice {
    pub diameter_m: f64,
    /// Cd, about 0.6 to 0.8.
    pub discharge_coefficient: f64,
}

impl Orifice {
    /// Pressure drop.
    #[inline]
    pub fn pressure_drop_pa(&self, flow_m3_per_s: f64, fluid: &FluidState) -> f64 {
        let area_m2 = 0.25 * PI * self.diameter_m * self.diameter_m;
        orifice_drop_pa(flow_m3_per_s, self.discharge_coefficient * area_m2, fluid)
    }
}

/// `ρQ²/(2·(Cd·A)²)`.
pub(super) fn orifice_drop_pa(
    flow_m3_per_s: f64,
    effective_area_m2: f64,
    fluid: &FluidState,
) -> f64 {
    let velocity_m_per_s = flow_m3_per_s.max(0.0) / effective_area_m2;
    0.5 * fluid.density_kg_per_m3 * velocity_m_per_s * velocity_m_per_s
}

/// Passages known by a rating only: a cooler core, a converter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Passages {
    pub rated_pressure_drop_pa: f64,
    pub rated_flow_m3_per_s: f64,
    /// The fluid of the rating.
    pub rated_fluid: FluidState,
    /// Share of the rated drop that goes with μQ, 0 to 1; the rest goes with ρQ².
    pub laminar_share: f64,
}

impl Passages {
    /// Pressure drop.
    #[inline]
    pub fn pressure_drop_pa(&self, flow_m3_per_s: f64, fluid: &FluidState) -> f64 {
        let flow_ratio = flow_m3_per_s.max(0.0) / self.rated_flow_m3_per_s;
        let viscosity_ratio =
            fluid.dynamic_viscosity_pa_s() / self.rated_fluid.dynamic_viscosity_pa_s();
        let density_ratio = fluid.density_kg_per_m3 / self.rated_fluid.density_kg_per_m3;
        self.rated_pressure_drop_pa
            * flow_ratio
            * (self.laminar_share * viscosity_ratio
                + (1.0 - self.laminar_share) * density_ratio * flow_ratio)
    }
}

/// One resistance of a circuit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Element {
    Hose(Hose),
    Orifice(Orifice),
    Passages(Passages),
}

impl Element {
    /// Pressure drop; rises with the flow, at least in proportion to it.
    #[inline]
    pub fn pressure_drop_pa(&self, flow_m3_per_s: f64, fluid: &FluidState) -> f64 {
        match self {
            Element::Hose(hose) => hose.pressure_drop_pa(flow_m3_per_s, fluid),
            Element::Orifice(orifice) => orifice.pressure_drop_pa(flow_m3_per_s, fluid),
            Element::Passages(passages) => passages.pressure_drop_pa(flow_m3_per_s, fluid),
        }
    }

    /// What is wrong with the element's numbers: name, value, limit.
    fn flaw(&self) -> Option<(&'static str, f64, &'static str)> {
        let positive = |name, value: f64| {
            (!(value > 0.0 && value.is_finite())).then_some((name, value, "a number above zero"))
        };
        let not_negative = |name, value: f64| {
            (!(value >= 0.0 && value.is_finite())).then_some((name, value, "zero or more"))
        };
        match self {
            Element::Hose(hose) => positive("bore", hose.bore_m)
                .or_else(|| positive("length", hose.length_m))
                .or_else(|| not_negative("roughness", hose.roughness_m))
                .or_else(|| not_negative("loss_coefficient", hose.loss_coefficient))
                .or_else(|| {
                    (hose.roughness_m > 0.05 * hose.bore_m).then_some((
                        "roughness",
                        hose.roughness_m,
                        "at most a twentieth of the bore",
                    ))
                }),
            Element::Orifice(orifice) => positive("diameter", orifice.diameter_m)
                .or_else(|| positive("discharge_coefficient", orifice.discharge_coefficient)),
            Element::Passages(passages) => {
                positive("rated_pressure_drop", passages.rated_pressure_drop_pa)
                    .or_else(|| positive("rated_flow", passages.rated_flow_m3_per_s))
                    .or_else(|| {
                        positive(
                            "rated_viscosity",
                            passages.rated_fluid.kinematic_viscosity_m2_per_s,
                        )
                    })
                    .or_else(|| positive("rated_density", passages.rated_fluid.density_kg_per_m3))
                    .or_else(|| {
                        (!(0.0..=1.0).contains(&passages.laminar_share)).then_some((
                            "laminar_share",
                            passages.laminar_share,
                            "from 0 to 1",
                        ))
                    })
            }
        }
    }
}

/// Resistances one after the other, at least one.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    elements: Vec<Element>,
    /// How many of these circuits lie side by side; any number above zero.
    copies: f64,
}

impl Circuit {
    /// Refuses an empty circuit and numbers that make no resistance. `field` is the path named in the error.
    pub fn new(field: &str, elements: Vec<Element>) -> Result<Circuit, Error> {
        if elements.is_empty() {
            return Err(Error::new(
                ErrorKind::Missing,
                field,
                "no hose, orifice or cooler",
                "at least one resistance",
                "Give the hoses of the circuit: without resistance there is no answer for the flow.",
            ));
        }
        for (index, element) in elements.iter().enumerate() {
            if let Some((name, value, limit)) = element.flaw() {
                return Err(Error::new(
                    ErrorKind::OutOfRange,
                    format!("{field}[{index}].{name}"),
                    format!("{value}"),
                    limit,
                    "Correct this number of the circuit.",
                ));
            }
        }
        Ok(Circuit { elements, copies: 1.0 })
    }

    /// Converter, two hoses of 8.7 mm bore to a plate-and-fin cooler and back, and the lubrication holes of
    /// the gearbox. Sizes common in practice, no source; made to give the flows in [`super::front_pump`].
    pub fn typical_converter_to_sump() -> Circuit {
        Circuit {
            elements: vec![
                Element::Passages(converter_passages()),
                Element::Hose(small_hose(2.5)),
                Element::Passages(cooler_core()),
                Element::Hose(small_hose(2.5)),
                Element::Orifice(Orifice { diameter_m: 3.2e-3, discharge_coefficient: 0.7 }),
            ],
            copies: 1.0,
        }
    }

    /// Pan to pump to cooler to pan, hoses of 11 mm bore. Sizes common in practice, no source.
    pub fn typical_pan_loop() -> Circuit {
        Circuit {
            elements: vec![
                Element::Hose(large_hose(1.0)),
                Element::Hose(large_hose(2.5)),
                Element::Passages(cooler_core()),
                Element::Hose(large_hose(2.5)),
            ],
            copies: 1.0,
        }
    }

    /// The same loop with the converter in it.
    pub fn typical_loop_through_converter() -> Circuit {
        let mut circuit = Circuit::typical_pan_loop();
        circuit.elements.push(Element::Passages(converter_passages()));
        circuit
    }

    /// So many of this circuit side by side: a way to size a known circuit to a known flow.
    pub fn in_parallel(self, copies: f64) -> Circuit {
        Circuit { copies: self.copies * copies, ..self }
    }

    /// The resistances, as given.
    pub fn elements(&self) -> &[Element] {
        &self.elements
    }

    /// Sum of the pressure drops; rises with the flow, at least in proportion to it.
    #[inline]
    pub fn pressure_drop_pa(&self, flow_m3_per_s: f64, fluid: &FluidState) -> f64 {
        let each_m3_per_s = flow_m3_per_s / self.copies;
        self.elements.iter().map(|element| element.pressure_drop_pa(each_m3_per_s, fluid)).sum()
    }

    /// The flow under a pressure: the inverse of [`Circuit::pressure_drop_pa`], to 1e-12 relative. No
    /// pressure, no flow.
    ///
    /// The drop over the flow never falls, so one trial flow gives a bracket: if it needs 1/r of the
    /// pressure, the flow sought lies between it and r times it. In logarithms drop against flow is nearly
    /// straight, and there the search goes on.
    pub fn flow_m3_per_s(&self, available_pressure_pa: f64, fluid: &FluidState) -> f64 {
        const TRIAL_M3_PER_S: f64 = 1e-4;
        if !(available_pressure_pa > 0.0 && available_pressure_pa.is_finite()) {
            return 0.0;
        }
        let ratio = available_pressure_pa / self.pressure_drop_pa(TRIAL_M3_PER_S, fluid);
        let far = ratio.ln();
        // a little wider than the bracket, for rounding where the circuit is wholly laminar
        let (low, high) = if far < 0.0 { (far - 1e-9, 0.0) } else { (0.0, far + 1e-9) };
        let logarithm = rising_root(low, high, 1e-13, |logarithm| {
            let flow_m3_per_s = TRIAL_M3_PER_S * logarithm.exp();
            (self.pressure_drop_pa(flow_m3_per_s, fluid) / available_pressure_pa).ln()
        });
        TRIAL_M3_PER_S * logarithm.exp()
    }
}

/// The fluid of the typical ratings: hot, 10 mm²/s.
const RATING_FLUID: FluidState =
    FluidState { kinematic_viscosity_m2_per_s: 10e-6, density_kg_per_m3: 820.0 };

/// The converter as a resistance: hub, cover and the way back along the stator tube.
fn converter_passages() -> Passages {
    Passages {
        rated_pressure_drop_pa: 60e3,
        rated_flow_m3_per_s: 10.0 / 60e3,
        rated_fluid: RATING_FLUID,
        laminar_share: 0.3,
    }
}

fn cooler_core() -> Passages {
    Passages {
        rated_pressure_drop_pa: 40e3,
        rated_flow_m3_per_s: 10.0 / 60e3,
        rated_fluid: RATING_FLUID,
        laminar_share: 0.6,
    }
}

fn small_hose(length_m: f64) -> Hose {
    Hose { bore_m: 8.7e-3, length_m, roughness_m: 0.0, loss_coefficient: 3.0 }
}

fn large_hose(length_m: f64) -> Hose {
    Hose { bore_m: 11.0e-3, length_m, roughness_m: 0.0, loss_coefficient: 2.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn state(viscosity_mm2_per_s: f64) -> FluidState {
        FluidState {
            kinematic_viscosity_m2_per_s: viscosity_mm2_per_s * 1e-6,
            density_kg_per_m3: 850.0,
        }
    }

    #[test]
    fn friction_factor_is_continuous_with_its_slope_and_drop_rises_through_the_band() {
        for roughness in [0.0, 1e-4, 1e-2, 0.05] {
            for limit in [LAMINAR_LIMIT, TURBULENT_LIMIT] {
                let f = |reynolds| darcy_friction_factor(reynolds, roughness);
                assert!((f(limit + 1e-9) / f(limit - 1e-9) - 1.0).abs() < 1e-11);
                let above = (f(limit + 0.2) - f(limit + 0.1)) / 0.1;
                let below = (f(limit - 0.1) - f(limit - 0.2)) / 0.1;
                assert!((above - below).abs() < 0.02 * (f(limit) / limit), "{above} {below}");
            }
            let mut last = 0.0;
            for step in 1..60_000 {
                let reynolds = f64::from(step) * 0.1;
                let product = darcy_friction_factor(reynolds, roughness) * reynolds;
                assert!(product >= last * (1.0 - 1e-14), "Re {reynolds} ε/D {roughness}");
                last = product;
            }
        }
    }

    #[test]
    fn colebrook_is_solved_to_rounding() {
        for reynolds in [2040.0, 4000.0, 1e4, 1e5, 1e6, 1e8] {
            for roughness in [0.0, 1e-6, 1e-4, 1e-2, 0.05] {
                let y = colebrook_friction_factor(reynolds, roughness).powf(-0.5);
                let again = -2.0 * (roughness / 3.7 + 2.51 * y / reynolds).log10();
                assert!((y / again - 1.0).abs() < 1e-13, "{reynolds} {roughness}: {y} {again}");
            }
        }
    }

    #[test]
    fn one_laminar_hose_flows_as_hagen_and_poiseuille_say() -> Result<(), Error> {
        let hose = Hose { bore_m: 0.01, length_m: 2.0, roughness_m: 0.0, loss_coefficient: 0.0 };
        let circuit = Circuit::new("hose", vec![Element::Hose(hose)])?;
        let fluid = state(200.0);
        let flow = circuit.flow_m3_per_s(50e3, &fluid);
        let expected = PI * 0.01f64.powi(4) * 50e3 / (128.0 * fluid.dynamic_viscosity_pa_s() * 2.0);
        assert!((flow / expected - 1.0).abs() < 1e-12);
        Ok(())
    }

    #[test]
    fn passages_return_their_rating_and_scale_by_both_laws() {
        let core = cooler_core();
        let rated = core.pressure_drop_pa(core.rated_flow_m3_per_s, &core.rated_fluid);
        assert!((rated / core.rated_pressure_drop_pa - 1.0).abs() < 1e-14);
        let fluid = FluidState { kinematic_viscosity_m2_per_s: 50e-6, ..core.rated_fluid };
        let doubled = core.pressure_drop_pa(2.0 * core.rated_flow_m3_per_s, &fluid);
        assert!((doubled / 40e3 - (0.6 * 5.0 * 2.0 + 0.4 * 4.0)).abs() < 1e-12);
    }

    #[test]
    fn circuits_without_resistance_are_refused_by_name() {
        assert!(Circuit::new("lines", vec![]).is_err_and(|error| error.field == "lines"));
        let hose = small_hose(1.0);
        for (bad, name) in [
            (Hose { bore_m: 0.0, ..hose }, "lines[0].bore"),
            (Hose { length_m: f64::NAN, ..hose }, "lines[0].length"),
            (Hose { roughness_m: 1e-3, ..hose }, "lines[0].roughness"),
            (Hose { loss_coefficient: -1.0, ..hose }, "lines[0].loss_coefficient"),
        ] {
            let refused = Circuit::new("lines", vec![Element::Hose(bad)]);
            assert!(refused.is_err_and(|error| error.field == name));
        }
        let hole = Orifice { diameter_m: -1.0, discharge_coefficient: 0.7 };
        assert!(Circuit::new("lines", vec![Element::Orifice(hole)]).is_err());
        let core = Passages { laminar_share: 1.1, ..cooler_core() };
        assert!(Circuit::new("lines", vec![Element::Passages(core)]).is_err());
    }

    #[test]
    fn no_pressure_no_flow() {
        let circuit = Circuit::typical_converter_to_sump();
        for pressure_pa in [0.0, -5.0, f64::NAN] {
            assert_eq!(circuit.flow_m3_per_s(pressure_pa, &state(10.0)), 0.0);
        }
        assert_eq!(circuit.pressure_drop_pa(0.0, &state(10.0)), 0.0);
        assert_eq!(circuit.pressure_drop_pa(-1.0, &state(10.0)), 0.0);
    }

    proptest! {
        #[test]
        fn flow_is_the_inverse_of_drop_rises_with_pressure_and_falls_with_viscosity(
            log_pressure in 0.0..7.0f64,
            log_viscosity in 0.301..3.302f64,
            more in 1.0001..3.0f64,
        ) {
            let pressure_pa = 10f64.powf(log_pressure);
            let viscosity = 10f64.powf(log_viscosity);
            for circuit in [Circuit::typical_converter_to_sump(), Circuit::typical_pan_loop()] {
                let fluid = state(viscosity);
                let flow = circuit.flow_m3_per_s(pressure_pa, &fluid);
                let drop = circuit.pressure_drop_pa(flow, &fluid);
                prop_assert!((drop / pressure_pa - 1.0).abs() < 1e-10, "{drop} {pressure_pa}");
                prop_assert!(circuit.flow_m3_per_s(pressure_pa * more, &fluid) > flow);
                let thick = state(viscosity * more);
                let thick_flow = circuit.flow_m3_per_s(pressure_pa, &thick);
                let reynolds = circuit.elements().iter().filter_map(|element| match element {
                    Element::Hose(hose) => {
                        Some((hose.reynolds(flow, &fluid), hose.reynolds(thick_flow, &thick)))
                    }
                    _ => None,
                });
                let settled = reynolds.into_iter().all(|(thin, thick)| {
                    thin.max(thick) < LAMINAR_LIMIT || thin.min(thick) > TURBULENT_LIMIT
                });
                prop_assert!(!settled || thick_flow < flow, "{flow} {thick_flow}");
                prop_assert!(circuit.flow_m3_per_s(pressure_pa, &state(viscosity * 6.0)) < flow);
            }
        }
    }
}

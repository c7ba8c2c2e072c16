//! Published values: worked examples of textbooks, tables of standards and models that others have printed.
//!
//! One file per area. Beside each number stands where it is from: "table" or "example" for values read in
//! the publication, "computed" for values worked out from the published formula with an independent general
//! library (ht 1.2, fluids 1.3, SciPy 1.17). Tight tolerances test the arithmetic; loose ones, always named
//! as such, say how far the formula is from the print or from nature. Where print and formula disagree the
//! test says which is right and why.
//!
//! Not here: examples that need a differential equation solved, and the viscosity index of ASTM D2270,
//! which the simulation does not use.

mod air_and_vehicle;
mod converters;
mod exchangers;
mod hydraulics;
mod life;
mod oils;
mod surfaces;

/// Fails unless `found` is within `relative` of `expected`.
#[track_caller]
fn assert_near(what: &str, found: f64, expected: f64, relative: f64) {
    let error = (found - expected).abs() / expected.abs();
    assert!(error <= relative, "{what}: found {found}, published {expected}, off by {error:e}");
}

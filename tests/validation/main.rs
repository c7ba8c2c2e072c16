//! What stands outside this package: worked examples of textbooks, tables of standards, models and data that others have
//! published, closed forms, an independent implementation of the whole model, and facts of the trade.
//!
//! One file per area. Beside each number stands where it is from: "table" or "example" for values read in
//! the publication, "computed" for values worked out from the published formula with an independent general
//! library (ht 1.2, fluids 1.3, SciPy 1.17). Tight tolerances test the arithmetic; loose ones, always named
//! as such, say how far the formula is from the print or from nature. Where print and formula disagree the
//! test says which is right and why.
//!
//! What is compared here is taken down as well, and `page` makes docs/validation.md of it.
//!
//! Not here: the viscosity index of ASTM D2270, which the simulation does not use.

mod accuracy;
mod air_and_vehicle;
mod analytic;
mod converters;
mod exchangers;
mod hydraulics;
mod independent;
mod life;
mod nist;
mod oils;
mod page;
mod pass;
mod surfaces;
mod trade;

#[path = "../common/mod.rs"]
mod common;
#[path = "../common/days.rs"]
mod days;

use std::cell::RefCell;

/// How far a number may be from what it is held against.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Allowed {
    /// A share of it.
    Share(f64),
    /// So much, in its own unit.
    Difference(f64),
    /// It is the most, or the least, that is allowed.
    AtMost,
    AtLeast,
}

/// A comparison that held.
#[derive(Debug, Clone)]
struct Check {
    what: String,
    found: f64,
    against: f64,
    allowed: Allowed,
}

thread_local! {
    /// What this thread has compared since somebody took it.
    static CHECKS: RefCell<Vec<Check>> = const { RefCell::new(Vec::new()) };
}

fn take_down(what: &str, found: f64, against: f64, allowed: Allowed) {
    let check = Check { what: what.to_string(), found, against, allowed };
    CHECKS.with_borrow_mut(|checks| checks.push(check));
}

/// Fails unless `found` is within `relative` of `expected`.
#[track_caller]
fn assert_near(what: &str, found: f64, expected: f64, relative: f64) {
    let error = (found - expected).abs() / expected.abs();
    assert!(error <= relative, "{what}: found {found}, published {expected}, off by {error:e}");
    take_down(what, found, expected, Allowed::Share(relative));
}

/// Fails unless `found` differs from `expected` by at most `difference`.
#[track_caller]
fn assert_within(what: &str, found: f64, expected: f64, difference: f64) {
    let error = (found - expected).abs();
    assert!(error <= difference, "{what}: found {found}, expected {expected}, off by {error:e}");
    take_down(what, found, expected, Allowed::Difference(difference));
}

/// Fails if `found` is larger than `limit`.
#[track_caller]
fn assert_at_most(what: &str, found: f64, limit: f64) {
    assert!(found <= limit, "{what}: {found:e} is more than {limit:e}");
    take_down(what, found, limit, Allowed::AtMost);
}

/// Fails if `found` is smaller than `limit`.
#[track_caller]
fn assert_at_least(what: &str, found: f64, limit: f64) {
    assert!(found >= limit, "{what}: {found} is less than {limit}");
    take_down(what, found, limit, Allowed::AtLeast);
}

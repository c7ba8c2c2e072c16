//! What the page computes at every move of a slider, compiled for speed while the rest of the core is compiled for size.

use stallheat::error::Error;
use stallheat::scenario::Scenario;
use stallheat::simulate;
use stallheat::trace::Trace;

/// [`simulate::simulate`], instantiated here.
#[inline(never)]
pub fn simulate(scenario: &Scenario) -> Result<Trace, Error> {
    simulate::simulate(scenario)
}

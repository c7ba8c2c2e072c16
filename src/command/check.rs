//! `stallheat check`: is a scenario file good?

use std::path::Path;

use stallheat::error::Error;

use super::io::{print, read_scenario};

/// Reads a scenario and says how large it is.
pub fn run(file: &Path) -> Result<(), Error> {
    let scenario = read_scenario(file)?;
    let events: usize = scenario.blocks.iter().map(|block| block.events.len()).sum();
    let rounds = scenario.blocks.iter().filter(|block| block.round.is_some()).count();
    print(&format!("{}: good; {events} events, {rounds} rounds\n", scenario.name))
}

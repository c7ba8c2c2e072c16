//! The larger commands of the command line, one file each, and what they share: units, reading and printing.

pub mod band;
pub mod bench;
pub mod check;
pub mod compare;
pub mod fit;
pub mod io;
pub mod pages;
pub mod parallel;
pub mod pictures;
pub mod plan;
pub mod simulate;
pub mod size;
pub mod sweep;

use clap::ValueEnum;
use stallheat::units::System;

/// The reader's units.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Units {
    /// °F, Btu
    Us,
    /// °C, kJ
    Si,
}

impl From<Units> for System {
    fn from(units: Units) -> System {
        match units {
            Units::Us => System::Us,
            Units::Si => System::Si,
        }
    }
}

//! The bench test of a unit: its record, what the model expects of the readings, and what may be the matter.
//!
//! It supports the technician's judgement. It never passes or fails a unit.

pub mod chart;
pub mod checks;
pub mod expected;
pub mod faults;
pub mod html;
pub mod pressures;
pub mod record;
pub mod words;

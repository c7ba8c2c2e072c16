//! The heat of a drag-race automatic transmission through a whole race day.
//!
//! Text goes through one gate ([`scenario::parse`]) and becomes a validated [`scenario::Scenario`] in SI.
//! [`simulate::simulate`] is a pure function from that to a [`trace::Trace`]: temperatures of seven nodes,
//! heat along every path, launches, a ledger that closes. [`report`] and [`chart`] turn a trace into
//! words, JSON, CSV and pictures.
//!
//! Modules in reading order, each using only those before it (and `scenario::parameters`, the table).

pub mod csv;
pub mod curve;
pub mod decimal;
pub mod error;
pub mod root;
pub mod units;

pub mod air;
pub mod convection;
pub mod fluid;
pub mod thermometer;
pub mod weather;

pub mod converter;
pub mod cooler;
pub mod engine;
pub mod fluid_life;
pub mod hydraulics;

pub mod network;
pub mod solver;

pub mod vehicle;

pub mod pass;
pub mod steady;

pub mod timeline;

pub mod drive;
pub mod scenario;

pub mod plumbing;

pub mod flows;
pub mod transmission;

pub mod trace;

pub mod outline;

pub mod simulate;

pub mod results;

pub mod chart;
pub mod finding;
pub mod moment;

pub mod report;

pub mod band;
pub mod readings;

pub mod fit;
pub mod plan;
pub mod tornado;

pub mod bench;

pub mod size;

pub mod sheet;

pub mod compare;

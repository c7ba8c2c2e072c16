//! The heat of a drag-race automatic transmission through a whole race day.
pub mod error;

pub mod fluid;

pub mod air;

pub mod convection;

pub mod cooler;

pub mod converter;

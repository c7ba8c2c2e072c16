//! The heat of a drag-race automatic transmission through a whole race day.
pub mod air;
pub mod convection;
pub mod converter;
pub mod cooler;
pub mod error;
pub mod fluid;

//! The heat of a drag-race automatic transmission through a whole race day.
pub mod error;

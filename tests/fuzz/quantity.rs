//! Fuzzes `doors::quantity`.
#![no_main]

#[path = "../common/doors.rs"]
mod doors;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| doors::quantity(bytes));

//! Fuzzes `doors::chosen`, and says how many days it computed whenever that has doubled.
#![no_main]

#[path = "../common/doors.rs"]
mod doors;

use std::sync::atomic::Ordering::Relaxed;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let before = doors::COMPUTED.load(Relaxed);
    doors::chosen(bytes);
    let after = doors::COMPUTED.load(Relaxed);
    if after > before && after.is_power_of_two() {
        eprintln!("{after} days computed, {} of them refused", doors::REFUSED.load(Relaxed));
    }
});

//! stallheat for the browser: the only file that knows wasm-bindgen.
#![cfg(target_arch = "wasm32")]

use wasm_bindgen::prelude::wasm_bindgen;

/// The version of the package, as the page shows it.
#[wasm_bindgen]
pub fn version() -> String {
    env!("CARGO_PKG_VERSION").to_string()
}

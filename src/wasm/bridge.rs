//! What both WebAssembly parts need to talk with JavaScript: values, errors, panics.

use serde::Serialize;
use serde_wasm_bindgen::Serializer;
use stallheat::error::Error;
use stallheat::units::System;
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;

#[wasm_bindgen]
extern "C" {
    #[wasm_bindgen(js_namespace = console, js_name = error)]
    fn console_error(text: &str);
}

/// Makes a panic visible before the instance is lost.
#[wasm_bindgen(start)]
pub fn start() {
    std::panic::set_hook(Box::new(|info| console_error(&format!("stallheat core: {info}"))));
}

/// A value as plain objects and lists.
pub fn to_js<T: Serialize>(value: &T) -> JsValue {
    let serializer = Serializer::json_compatible();
    value.serialize(&serializer).unwrap_or(JsValue::NULL)
}

/// A JavaScript `Error` that carries the four parts beside its message.
pub fn thrown(error: &Error) -> JsValue {
    let thrown = js_sys::Error::new(&error.to_string());
    thrown.set_name("ScenarioError");
    for (key, value) in [
        ("kind", error.kind.name()),
        ("field", &error.field),
        ("value", &error.value),
        ("limit", &error.limit),
        ("remedy", &error.remedy),
    ] {
        // Setting a property of an object just made cannot fail.
        let _ = js_sys::Reflect::set(&thrown, &key.into(), &value.into());
    }
    thrown.into()
}

/// The units of a key: `us` or `si`.
pub fn system(units: &str) -> System {
    if units == "si" { System::Si } else { System::Us }
}

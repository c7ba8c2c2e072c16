//! A fit written into a scenario's text: the same file with the fitted values and what is known of them.

use serde_json::{Map, Value, json};

use super::Fit;
use crate::error::{Error, ErrorKind};
use crate::scenario::alternatives::of_part;
use crate::scenario::calibration::written;
use crate::scenario::read_json;

/// The scenario's text with the fit in it. Other ways to state a fitted parameter (a cooler's rating for its UA) make room
/// for the value.
pub fn apply(text: &str, fit: &Fit) -> Result<String, Error> {
    let mut root = read_json(text)?;
    let no_object = |what: &str| {
        Error::new(
            ErrorKind::WrongType,
            what,
            "not an object",
            "an object, as in every scenario",
            "Use the text of a scenario that can be computed.",
        )
    };
    let object = root.as_object_mut().ok_or_else(|| no_object("scenario"))?;
    let setup = object.entry("setup").or_insert_with(|| Value::Object(Map::new()));
    let setup = setup.as_object_mut().ok_or_else(|| no_object("setup"))?;
    for (path, value_si) in &fit.calibration.parameters {
        let Some(fitted) = fit.parameters.iter().find(|fitted| fitted.parameter.path() == *path)
        else {
            continue;
        };
        let parameter = fitted.parameter;
        let part = setup.entry(parameter.part).or_insert_with(|| Value::Object(Map::new()));
        let part = part.as_object_mut().ok_or_else(|| no_object(parameter.part))?;
        for other in of_part(parameter.part).filter(|other| other.instead_of == parameter.key) {
            for input in other.inputs {
                part.shift_remove(input.key);
            }
        }
        part.insert(parameter.key.to_string(), json!(written(parameter, *value_si)));
    }
    let calibration = fit.calibration.to_json();
    object.insert("calibration".to_string(), calibration);
    // Beside the set-up it belongs to, before what is long.
    for key in ["initial_temperatures", "timeline"] {
        if let Some(value) = object.shift_remove(key) {
            object.insert(key.to_string(), value);
        }
    }
    serde_json::to_string_pretty(&root).map_err(|error| {
        Error::new(
            ErrorKind::NotJson,
            "scenario",
            error.to_string(),
            "JSON that can be written",
            "Open the file again and fit once more.",
        )
    })
}

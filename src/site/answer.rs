//! The answer that stands in the page before its core is there: the first example day, computed when the page is built.
//!
//! In HTML, `%finding%` and the other marks become what the page's own scripts (`www/results.js`, `www/main.js`) write in
//! the same places of the same day, letter by letter: nothing moves when they take over. `tests/page/first.test.mjs`
//! compares the two.

use stallheat::error::{Error, ErrorKind};
use stallheat::report::{LaunchSummary, Summary, summary};
use stallheat::scenario::{EXAMPLES, parse};
use stallheat::simulate::simulate;
use stallheat::timeline::Node;
use stallheat::units::System;

/// What stands for a number that a day does not have.
const NONE: &str = "–";
/// Units in words that stay with their number, as signs do.
const UNITS: [&str; 6] = ["s", "min", "h", "rpm", "psi", "bar"];

/// Puts the answer in its places, where a page has them.
pub fn with_answer(page: &str) -> Result<String, Error> {
    if !page.contains("%finding%") {
        return Ok(page.to_string());
    }
    let [(_, text), others @ ..] = EXAMPLES;
    let day = parse(text)?;
    let summary = summary(&day, &simulate(&day)?, System::Us);
    let names = others.iter().map(|(key, text)| Ok((*key, parse(text)?.name)));
    let names: Vec<(&str, String)> = names.collect::<Result<_, Error>>()?;
    let mut page = page.to_string();
    for (mark, value) in places(&summary, &names) {
        let mark = format!("%{mark}%");
        if !page.contains(&mark) {
            return Err(Error::new(
                ErrorKind::Build,
                "www/index.html",
                format!("no {mark}"),
                "a place for every part of the answer",
                "Put the mark back, or take it out of src/site/answer.rs.",
            ));
        }
        page = page.replace(&mark, &value);
    }
    Ok(page)
}

/// The marks and what takes their place, HTML.
fn places(summary: &Summary, examples: &[(&str, String)]) -> [(&'static str, String); 12] {
    let unit = summary.temperature_unit;
    let degrees = |value: Option<f64>| {
        value.map_or(String::from(NONE), |value| format!("{} {unit}", whole(value)))
    };
    // The first sentence is the headline; a full stop followed by a space ends it.
    let (first, rest) = match summary.finding.split_once(". ") {
        Some((first, rest)) => (format!("{first}."), rest),
        None => (summary.finding.clone(), ""),
    };
    let peak = summary.peaks.iter().find(|peak| peak.node == Node::ConverterFluid.key());
    let last = summary.launches.last();
    let spread = (summary.launches.len() > 1).then_some(summary.spread_pan);
    let launch_name = last
        .and_then(|launch| launch.round)
        .map_or(String::from("Pan, last launch"), |round| format!("Pan, round {round}"));
    let window = joined(&format!(
        "Temperatures in {unit}; window for the pan: {} to {} {unit}. Flash: speed at which engine and stalled converter \
         balance. ET: elapsed time in s. Small: change since the first.",
        whole(summary.window.0),
        whole(summary.window.1),
    ));
    let rows: String = summary.launches.iter().map(|launch| launch_row(launch, summary)).collect();
    let offered: String = examples
        .iter()
        .map(|(key, name)| format!("<option value=\"{}\">{}</option>", escaped(key), escaped(name)))
        .collect();
    [
        ("day-name", escaped(&summary.name)),
        ("day-note", escaped(&summary.note)),
        ("finding", escaped(&joined(&first))),
        ("finding-more", escaped(&joined(rest))),
        ("advice", escaped(&joined(&summary.advice))),
        ("key-peak", degrees(peak.map(|peak| peak.temperature))),
        ("key-launch", degrees(last.map(|launch| launch.pan))),
        ("key-launch-name", launch_name),
        ("key-spread", degrees(spread)),
        ("launch-window", escaped(&window)),
        ("launch-rows", rows),
        ("examples", offered),
    ]
}

fn launch_row(launch: &LaunchSummary, summary: &Summary) -> String {
    let first = &summary.launches[0];
    let first_pass = summary.launches.iter().find_map(|launch| launch.pass.as_ref());
    let below = launch.from_window < 0.0;
    let edge = if below { summary.window.0 } else { summary.window.1 };
    let off = (launch.pan.round() - edge.round()).abs();
    let (class, place) = if launch.from_window == 0.0 {
        ("inside", String::from("inside"))
    } else {
        let off = if off == 0.0 { String::from("just") } else { whole(off) };
        ("outside", format!("{off} {}", if below { "below" } else { "above" }))
    };
    let drift = |value: String, drift: String| {
        format!("<td>{value} <span class=\"drift\">{drift}</span></td>")
    };
    let none = format!("<td>{NONE}</td>");
    let flash = launch.flash_rpm.map_or(none.clone(), |rpm| {
        let change = rpm.round() - first.flash_rpm.unwrap_or(rpm).round();
        drift(whole(rpm), format!("{}{}", if change > 0.0 { "+" } else { "" }, whole(change)))
    });
    let time = match (&launch.pass, first_pass) {
        (Some(pass), Some(first)) => {
            let shown_s = |time_s: f64| (time_s * 1e3).round() / 1e3;
            let change_s = shown_s(pass.elapsed_s) - shown_s(first.elapsed_s);
            let sign = match change_s {
                change_s if change_s < -0.0005 => "−",
                change_s if change_s < 0.0005 => "±",
                _ => "+",
            };
            drift(format!("{:.3}", pass.elapsed_s), format!("{sign}{:.3}", change_s.abs()))
        }
        _ => none,
    };
    let round = launch.round.map_or(String::from(NONE), |round| round.to_string());
    format!(
        "<tr><th scope=\"row\">{round}</th><td>{}</td><td>{}</td><td>{}</td><td class=\"{class}\">{place}</td>{flash}{time}</tr>",
        escaped(&launch.clock),
        whole(launch.converter),
        whole(launch.pan),
    )
}

/// A whole number as the page shows it.
fn whole(value: f64) -> String {
    // Halves away from zero, as the page's scripts do.
    format!("{:.0}", value.round()).replace('-', "−")
}

/// A number and its unit stay on one line.
fn joined(text: &str) -> String {
    let is_unit = |rest: &str| {
        let word = rest.split(|letter: char| !letter.is_ascii_alphanumeric()).next();
        rest.starts_with(['°', '%']) || word.is_some_and(|word| UNITS.contains(&word))
    };
    let mut out = String::with_capacity(text.len());
    for (at, letter) in text.char_indices() {
        let follows = out.ends_with(|before: char| before.is_ascii_digit());
        let joins = letter == ' ' && follows && is_unit(&text[at + 1..]);
        out.push(if joins { '\u{a0}' } else { letter });
    }
    out
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_without_the_mark_stays_as_it_is() {
        assert_eq!(with_answer("<p>100%</p>").unwrap(), "<p>100%</p>");
    }

    #[test]
    fn a_mark_that_is_missing_is_an_error() {
        let error = with_answer("<p>%finding%</p>").unwrap_err();
        assert_eq!((error.kind, error.value.as_str()), (ErrorKind::Build, "no %day-name%"));
    }

    #[test]
    fn numbers_keep_their_units_and_texts_stay_texts() {
        assert_eq!(
            joined("3 °F, 40 % of 2 s: 6 spread"),
            "3\u{a0}°F, 40\u{a0}% of 2\u{a0}s: 6 spread"
        );
        assert_eq!(escaped("<b>&\"</b>"), "&lt;b&gt;&amp;&quot;&lt;/b&gt;");
        assert_eq!((whole(-3.2), whole(12.5)), (String::from("−3"), String::from("13")));
    }
}

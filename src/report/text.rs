//! The report for people, as plain text.

use super::summary;
use crate::scenario::Scenario;
use crate::trace::Trace;
use crate::units::{System, time_text};

/// The report for people: finding, launches, ledger, cautions.
pub fn text(scenario: &Scenario, trace: &Trace, system: System) -> String {
    let summary = summary(scenario, trace, system);
    let unit = summary.temperature_unit;
    let mut out = String::new();
    let mut line = |text: String| {
        out.push_str(text.trim_end());
        out.push('\n');
    };
    line(format!("{}  ({})", summary.name, summary.duration_text));
    line(String::new());
    line(wrapped(&summary.finding, ""));
    line(wrapped(&summary.advice, ""));
    line(String::new());

    if summary.launches.is_empty() {
        line("No launches in this timeline.".to_string());
    } else {
        line(format!(
            "Launches (pan window {:.0} to {:.0} {unit})",
            summary.window.0, summary.window.1
        ));
        line(format!(
            "  {:>5}  {:>6}  {:>9}  {:>7}  {:>7}  {:>10}  {:>9}  {:>9}  {:>7}  {:>9}",
            "round",
            "at",
            "converter",
            "pan",
            "case",
            "off window",
            "flash rpm",
            "ET",
            "ET diff",
            "speed"
        ));
        for launch in &summary.launches {
            let round = launch.round.map_or("-".to_string(), |round| round.to_string());
            let window = if launch.from_window.abs() < 0.05 {
                "inside".to_string()
            } else if launch.from_window.abs() < 0.5 {
                format!("{:+.1} {unit}", launch.from_window)
            } else {
                format!("{:+.0} {unit}", launch.from_window)
            };
            let flash = launch.flash_rpm.map_or("none".to_string(), |rpm| format!("{rpm:.0}"));
            let (elapsed, change, speed) = match &launch.pass {
                Some(pass) => (
                    format!("{:.3} s", pass.elapsed_s),
                    format!("{:+.3}", pass.elapsed_change_s),
                    format!("{:.1} {}", pass.speed, pass.speed_unit),
                ),
                None => ("logged".to_string(), String::new(), String::new()),
            };
            line(format!(
                "  {round:>5}  {:>6}  {:>6.0} {unit}  {:>4.0} {unit}  {:>4.0} {unit}  {window:>10}  {flash:>9}  {elapsed:>9}  {change:>7}  {speed:>9}",
                launch.clock, launch.converter, launch.pan, launch.case,
            ));
        }
    }
    for launch in &summary.launches {
        let Some(pass) = &launch.pass else { continue };
        let marks: Vec<String> = pass
            .marks
            .iter()
            .map(|mark| format!("{} {:.3} s at {:.1}", mark.label, mark.elapsed_s, mark.speed))
            .collect();
        let round = launch.round.map_or("pass".to_string(), |round| format!("round {round}"));
        line(wrapped(&format!("{round}: {} {}", marks.join(", "), pass.speed_unit), "  "));
    }
    line(String::new());

    let energy = summary.energy_unit;
    if let Some(launch) = summary.launches.first() {
        let round = launch.round.map_or("the pass".to_string(), |round| format!("round {round}"));
        line(format!("Heat made in {round}'s pass, by second ({energy})"));
        line(format!(
            "  {:>6}  {:>9}  {:>9}  {:>10}",
            "second", "converter", "gears", "front pump"
        ));
        for (second, [converter, gears, pump]) in launch.heat.seconds.iter().enumerate() {
            line(format!("  {:>6}  {converter:>9.0}  {gears:>9.0}  {pump:>10.1}", second + 1));
        }
        line(format!(
            "  {:.0} % of the converter's heat in the first third of the time",
            100.0 * launch.heat.first_third_share
        ));
        line(String::new());
    }
    line(wrapped(&summary.air.text, ""));
    line(String::new());
    if !summary.turnarounds.is_empty() {
        line("Turnarounds".to_string());
        line(format!(
            "  {:>5}  {:>12}  {:>8}  {:>8}  {:>8}  {:>9}  {:>10}",
            "round", "took", "pump on", "fan on", "used", "left", "life used"
        ));
        for round in &summary.turnarounds {
            line(format!(
                "  {:>5}  {:>12}  {:>8}  {:>8}  {:>5.1} Ah  {:>6.1} Ah  {:>8.2} %",
                round.round,
                round.took,
                round.pump_on,
                round.fan_on,
                round.used_ah,
                round.least_ah,
                100.0 * round.life_share
            ));
        }
    }
    line(format!("The day uses {:.1} % of the life of a fill.", 100.0 * summary.fluid_life_share));
    line(String::new());
    line(format!(
        "Pressures and flows at the end of events ({}, {})",
        summary.pressure_unit, summary.flow_unit
    ));
    line(format!(
        "  {:<28}  {:>6}  {:>6}  {:>6}  {:>6}  {:>6}  {:>6}",
        "event", "rpm", "line", "charge", "cooler", "pump", "A"
    ));
    let mut shown: Vec<&str> = Vec::new();
    for event in &summary.events {
        // A day's rounds are much alike: the first of every name tells.
        if shown.contains(&event.label.as_str())
            || (event.line_pressure == 0.0 && event.circulation_flow == 0.0)
        {
            continue;
        }
        shown.push(&event.label);
        line(format!(
            "  {:<28}  {:>6.0}  {:>6.1}  {:>6.1}  {:>6.2}  {:>6.2}  {:>6.1}",
            event.label.chars().take(28).collect::<String>(),
            event.engine_rpm,
            event.line_pressure,
            event.charge_pressure,
            event.front_pump_flow,
            event.circulation_flow,
            event.circulation_current
        ));
    }
    line(String::new());

    let ledger = &summary.ledger;
    line(format!("Heat of the day ({energy}; shares of what was made)"));
    for (title, lines, total) in [
        ("made", &ledger.made, ledger.made_total),
        ("carried away", &ledger.away, ledger.away_total),
        ("stored", &ledger.stored, ledger.stored_total),
    ] {
        line(format!("  {title:<32}  {total:>9.0}"));
        for entry in lines.iter().filter(|entry| entry.energy.abs() >= 0.5) {
            line(format!(
                "    {:<30}  {:>9.0}  {:>5.1} %",
                entry.label,
                entry.energy,
                100.0 * entry.share
            ));
        }
    }
    line(format!(
        "  made − carried away − stored = {} of what was made",
        if ledger.closure == 0.0 { "0".to_string() } else { format!("{:.0e}", ledger.closure) }
    ));
    line(String::new());

    line(format!("Made or soaked in, by kind of event ({energy})"));
    for kind in &summary.kinds {
        line(format!(
            "    {:<30}  {:>9.0}  {:>5.1} %  in {}",
            kind.label,
            kind.energy,
            100.0 * kind.share,
            time_text(kind.time_s)
        ));
    }
    line(String::new());

    line("Hottest".to_string());
    for peak in &summary.peaks {
        line(format!("  {:<16} {:>5.0} {unit}  at {}", peak.label, peak.temperature, peak.clock));
    }
    line(String::new());

    if summary.cautions.is_empty() {
        line("Cautions: no limit is passed.".to_string());
    } else {
        line("Cautions".to_string());
        for caution in &summary.cautions {
            line(wrapped(&format!("{}  {}", caution.clock, caution.text), "  "));
        }
    }
    line(String::new());
    line("Around hot oil and a car on the brake".to_string());
    for safety in &summary.safety {
        line(wrapped(safety, "  "));
    }
    out
}

/// The same with a capital letter first.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// Wraps at 96 characters with an indent, continuation lines two further in.
pub fn wrapped(text: &str, indent: &str) -> String {
    let mut out = String::from(indent);
    let mut column = indent.chars().count();
    for (i, word) in text.split(' ').enumerate() {
        let length = word.chars().count();
        if i > 0 {
            if column + 1 + length > 96 {
                out.push('\n');
                out.push_str(indent);
                out.push_str("  ");
                column = indent.chars().count() + 2;
            } else {
                out.push(' ');
                column += 1;
            }
        }
        out.push_str(word);
        column += length;
    }
    out
}

//! The sheet as a part of an HTML page, to be printed on one page: no scripts, everything that was typed escaped. Its looks
//! are those of `www/benchsheet.css`.

use super::words::{FindingLine, ReadLine, SheetSummary};

/// The looks of the sheet, for a page of its own.
pub const STYLE: &str = include_str!("../../www/benchsheet.css");

/// Text that can stand in HTML, between tags and in quotes.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// Whether there is more on the sheet than the example has, so that chart and lines must make room for it.
fn is_long(said: &SheetSummary) -> bool {
    let longest = said.entries.iter().map(|entry| entry.text.chars().count()).max().unwrap_or(0);
    let notes: usize = said.checks.iter().map(|check| check.note.chars().count()).sum();
    let rows = said.readings.len().max(said.pressures.len() + said.checks.len());
    longest > 80 || said.remarks.chars().count() + notes > 300 || rows > 28
}

/// The sheet; `chart` is SVG of our own making.
pub fn sheet(said: &SheetSummary, chart: &str) -> String {
    let tight = if is_long(said) { " bench-tight" } else { "" };
    let mut out = format!("<article class=\"bench-sheet{tight}\">\n");
    out += &format!("<h1>Bench test: {}</h1>\n", escaped(&said.title));
    for (group, title) in [("unit", "Unit"), ("customer", "Customer"), ("tested", "Test")] {
        let lines: Vec<String> = said
            .entries
            .iter()
            .filter(|entry| entry.group == group)
            .map(|entry| {
                format!("<div><dt>{}</dt><dd>{}</dd></div>", entry.label, escaped(&entry.text))
            })
            .collect();
        out += &format!("<dl class=\"bench-entries\"><h2>{title}</h2>{}</dl>\n", lines.concat());
    }
    out += &format!("<p class=\"bench-headline\">{}</p>\n", escaped(&said.headline));
    if !said.findings.is_empty() {
        out += &format!(
            "<ol class=\"bench-findings\">{}</ol>\n",
            said.findings.iter().map(finding).collect::<String>()
        );
    }
    out += &format!(
        "<figure class=\"bench-chart\">{chart}<figcaption>Lines: the unit as stated. Squares: readings, \
        with two deviations; ringed outside the band.</figcaption></figure>\n"
    );
    out += "<div class=\"bench-half\">";
    out += &numbers("Temperatures", said.temperature_unit, "On", &said.readings);
    out += "</div><div class=\"bench-half\">";
    out += &numbers("Pressures", said.pressure_unit, "Gear", &said.pressures);
    let checks: String = said
        .checks
        .iter()
        .map(|check| {
            let when = check.when.split(' ').next().unwrap_or_default();
            format!(
                "<tr class=\"{}\"><td>{when}</td><th scope=\"row\">{}{}</th><td>{}</td></tr>",
                check.result,
                check.label,
                noted(&check.note),
                check.result_label
            )
        })
        .collect();
    out += &format!(
        "<section class=\"bench-checks\"><h2>Steps</h2><table><thead><tr><th scope=\"col\">When</th>\
         <th scope=\"col\">Step</th><th scope=\"col\">Result</th></tr></thead><tbody>{checks}</tbody></table></section>\n"
    );
    if !said.remarks.trim().is_empty() {
        out += &format!(
            "<section class=\"bench-remarks\"><h2>Remarks</h2><p>{}</p></section>\n",
            escaped(said.remarks.trim()).replace('\n', "<br>")
        );
    }
    out += "</div>\n";
    let cautions: Vec<String> = said.cautions.iter().map(|caution| escaped(caution)).collect();
    out += &format!(
        "<section class=\"bench-caveat\"><p><strong>{}</strong></p><p>{}</p></section>\n\
         <section class=\"bench-signature\"><p>Date</p><p>Technician</p><p>Customer</p></section>\n</article>\n",
        escaped(said.caveat),
        cautions.join(" ")
    );
    out
}

fn finding(finding: &FindingLine) -> String {
    format!(
        "<li><strong>{}.</strong> {} <span>Look at: {}</span></li>",
        escaped(&finding.title),
        escaped(&finding.text),
        escaped(&finding.look)
    )
}

/// A note of the user's behind a name.
fn noted(note: &str) -> String {
    if note.is_empty() { String::new() } else { format!(" <em>{}</em>", escaped(note)) }
}

fn numbers(title: &str, unit: &str, on: &str, lines: &[ReadLine]) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let rows: String = lines
        .iter()
        .map(|line| {
            let band = match (line.low, line.high) {
                (Some(low), Some(high)) => format!("{low:.0} to {high:.0}"),
                _ => "–".to_string(),
            };
            let mark = match line.verdict {
                "above" => "▲ above",
                "below" => "▼ below",
                "in" => "in",
                _ => "–",
            };
            // Hours only where there are any; "Tape or flat paint" as "Tape".
            let clock = line.clock.strip_prefix("0:").unwrap_or(&line.clock);
            let short = line.on.split(" or ").next().unwrap_or_default();
            format!(
                "<tr class=\"{}\"><td>{clock}</td><th scope=\"row\">{}{}</th><td>{}</td><td>{:.0}</td><td>{band}</td>\
                 <td>{mark}</td></tr>",
                line.verdict,
                line.what,
                noted(&line.note),
                escaped(short),
                line.shown,
            )
        })
        .collect();
    format!(
        "<section class=\"bench-numbers\"><h2>{title}, {unit}</h2><table><thead><tr><th scope=\"col\">Time</th>\
         <th scope=\"col\">Place</th><th scope=\"col\">{on}</th><th scope=\"col\">Read</th><th scope=\"col\">Band</th>\
         <th scope=\"col\">Lies</th></tr></thead><tbody>{rows}</tbody></table></section>\n"
    )
}

/// A whole page with the sheet alone, in the light of paper.
pub fn page(said: &SheetSummary, chart: &str) -> String {
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>Bench test: {}</title>\n\
         <style>\n{STYLE}</style>\n</head>\n<body>\n{}</body>\n</html>\n",
        escaped(&said.title),
        sheet(said, chart)
    )
}

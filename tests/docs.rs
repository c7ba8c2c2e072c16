//! Generated documents are fresh: `docs/parameters.md` from the parameter table, `docs/scenario.schema.json`
//! from the schema. `STALLHEAT_UPDATE=1 cargo test --test docs` writes them anew.

mod common;

use std::fmt::Write;

use common::check_or_update;

use stallheat::scenario::alternatives::ALTERNATIVES;
use stallheat::scenario::parameters::{PARAMETERS, Spread};
use stallheat::scenario::schema::schema;
use stallheat::scenario::tables::TABLES;
use stallheat::timeline::{EVENT_PARAMETERS, EventKind};
use stallheat::units::{Dimension, significant, unit_or_si};

fn shown(dimension: Dimension, symbol: &str, value_si: f64) -> String {
    let unit = unit_or_si(dimension, symbol);
    let digits = significant(unit.from_si(value_si), 4);
    if dimension == Dimension::One { digits } else { format!("{digits} {}", unit.symbol) }
}

#[test]
fn parameter_table() {
    let mut out = String::from(
        "# Parameters\n\nMade from the parameter table (`src/scenario/parameters.rs`) by \
         `STALLHEAT_UPDATE=1 cargo test --test docs`; do not edit.\n\nIn a scenario file a quantity is a \
         text with its unit, in any unit of its dimension: `\"95 °F\"` or `\"35 °C\"`. Quantities without \
         unit are plain numbers.\n\nSpread is one standard deviation of what a shop does not know well, by judgement; \"±50 %\" in a source \
         is read as 19 of 20, two of them. In percent the logarithm is normal. The band on the page draws from it.\n",
    );
    let mut part = "";
    for row in PARAMETERS {
        if row.part != part {
            part = row.part;
            write!(
                out,
                "\n## {} — `setup.{}`\n\n| key | what | default | range | source | spread |\n|---|---|---|---|---|---|\n",
                row.wording().part_label, row.part
            )
            .unwrap();
        }
        let default = shown(row.dimension, row.si_unit, row.default_si());
        let us = shown(row.dimension, row.us_unit, row.default_si());
        let default = if default == us { default } else { format!("{default} ({us})") };
        writeln!(
            out,
            "| `{}` | {}. {} | {} | {} to {} | {} | {} |",
            row.key,
            row.wording().label,
            row.wording().sentence,
            default,
            shown(row.dimension, row.si_unit, row.min_si()),
            shown(row.dimension, row.si_unit, row.max_si()),
            row.wording().source,
            match row.spread {
                None => String::new(),
                Some(Spread::Relative(share)) => format!("{} %", significant(100.0 * share, 3)),
                Some(Spread::Absolute(by)) =>
                    format!("{} {}", significant(by, 3), row.si_unit).trim_end().to_string(),
            },
        )
        .unwrap();
    }
    out.push_str(
        "\n## Other ways to state a parameter\n\nAll keys of a row together, instead of the parameter.\n\n| instead of | keys | what | source |\n|---|---|---|---|\n",
    );
    for row in ALTERNATIVES {
        let keys: Vec<String> = row
            .inputs
            .iter()
            .map(|input| {
                format!(
                    "`{}` ({}, {} to {})",
                    input.key,
                    input.label.to_lowercase(),
                    shown(input.dimension, input.si_unit, input.min_si()),
                    shown(input.dimension, input.si_unit, input.max_si())
                )
            })
            .collect();
        writeln!(
            out,
            "| `{}.{}` | {} | {}. {} | {} |",
            row.part,
            row.instead_of,
            keys.join(", "),
            row.label,
            row.sentence,
            row.source
        )
        .unwrap();
    }
    out.push_str(
        "\n## Tables\n\nA list of rows, `[[0, 1.9, 1], …]`, or a text of comma-separated values, semicolons and tabs too, \
         with or without a first line that names columns and units.\n\n| key | what | instead of | example |\n|---|---|---|---|\n",
    );
    for row in TABLES {
        let replaces: Vec<String> = row.replaces.iter().map(|key| format!("`{key}`")).collect();
        writeln!(
            out,
            "| `{}.{}` | {}. {} | {} | `{}` |",
            row.part,
            row.key,
            row.label,
            row.sentence,
            replaces.join(", "),
            row.example.replace('\n', "\\n")
        )
        .unwrap();
    }
    out.push_str("\n## Events\n\n| quantity | what | range |\n|---|---|---|\n");
    for row in EVENT_PARAMETERS {
        writeln!(
            out,
            "| `{}` | {}. {} | {} to {} |",
            row.key,
            row.label,
            row.sentence,
            shown(row.dimension, row.si_unit, row.min_si()),
            shown(row.dimension, row.si_unit, row.max_si()),
        )
        .unwrap();
    }
    out.push_str("\n| kind | takes, with default |\n|---|---|\n");
    for kind in EventKind::ALL {
        let takes: Vec<String> = kind
            .takes()
            .map(|(row, default)| {
                let (key, unit) = (row.key, row.display_unit());
                match default {
                    Some(value) => {
                        format!("`{key}` {}", shown(row.dimension, row.si_unit, unit.to_si(value)))
                    }
                    None => format!("`{key}` the engine's idle speed"),
                }
            })
            .collect();
        let logged: Vec<String> = kind.logged_keys().iter().map(|key| format!("`{key}`")).collect();
        let takes = match logged.as_slice() {
            [] => takes,
            keys => {
                let mut takes = takes;
                takes.push(format!(
                    "while none of {} is stated the car makes them",
                    keys.join(", ")
                ));
                takes
            }
        };
        let takes = if takes.is_empty() { "nothing".to_string() } else { takes.join(", ") };
        writeln!(out, "| `{}` | {takes} |", kind.key()).unwrap();
    }
    check_or_update("docs/parameters.md", &out, "docs");
}

#[test]
fn published_schema() {
    check_or_update("docs/scenario.schema.json", &format!("{:#}\n", schema()), "docs");
}

/// What `stallheat pictures` draws is what the documents show.
#[test]
fn pictures() {
    let folder = std::env::temp_dir().join(format!("stallheat-pictures-{}", std::process::id()));
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_stallheat"))
        .arg("pictures")
        .arg(&folder)
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let shown = kept("README.md") + &kept("docs/model.md");
    let mut names = 0;
    for entry in std::fs::read_dir(&folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let drawn = std::fs::read_to_string(&path).unwrap();
        // Paper of its own: dark letters on a dark page could not be read.
        let document = roxmltree::Document::parse(&drawn).unwrap();
        let first = document.root_element().children().find(|node| node.has_attribute("fill"));
        let paper = first.and_then(|first| first.attribute("points"));
        assert_eq!(paper, Some("0,0 9000,0 9000,4000 0,4000"), "{name}");
        assert!(shown.contains(&format!("pictures/{name})")), "{name} is shown nowhere");
        check_or_update(&format!("docs/pictures/{name}"), &drawn, "docs");
        names += 1;
    }
    assert_eq!(names, 4);
    std::fs::remove_dir_all(&folder).unwrap();
}

fn kept(name: &str) -> String {
    std::fs::read_to_string(format!("{}/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

/// The page, the printed sheet and the document say one thing.
#[test]
fn cautions_are_those_of_the_page() {
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let text = words(&kept("docs/cautions.md"));
    let bold: Vec<&str> = text.split("**").skip(1).step_by(2).collect();
    assert_eq!(bold, stallheat::finding::SAFETY);
    for name in ["index", "lessons", "teach"] {
        let page = kept(&format!("www/{name}.html"));
        let section = page.split("class=\"safety\"").nth(1).unwrap();
        let list = section.split("</ul>").next().unwrap();
        let items: Vec<&str> = list
            .lines()
            .filter_map(|line| line.trim().strip_prefix("<li>")?.strip_suffix("</li>"))
            .collect();
        assert_eq!(items, stallheat::finding::SAFETY, "{name}");
    }
}

/// Figures of docs/accuracy.md are those of the rows of docs/validation.md that they name.
#[test]
fn accuracy_has_the_figures_of_the_checks() {
    let validation = kept("docs/validation.md");
    let cells =
        |line: &str| line.split('|').map(|cell| cell.trim().to_string()).collect::<Vec<_>>();
    let mut compared = 0;
    for line in kept("docs/accuracy.md").lines().filter(|line| line.ends_with("\" |")) {
        let [_, _, figure, row, _] = <[String; 5]>::try_from(cells(line)).unwrap();
        let name = row.trim_matches('"');
        let found: Vec<String> = validation
            .lines()
            .filter(|line| line.starts_with(&format!("| {name} |")))
            .map(|line| cells(line)[4].clone())
            .collect();
        assert_eq!(found, [figure], "{name}");
        compared += 1;
    }
    assert!(compared >= 5);
    // What is said of the example day's band.
    assert!(validation.contains("as 160 °F") && validation.contains("between 150 and 172 °F"));
    assert!(
        kept("docs/accuracy.md").contains("at 160 °F")
            && kept("docs/accuracy.md").contains("150 to 172 °F")
    );
}

/// Links between the documents lead somewhere.
#[test]
fn links_lead_somewhere() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut checked = 0;
    for folder in ["", "docs", "scenarios"] {
        for entry in std::fs::read_dir(root.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_none_or(|end| end != "md") {
                continue;
            }
            let text = std::fs::read_to_string(&path).unwrap();
            for target in text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
                let file = target.split('#').next().unwrap_or_default();
                if file.is_empty() || file.contains("://") || file.contains(' ') {
                    continue;
                }
                let there = path.parent().unwrap().join(file).exists();
                assert!(there, "{}: {target} leads nowhere", path.display());
                checked += 1;
            }
        }
    }
    assert!(checked > 20, "{checked}");
}

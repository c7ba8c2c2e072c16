//! `stallheat pictures`: the pictures of the documents, drawn by the program's own charts of an example day.
//!
//! They have paper of their own in the light scheme, so that they can be read on a dark page too.

use std::fs;
use std::path::PathBuf;

use clap::Args;
use stallheat::chart::{self, Picture};
use stallheat::error::{Error, ErrorKind};
use stallheat::scenario;
use stallheat::simulate::simulate;
use stallheat::timeline::Node;
use stallheat::units::System;

use super::io::{print, write_picture};

#[derive(Debug, Args)]
pub struct PicturesArgs {
    /// Folder to write the drawings (SVG) to
    folder: PathBuf,
}

const DAY: &str = include_str!("../../scenarios/saturday_bracket_day.json");
/// Before the last launch and after it, s: the hold, the pass and the soak.
const ROUND_S: (f64, f64) = (150.0, 1500.0);

/// Draws them all.
pub fn run(args: &PicturesArgs) -> Result<(), Error> {
    fs::create_dir_all(&args.folder).map_err(|cause| {
        Error::new(
            ErrorKind::File,
            "folder",
            format!("{}: {cause}", args.folder.display()),
            "a folder that can be written to",
            "Name another folder.",
        )
    })?;
    let scenario = scenario::parse(DAY)?;
    let trace = simulate(&scenario)?;
    let last = trace.launches.len().saturating_sub(1);
    let launch_s = trace.launches.last().map_or(0.0, |launch| launch.time_s);
    let end_s = (launch_s + ROUND_S.1).min(trace.duration_s());
    let of = |picture| chart::Options {
        picture,
        width_px: 900.0,
        height_px: 400.0,
        system: System::Us,
        nodes: Node::ALL.to_vec(),
        names: true,
        paper: true,
        launch: last,
        ..chart::Options::default()
    };
    let round = chart::Options {
        range_s: Some((launch_s - ROUND_S.0, end_s)),
        nodes: vec![Node::ConverterFluid, Node::ConverterShell, Node::PanFluid, Node::GearTrain],
        ..of(Picture::Temperatures)
    };
    for (name, options) in [
        ("day.svg", of(Picture::Temperatures)),
        ("heat.svg", of(Picture::Heat)),
        ("round.svg", round),
        ("pass.svg", of(Picture::Pass)),
    ] {
        let drawn = chart::svg(&scenario, &trace, &options).map_err(|error| {
            Error::new(
                ErrorKind::File,
                name,
                error.0,
                "a drawing of the example day",
                "Report this.",
            )
        })?;
        let file = args.folder.join(name);
        write_picture(&file, &drawn)?;
        print(&format!("{}\n", file.display()))?;
    }
    Ok(())
}

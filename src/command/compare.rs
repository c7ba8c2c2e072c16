//! `stallheat compare`: t
use clap::Args;
use stallheat::error::Error;
#[derive(Debug, Args)]
pub struct CompareArgs {}
pub fn run(_args: &CompareArgs) -> Result<(), Error> {
    Ok(())
}

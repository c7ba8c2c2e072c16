//! A simulated day in words and columns: summary for the page, text, JSON and CSV for the command line.
//!
//! The JSON of `simulate --json` is SI (s, °C, J) whatever units are shown elsewhere; the summary and the
//! text use the reader's units.

mod brief;
mod export;
mod heat;
mod pass;
mod summary;
mod text;

pub use brief::brief;
pub use export::{csv, json};
pub use heat::{HeatColumn, HeatRow, HeatTable, heat_columns, heat_table};
pub use pass::{PassCourse, PassRow, pass_course};
pub(crate) use summary::mark_label;
pub use summary::{
    AirSummary, CautionSummary, EventSummary, KindSummary, LaunchSummary, LedgerLine,
    LedgerSummary, MarkSummary, PassHeat, PassSummary, PeakSummary, Summary, SwitchSummary,
    TurnaroundSummary, summary,
};
pub use text::{capital, text, wrapped};

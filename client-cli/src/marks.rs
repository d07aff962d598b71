//! `deadship marks`: marks by objective.

use crate::cli::MarksArgs;
use crate::failure::{Failure, WELL};
use crate::io::Io;
use crate::log::read_log;
use deadship_run::debrief::Debrief;
use serde_json::json;
use std::path::Path;

/// `deadship marks`.
pub(crate) fn marks(io: &mut Io, args: &MarksArgs, authority: Option<&Path>) -> Result<u8, Failure> {
    let report = Debrief::of(&read_log(io, &args.log, authority)?);
    let text = match args.json {
        false => report.marks_to_text(),
        true => {
            let marks = json!({
                "run": report.run,
                "drill": report.drill,
                "ship": report.ship,
                "objectives": report.objectives,
                "marks": report.marks,
                "raters": report.raters,
                "safety": report.safety,
            });
            format!("{marks:#}")
        }
    };
    io.line(text.trim_end())?;
    io.flush()?;
    Ok(WELL)
}

//! `deadship measures`: what a run took.

use crate::cli::MeasuresArgs;
use crate::failure::{Failure, WELL};
use crate::io::Io;
use crate::log::read_log;
use deadship_run::measures::{MeasureInput, Measures};
use std::path::Path;

/// `deadship measures`.
pub(crate) fn measures(io: &mut Io, args: &MeasuresArgs, authority: Option<&Path>) -> Result<u8, Failure> {
    let log = read_log(io, &args.log, authority)?;
    let input = if args.no_replay { MeasureInput::of_log(&log) } else { MeasureInput::replayed(&log) };
    let measures = Measures::of(&input);
    let text = if args.json { measures.to_json() } else { measures.to_text() };
    io.line(text.trim_end())?;
    io.flush()?;
    Ok(WELL)
}

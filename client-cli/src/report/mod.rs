//! `deadship report`: a run as one page to read, print and look through in a browser: one file, which asks nothing of any
//! network.
//!
//! [`compose`] goes from a log to the page: names are veiled (`veil`), facts gathered from the log (`facts`), a few moments
//! chosen (`moments`), the run replayed once for the courses of readings (`courses`, `thin`), and the page is written
//! (`page`, `data`). Names are veiled before anything else is made, so that no part of the page can forget to.

mod courses;
mod data;
mod facts;
mod moments;
mod page;
mod thin;
mod veil;

#[cfg(test)]
mod tests;

use crate::cli::ReportArgs;
use crate::failure::{Failure, WELL};
use crate::io::Io;
use crate::log::read_log;
use courses::Courses;
use deadship_run::Envelope;
use facts::Facts;
use moments::Moment;
use std::fs;
use std::io::Read;
use std::path::Path;
use veil::Veil;

/// How every report begins: by it an earlier one is known, which may be replaced.
const BEGINS: &str = "<!DOCTYPE html><html lang=\"en\" data-made-by=\"deadship report\">";

/// `deadship report`.
pub(crate) fn report(io: &mut Io, args: &ReportArgs, authority: Option<&Path>) -> Result<u8, Failure> {
    may_be_written(&args.output)?;
    let log = read_log(io, &args.log, authority)?;
    let page = compose(&log, args.names);
    fs::write(&args.output, &page).map_err(|error| Failure::writing(&args.output, error))?;
    io.line(&format!("{}, {} kB", args.output.display(), page.len().div_ceil(1000)))?;
    io.flush()?;
    Ok(WELL)
}

/// Nothing but an earlier report is replaced: an archive is soon named by mistake.
fn may_be_written(path: &Path) -> Result<(), Failure> {
    if !path.exists() {
        return Ok(());
    }
    let mut head = Vec::new();
    let file = fs::File::open(path).map_err(|error| Failure::reading(path, error))?;
    file.take(BEGINS.len() as u64).read_to_end(&mut head).map_err(|error| Failure::reading(path, error))?;
    if head == BEGINS.as_bytes() {
        return Ok(());
    }
    let path = path.display();
    Err(Failure::Asked(format!(
        "{path} exists already and is no report, so it is left alone: name another file"
    )))
}

/// The page of a log. `names`: people stand there under their names.
pub(crate) fn compose(log: &[Envelope], names: bool) -> String {
    let veiled;
    let shown = if names {
        log
    } else {
        veiled = Veil::of(log).over(log);
        &veiled
    };
    let facts = Facts::of(shown);
    let moments = moments::moments(shown, &facts.debrief);
    // The log as it is: names are in its digests.
    let courses = courses::courses(log, &facts.debrief, &moments);
    page::write(&Report { facts, moments, courses })
}

/// All that stands in a report.
struct Report {
    facts: Facts,
    moments: Vec<Moment>,
    courses: Courses,
}

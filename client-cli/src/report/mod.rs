//! `deadship report`: a run as one page to read, print and look through in a browser: one file, which asks nothing of any
//! network.
//!
//! [`compose`] goes from a log to the page: names are veiled (`veil`), facts gathered from the log (`facts`), measures taken, a few moments
//! chosen (`moments`), the run replayed once for the courses of readings (`courses`, `thin`), asked why the moments came
//! (`reasons`), held against the same drill by expert and idle crew (`references`), laid beside other courses (`beside`), and the page is written (`page`, `data`). Names are veiled before anything else is made, so that no part of the page can forget to.

mod beside;
mod courses;
mod data;
mod facts;
mod moments;
mod page;
mod reasons;
mod references;
mod thin;
mod veil;

#[cfg(test)]
mod tests;

use crate::cli::ReportArgs;
use crate::failure::{Failure, WELL};
use crate::io::Io;
use crate::log::{read_file, read_log};
use beside::Beside;
use courses::Courses;
use deadship_run::Envelope;
use deadship_run::measures::{MeasureInput, Measures};
use deadship_run::whatif::Side;
use facts::Facts;
use moments::Moment;
use reasons::Reason;
use references::{References, references};
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
    let mut others = Vec::new();
    for path in &args.beside {
        let other = read_file(io, path)?;
        if !beside::is_of(&other, &log) {
            let text = format!(
                "{} is no other course of {}: `whatif --record` writes them",
                path.display(),
                args.log.run
            );
            return Err(Failure::Asked(text));
        }
        others.push(other);
    }
    if !args.quick {
        io.tell(
            "asking why the moments came and running the drill by its expert, which computes the run many times more; \
             `--quick` leaves both out",
        );
    }
    let page = compose(
        &log,
        &Wanted { names: args.names, reasons: !args.quick, references: !args.quick, others: &others },
    );
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

/// What is wanted of a report.
#[derive(Clone, Copy, Default)]
pub(crate) struct Wanted<'a> {
    /// People under their names.
    pub(crate) names: bool,
    /// Why the moments came.
    pub(crate) reasons: bool,
    /// The expert's run of the same drill, and one in which nobody does anything.
    pub(crate) references: bool,
    /// Other courses of the run.
    pub(crate) others: &'a [Vec<Envelope>],
}

/// The page of a log.
pub(crate) fn compose(log: &[Envelope], wanted: &Wanted<'_>) -> String {
    let veil = if wanted.names { Veil::none() } else { Veil::of(log) };
    let shown = veil.over(log);
    let facts = Facts::of(&shown);
    // The log as it is: names are in its digests.
    let measures = veil.over_measures(Measures::of(&MeasureInput::replayed(log)));
    let moments = moments::moments(&shown, &facts.debrief, &measures);
    let courses = courses::courses(log, &facts.debrief, &moments);
    let reasons =
        if wanted.reasons { reasons::reasons(log, &moments, &|text| veil.text(text)) } else { Vec::new() };
    let beside = wanted.others.iter().map(|other| Beside::of(&shown, &veil.over(other))).collect();
    let side = Side { report: facts.debrief.clone(), measures };
    let references = wanted.references.then(|| references(log, &side, &courses.whole));
    let measures = side.measures;
    page::write(&Report { facts, measures, moments, courses, reasons, references, beside })
}

/// All that stands in a report.
struct Report {
    facts: Facts,
    measures: Measures,
    moments: Vec<Moment>,
    courses: Courses,
    /// Why each moment came.
    reasons: Vec<Vec<Reason>>,
    /// What the run is held against; `None`: it was not asked for.
    references: Option<References>,
    beside: Vec<Beside>,
}

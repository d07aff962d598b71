//! Tables as comma-separated values (RFC 4180): the events, and readings once a second.

use super::cloudevents::subject;
use super::output::{Output, write_new};
use super::{jsonl, opening, seconds};
use crate::failure::{Failure, NO, WELL};
use crate::io::{Io, printable};
use crate::readings::{Wanted, choose};
use crate::timeline::cannot_be_replayed;
use deadship_run::replay::{Until, visit};
use deadship_run::setup::{Setup, ticks};
use deadship_run::timeline::what;
use deadship_run::{Envelope, Run, Who};
use std::path::Path;

/// Columns of the events.
const EVENTS: [&str; 15] = [
    "run", "seq", "tick", "time [s]", "at", "id", "cause", "chain", "as", "who", "role", "station", "name",
    "subject", "text",
];

/// Name of the column that holds all fields of an event.
const FIELDS: &str = "event";

/// The events, one a row.
pub(super) fn events(out: &mut Output, log: &[Envelope]) -> Result<(), Failure> {
    row(out, EVENTS.iter().chain([&FIELDS]))?;
    for envelope in log {
        row(out, cells(envelope).iter())?;
    }
    Ok(())
}

fn cells(envelope: &Envelope) -> Vec<String> {
    let (kind, who, role, station) = match &envelope.who {
        Who::Person { name, role, station } => {
            ("person", name.clone(), role.word(), station.clone().unwrap_or_default())
        }
        Who::Robot { station } => ("robot", String::new(), "", station.clone()),
        Who::Drill => ("drill", String::new(), "", String::new()),
        Who::Plant => ("plant", String::new(), "", String::new()),
    };
    let texts = [
        envelope.run.to_string(),
        envelope.seq.to_string(),
        envelope.tick.to_string(),
        seconds(envelope.tick).to_string(),
        envelope.at.clone(),
        envelope.event_id.to_string(),
        envelope.cause.map_or_else(String::new, |cause| cause.to_string()),
        envelope.chain.to_string(),
        kind.to_owned(),
        who,
        role.to_owned(),
        station,
        envelope.event.name().to_owned(),
        subject(&envelope.event).unwrap_or_default(),
        what(&envelope.event),
        jsonl::payload(&envelope.event).to_string(),
    ];
    // What people typed cannot command a terminal here either.
    texts.iter().map(|text| printable(text).into_owned()).collect()
}

/// A row, quoted where it must be.
fn row<T: AsRef<[u8]>>(out: &mut Output, cells: impl Iterator<Item = T>) -> Result<(), Failure> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    // Writing to memory cannot fail, and one row always has as many cells as itself.
    let bytes = match writer.write_record(cells) {
        Ok(()) => writer.into_inner().unwrap_or_default(),
        Err(_) => Vec::new(),
    };
    out.bytes(&bytes)
}

/// Readings once a second, in SI units.
pub(super) fn readings(
    io: &mut Io,
    log: &[Envelope],
    patterns: &[String],
    path: Option<&Path>,
) -> Result<u8, Failure> {
    let all = ["*".to_owned()];
    let patterns = if patterns.is_empty() { &all[..] } else { patterns };
    let chosen = choose_for(log, patterns)?;
    let every = ticks(1.0);
    let difference = write_new(io, path, &mut |out| {
        head(out, chosen.iter().map(|wanted| wanted.header(false)))?;
        let (mut failed, mut last) = (None, None);
        let rebuilt = visit(log, Until::End, &mut |run: &Run| {
            let tick = run.tick();
            if failed.is_none() && tick.is_multiple_of(every) && last != Some(tick) {
                last = Some(tick);
                let values = chosen.iter().map(|wanted| run.plant.reading(wanted.component, wanted.reading));
                failed = row_of(out, tick, values).err();
            }
        });
        match (failed, rebuilt) {
            (Some(failed), _) => Err(failed),
            (None, Err(error)) => Err(cannot_be_replayed(error)),
            (None, Ok(rebuilt)) => Ok(rebuilt.difference),
        }
    })?;
    match difference {
        None => Ok(WELL),
        Some(difference) => {
            io.tell(&format!("{difference}; the readings are computed anew and may not be what was seen"));
            Ok(NO)
        }
    }
}

/// The head of a table of readings.
pub(crate) fn head(out: &mut Output, names: impl Iterator<Item = String>) -> Result<(), Failure> {
    row(out, std::iter::once("time [s]".to_owned()).chain(names))
}

/// A row of a table of readings.
pub(crate) fn row_of(out: &mut Output, tick: u64, values: impl Iterator<Item = f64>) -> Result<(), Failure> {
    row(out, std::iter::once(seconds(tick)).chain(values).map(|value| value.to_string()))
}

/// The readings that are asked for, by the ship as the log has her.
fn choose_for(log: &[Envelope], patterns: &[String]) -> Result<Vec<Wanted>, Failure> {
    let (setup, _) = Setup::new(opening(log)?.clone()).map_err(crate::trial::open_failed)?;
    choose(&setup.compiled, patterns)
}

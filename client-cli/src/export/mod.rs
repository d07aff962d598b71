//! `deadship export`: a run in open formats. One format a file; each takes events whose people have pseudonyms already.

mod cloudevents;
mod iri;
mod jsonl;
pub(crate) mod output;
pub(crate) mod sealed;
mod table;
mod trace;
mod xapi;

use crate::cli::{ExportArgs, ExportFormat, ExportTable};
use crate::failure::{Failure, WELL};
use crate::io::Io;
use crate::log::read_run;
use chrono::{DateTime, Utc};
use deadship_plant::TICK_S;
use deadship_run::names::Names;
use deadship_run::opening::Opening;
use deadship_run::{Envelope, Event};
use output::{Output, write_new};
use std::path::Path;

/// `deadship export`.
pub(crate) fn export(io: &mut Io, args: &ExportArgs, authority: Option<&Path>) -> Result<u8, Failure> {
    let table = table_of(args)?;
    let kept = read_run(io, &args.log, authority)?;
    let log = kept.log;
    opening(&log)?;
    if table == Some(ExportTable::Readings) {
        let path = args.output.as_deref();
        return match &kept.seal {
            Some(seal) => sealed::readings(io, seal, &args.readings, path),
            None => table::readings(io, &log, &args.readings, path),
        };
    }
    let names = if args.names { Names::shown() } else { Names::hidden(&log) };
    let log: Vec<Envelope> = log.iter().map(|envelope| names.hide(envelope)).collect();
    let path = args.output.as_deref();
    write_new(io, path, &mut |out| written(out, args.format, &log, &names))?;
    Ok(WELL)
}

/// Writes the events in a format.
fn written(out: &mut Output, format: ExportFormat, log: &[Envelope], names: &Names) -> Result<(), Failure> {
    match format {
        ExportFormat::Jsonl => log.iter().try_for_each(|envelope| out.line(&jsonl::line(envelope))),
        ExportFormat::Csv => table::events(out, log),
        ExportFormat::Xapi => xapi::statements(log, names).iter().try_for_each(|line| out.line(line)),
        ExportFormat::Cloudevents => {
            log.iter().try_for_each(|envelope| out.line(&cloudevents::line(envelope)))
        }
        ExportFormat::Trace => out.line(&trace::trace(log)),
    }
}

/// Which table is asked for; `None` where the format is none.
fn table_of(args: &ExportArgs) -> Result<Option<ExportTable>, Failure> {
    let readings = !args.readings.is_empty();
    match (args.format, args.table) {
        (ExportFormat::Csv, Some(ExportTable::Readings)) => Ok(Some(ExportTable::Readings)),
        (ExportFormat::Csv, table) if !readings => Ok(Some(table.unwrap_or(ExportTable::Events))),
        (_, None) if !readings => Ok(None),
        _ => {
            let text = "only `--format csv` has tables, and `--readings NAMES` chooses the columns of its `--table readings`";
            Err(Failure::Asked(text.to_owned()))
        }
    }
}

/// What the run was opened with.
pub(crate) fn opening(log: &[Envelope]) -> Result<&Opening, Failure> {
    match log.first().map(|first| &first.event) {
        Some(Event::RunOpened(opening)) => Ok(opening),
        _ => Err(Failure::Asked("the log does not begin with the opening of a run".to_owned())),
    }
}

/// Seconds since the start. Ticks are whole hundredths of a second; the product with 0.05 is not always.
pub(crate) fn seconds(tick: u64) -> f64 {
    (tick as f64 * TICK_S * 100.0).round() / 100.0
}

/// An instant of the log on the clock; `None`: what stands there is none.
fn instant(at: &str) -> Option<DateTime<Utc>> {
    DateTime::parse_from_rfc3339(at).ok().map(|instant| instant.to_utc())
}

/// JSON in one line. Characters that could command a terminal are written as escapes, which mean the same.
fn json_line(value: &impl serde::Serialize) -> String {
    // Plain data with text keys and finite numbers always serialises.
    let text = serde_json::to_string(value).unwrap_or_default();
    if !text.contains(crate::io::commands_terminals) {
        return text;
    }
    text.chars().fold(String::with_capacity(text.len()), |mut line, c| {
        match crate::io::commands_terminals(c) {
            true => line.push_str(&format!("\\u{:04x}", u32::from(c))),
            false => line.push(c),
        }
        line
    })
}

#[cfg(test)]
mod tests;

//! `deadship timeline` and `deadship replay`.

use crate::cli::{ReplayArgs, TimelineArgs};
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use crate::log::read_log;
use crate::readings::choose;
use crate::rehearse::important;
use deadship_run::answer::show_reading;
use deadship_run::replay::{ReplayError, Until, rebuild, verify};
use deadship_run::setup::ticks;
use deadship_run::timeline::{clock, line};
use deadship_run::{Envelope, Event};
use serde_json::Value;
use std::path::Path;

/// `deadship timeline`.
pub(crate) fn timeline(io: &mut Io, args: &TimelineArgs, authority: Option<&Path>) -> Result<u8, Failure> {
    let log = read_log(io, &args.log, authority)?;
    let chosen = |envelope: &&Envelope| args.all || important(&envelope.event);
    for envelope in log.iter().filter(chosen) {
        if args.json {
            io.line(&short_json(envelope))?;
        } else {
            io.line(&line(envelope))?;
        }
    }
    io.flush()?;
    Ok(WELL)
}

/// The event without the texts that an opening holds: they are in the archive.
fn short_json(envelope: &Envelope) -> String {
    if !matches!(envelope.event, Event::RunOpened(_)) {
        return envelope.encode();
    }
    let mut value: Value = serde_json::from_str(&envelope.encode()).unwrap_or(Value::Null);
    for key in ["drill_file", "ship_files", "procedures"] {
        if let Some(event) = value.get_mut("event").and_then(Value::as_object_mut) {
            event.remove(key);
        }
    }
    value.to_string()
}

/// `deadship replay`.
pub(crate) fn replay(io: &mut Io, args: &ReplayArgs, authority: Option<&Path>) -> Result<u8, Failure> {
    let log = read_log(io, &args.log, authority)?;
    match args.at {
        Some(seconds) => readings_at(io, &log, seconds, &args.readings),
        None => check_all(io, &log),
    }
}

fn readings_at(io: &mut Io, log: &[Envelope], seconds: f64, patterns: &[String]) -> Result<u8, Failure> {
    let last = log.last().map_or(0, |envelope| envelope.tick);
    let tick = ticks(seconds);
    if tick > last {
        let text = format!("the log ends at {}, before the time asked for", clock(last).trim());
        return Err(Failure::Asked(text));
    }
    let rebuilt = match rebuild(log, Until::Tick(tick)) {
        Ok(rebuilt) => rebuilt,
        Err(error) => return diverged(io, error),
    };
    let run = rebuilt.recorder.run();
    io.tell(&format!(
        "{} of {} on {}",
        clock(tick).trim(),
        run.setup.drill.title,
        run.setup.compiled.spec.title
    ));
    let chosen = choose(&run.setup.compiled, patterns)?;
    let width = chosen.iter().map(|wanted| wanted.name.chars().count()).max().unwrap_or(0);
    for wanted in chosen {
        io.line(&format!(
            "{:<width$}  {}",
            wanted.name,
            show_reading(run, wanted.component, wanted.reading)
        ))?;
    }
    io.flush()?;
    Ok(WELL)
}

fn check_all(io: &mut Io, log: &[Envelope]) -> Result<u8, Failure> {
    match verify(log) {
        Ok(verified) => {
            io.line(&format!("{} events, {} digests: all equal", verified.events, verified.digests))?;
            io.flush()?;
            Ok(WELL)
        }
        Err(error) => diverged(io, error),
    }
}

/// A difference is an answer; anything else is a log that cannot be replayed.
pub(crate) fn diverged(io: &mut Io, error: ReplayError) -> Result<u8, Failure> {
    match error {
        ReplayError::Diverged(difference) => {
            io.line(&difference.to_string())?;
            io.flush()?;
            Ok(NO)
        }
        ReplayError::Open(error) => Err(crate::trial::open_failed(error)),
        other => Err(Failure::Plant(other.to_string())),
    }
}

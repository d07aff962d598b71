//! `deadship seal`: writes the closing record of a run, or says whether one is whole.

use crate::cli::SealArgs;
use crate::export::output::{exists, write_new};
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use crate::log::{Kept, open_seal, read_run};
use crate::readings::si_unit;
use crate::timeline::cannot_be_replayed;
use deadship_run::Event;
use deadship_run::envelope::Envelope;
use deadship_run::seal::{self, Seal, Sealing};
use deadship_run::timeline::clock;
use std::path::Path;

/// `deadship seal`.
pub(crate) fn seal(io: &mut Io, args: &SealArgs, authority: Option<&Path>) -> Result<u8, Failure> {
    let Some(path) = args.output.as_deref().filter(|_| !args.check) else {
        return check(io, &args.log.run);
    };
    // Replaying takes a while, and would be for nothing.
    if path.exists() {
        return Err(exists(path));
    }
    let kept = read_run(io, &args.log, authority)?;
    check_can_be_sealed(&kept, &args.log.run, args.log.whole)?;
    let by = format!("deadship {}", env!("CARGO_PKG_VERSION"));
    let sealing = Sealing { log: &kept.log, texts: &kept.texts, by: &by, unit: si_unit };
    let written = seal::seal(&sealing).map_err(cannot_be_replayed)?;
    write_new(io, Some(path), &mut |out| out.bytes(&written.bytes))?;
    io.tell(&format!(
        "{} events and {} rows of readings sealed in {}",
        written.events,
        written.rows,
        path.display()
    ));
    match written.difference {
        None => Ok(WELL),
        Some(difference) => {
            io.tell(&format!(
                "{difference}; readings are sealed only up to the last state before that was proven equal"
            ));
            Ok(NO)
        }
    }
}

/// A seal closes a run: one that goes on is not sealed by mistake.
fn check_can_be_sealed(kept: &Kept, name: &str, whole: bool) -> Result<(), Failure> {
    if kept.seal.is_some() {
        return Err(Failure::Asked(format!("{name} is a seal already: copy it")));
    }
    let has_ended = kept.log.iter().any(|envelope| matches!(envelope.event, Event::RunEnded { .. }));
    if !has_ended && !whole {
        let text =
            format!("{name}: the run has not ended; end it first, or seal what there is with `--whole`");
        return Err(Failure::Asked(text));
    }
    Ok(())
}

/// Is it whole? If not, what can still be read.
fn check(io: &mut Io, name: &str) -> Result<u8, Failure> {
    let seal = open_seal(Path::new(name))?;
    if let Some(head) = &seal.head {
        let ended = if head.ended { "" } else { ", not ended" };
        io.line(&format!(
            "run {} of {} on {}{ended}, version {} of the model, sealed by {}",
            head.run, head.drill, head.ship, head.model, head.by
        ))?;
    }
    for damage in &seal.damages {
        io.line(&format!("damaged: {damage}"))?;
    }
    io.line(&format!("events: {}", events(&seal)))?;
    io.line(&format!("readings: {}", rows(&seal)))?;
    io.line(&format!("report: {}", if seal.debrief.is_some() { "there" } else { "none" }))?;
    io.line(if seal.is_whole() { "whole: every byte is as it was written" } else { "not whole" })?;
    io.flush()?;
    Ok(if seal.is_whole() { WELL } else { NO })
}

/// Which events can be read: `1 to 20, 23 to 416 of 416`.
fn events(seal: &Seal) -> String {
    let numbers = seal.events.iter().filter_map(|event| Some(Envelope::decode(&event.text).ok()?.seq));
    let parts = ranges(numbers.map(|number| (number, number)));
    let told: Vec<String> = parts.iter().map(|(first, last)| format!("{first} to {last}")).collect();
    let of = seal.end.as_ref().map_or_else(String::new, |end| format!(" of {}", end.events));
    format!("{}{of}", listed(&told))
}

/// When there are readings: `0:00.0 to 4:59.0, 10:00.0 to 16:30.0, 1832 columns`.
fn rows(seal: &Seal) -> String {
    let Some(columns) = &seal.columns else { return "none".to_owned() };
    let rows = seal.blocks.iter().filter_map(|block| {
        Some((block.first_row, block.first_row.checked_add(block.rows.checked_sub(1)?)?))
    });
    let time = |row: u64| clock(row.saturating_mul(columns.every_ticks)).trim().to_owned();
    let told: Vec<String> =
        ranges(rows).iter().map(|(first, last)| format!("{} to {}", time(*first), time(*last))).collect();
    let difference = columns.difference.as_ref().map_or_else(String::new, |text| format!(", then {text}"));
    format!("{}, {} columns{difference}", listed(&told), columns.columns.len())
}

fn listed(told: &[String]) -> String {
    if told.is_empty() { "none".to_owned() } else { told.join(", ") }
}

/// First and last of parts that follow each other without a gap.
fn ranges(parts: impl Iterator<Item = (u64, u64)>) -> Vec<(u64, u64)> {
    let mut found: Vec<(u64, u64)> = Vec::new();
    for (first, last) in parts {
        match found.last_mut() {
            Some(before) if before.1.checked_add(1) == Some(first) => before.1 = last,
            _ => found.push((first, last)),
        }
    }
    found
}

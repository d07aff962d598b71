//! Runs that were kept for as long as they may be.

use super::own_records::without_runs;
use super::{house_records, read_log};
use crate::house::{HOUSE_STREAM, HouseRecord};
use crate::keeping::Names;
use chrono::{DateTime, Days, Utc};
use deadship_run::{Envelope, Who};
use deadship_store::{Rewriting, StoreError, StreamId};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use uuid::Uuid;

/// What became of old runs at a start.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Expired {
    /// So many were removed.
    Removed(usize),
    /// All runs, so many, are due at once; a clock that is wrong would look the same, so people are asked.
    AllDue(usize),
}

/// A run, and when somebody last did something in it.
struct Last {
    stream: StreamId,
    at: Option<DateTime<Utc>>,
}

/// Removes what is due before a server starts. `None`: nothing is.
pub(crate) fn at_start(data: &Path, keep_days: u32) -> Result<Option<Expired>, StoreError> {
    // A folder that is not there yet holds nothing that is due.
    if !data.join("archive").is_dir() {
        return Ok(None);
    }
    let mut rewriting = Rewriting::begin(data)?;
    let (due, all) = due(&rewriting, keep_days, Utc::now(), &mut |_, _| {})?;
    if due.is_empty() {
        return Ok(None);
    }
    if due.len() == all {
        return Ok(Some(Expired::AllDue(all)));
    }
    remove(&mut rewriting, &due, keep_days)?;
    Ok(Some(Expired::Removed(due.len())))
}

/// `deadship-server expire`. Says whether all could be read.
pub(crate) fn by_hand(data: &Path, days: u32, yes: bool) -> Result<bool, StoreError> {
    let mut rewriting = Rewriting::begin(data)?;
    let called = Names::of(data);
    let now = Utc::now();
    let mut unread = false;
    let (due, all) = due(&rewriting, days, now, &mut |stream, why| {
        unread = true;
        say!("{}: NOT LOOKED AT: {why}", called.of_stream(stream));
    })?;
    for Last { stream, at } in &due {
        let at = at.map_or_else(String::new, |at| at.format("%Y-%m-%d").to_string());
        say!("{}: nobody has done anything in it since {at}", called.of_stream(*stream));
    }
    let today = now.format("%Y-%m-%d");
    match (due.len(), yes) {
        (0, _) => say!("Of {all} runs none is older than {days} days (today is {today})."),
        (some, false) => {
            say!(
                "{some} of {all} runs would be removed (today is {today}). Nothing was changed. With --yes it is done, and \
                 cannot be undone."
            );
        }
        (some, true) => {
            remove(&mut rewriting, &due, days)?;
            say!("{some} of {all} runs are removed. Backups that were made before still hold them.");
        }
    }
    Ok(!unread)
}

/// Runs in which nobody has done anything for so long, and how many there are altogether. What cannot be read is told and
/// stays.
fn due(
    rewriting: &Rewriting,
    days: u32,
    now: DateTime<Utc>,
    unread: &mut dyn FnMut(StreamId, &str),
) -> Result<(Vec<Last>, usize), StoreError> {
    let before = now.checked_sub_days(Days::new(u64::from(days)));
    let (mut due, mut all) = (Vec::new(), 0);
    for file in rewriting.archives()? {
        let stream = file.file_stem().and_then(|stem| stem.to_str()?.parse::<StreamId>().ok());
        let Some(stream) = stream.filter(|stream| *stream != HOUSE_STREAM) else { continue };
        all += 1;
        match read_log(&file) {
            Ok(log) => {
                let at = last_act(&log.events);
                if let (Some(at), Some(before)) = (at, before)
                    && at < before
                {
                    due.push(Last { stream, at: Some(at) });
                }
            }
            Err(why) => unread(stream, &why),
        }
    }
    Ok((due, all))
}

/// When somebody last did something: starts of the server go on being recorded in runs that nobody ended.
fn last_act(log: &[Envelope]) -> Option<DateTime<Utc>> {
    let by_somebody =
        |envelope: &&Envelope| envelope.seq == 1 || !matches!(envelope.who, Who::Drill | Who::Plant);
    let last = log.iter().rev().find(by_somebody)?;
    DateTime::parse_from_rfc3339(&last.at).ok().map(|at| at.to_utc())
}

/// The server's own records first: an archive that is left over by a crash is found and removed the next time.
fn remove(rewriting: &mut Rewriting, due: &[Last], keep_days: u32) -> Result<(), StoreError> {
    let gone: BTreeSet<Uuid> = due.iter().map(|last| last.stream.0).collect();
    if let Some(records) = house_records(rewriting, HOUSE_STREAM)? {
        let done = HouseRecord::RunsExpired { runs: gone.len() as u64, keep_days };
        without_runs(&records, &gone)?.write(rewriting, &done)?;
    }
    for Last { stream, .. } in due {
        rewriting.remove(*stream)?;
    }
    let oldest = std::time::SystemTime::now() - std::time::Duration::from_secs(u64::from(keep_days) * 86_400);
    for file in rewriting.quarantined()? {
        let modified = fs::metadata(&file).and_then(|about| about.modified());
        if modified.is_ok_and(|modified| modified < oldest) {
            fs::remove_file(&file)
                .map_err(|e| StoreError::from_io(format!("removing {}", file.display()), &e))?;
        }
    }
    Ok(())
}

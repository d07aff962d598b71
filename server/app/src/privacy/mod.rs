//! Removing what people have a right to have removed: a person from all records, and runs that were kept long enough.
//!
//! Both write archives anew while no server uses the data folder. What is left proves itself: checksums, chain and digests
//! are computed again, and the records themselves say that something was removed, without saying who.

mod expire;
mod forget;
mod own_records;

pub(crate) use expire::{Expired, at_start, by_hand as expire_by_hand};
pub(crate) use forget::{forget, forget_in_files};

use deadship_run::Envelope;
use deadship_store::{Append, NewRecord, Record, Rewriting, StoreError, StreamId, appends_of};
use std::path::Path;

/// The log in an archive file, and how many records were written together each time.
struct Log {
    stream: StreamId,
    events: Vec<Envelope>,
    sizes: Vec<usize>,
}

/// Reads an archive file whole.
///
/// # Errors
/// What is wrong with it, for people.
fn read_log(file: &Path) -> Result<Log, String> {
    let (stream, appends) = appends_of(file).map_err(|error| error.to_string())?;
    let sizes = appends.iter().map(Vec::len).collect();
    let decoded = appends.iter().flatten().map(|record| Envelope::decode(&record.payload));
    let events = decoded.collect::<Result<Vec<Envelope>, _>>().map_err(|error| error.to_string())?;
    Ok(Log { stream, events, sizes })
}

/// Events as records, together as they were; what is new at the end is a write of its own.
fn appends(events: &[Envelope], sizes: &[usize]) -> Vec<Append<NewRecord>> {
    let record = |envelope: &Envelope| NewRecord { event_id: envelope.event_id, payload: envelope.encode() };
    let mut rest = events;
    let mut appends = Vec::with_capacity(sizes.len() + 1);
    for size in sizes {
        let (these, after) = rest.split_at((*size).min(rest.len()));
        appends.push(these.iter().map(record).collect());
        rest = after;
    }
    if !rest.is_empty() {
        appends.push(rest.iter().map(record).collect());
    }
    appends
}

/// The records of an archive file of the data folder that holds the server's own, if there is one.
fn house_records(rewriting: &Rewriting, stream: StreamId) -> Result<Option<Vec<Record>>, StoreError> {
    let name = format!("{stream}.jsonl");
    let files = rewriting.archives()?;
    let Some(file) = files.iter().find(|file| file.ends_with(&name)) else { return Ok(None) };
    let (_, appends) = appends_of(file).map_err(|error| StoreError::Corrupt {
        stream,
        seq: error.seq,
        what: error.to_string(),
    })?;
    Ok(Some(appends.into_iter().flatten().collect()))
}

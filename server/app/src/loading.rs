//! From a log on disk to a run on hold.

use crate::clock;
use crate::rooms::crew;
use crate::setups::Setups;
use deadship_run::checkpoint::{seq_of, still_matters};
use deadship_run::crew::Crew;
use deadship_run::replay::{Rebuilt, Until, rebuild, resume};
use deadship_run::{Envelope, Event, Recorder};
use deadship_store::{CheckpointCache, EventStore, Expected, NewRecord, Record, StoreError, StreamId};
use std::sync::Arc;
use uuid::Uuid;

/// Records in one read.
const PAGE: u32 = 2_000;

/// Where a run is loaded from.
#[derive(Clone)]
pub(crate) struct Sources {
    pub(crate) store: Arc<dyn EventStore>,
    pub(crate) checkpoints: Arc<dyn CheckpointCache>,
    pub(crate) setups: Arc<Setups>,
}

/// A run on hold, all of it in the store.
pub(crate) struct Loaded {
    pub(crate) recorder: Recorder,
    pub(crate) crew: Crew,
    /// Its events after the one that was asked for.
    pub(crate) tail: Vec<Envelope>,
}

/// Why a log gives no run.
#[derive(Debug, thiserror::Error)]
pub(crate) enum LoadError {
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// What stands in the log.
    #[error("{0}")]
    Log(String),
}

/// Loads a run, puts it on hold for this reason unless it is, and keeps what that brings. Blocks.
pub(crate) fn load(
    from: &Sources,
    run: Uuid,
    procedure: Option<&str>,
    tail_after: u64,
    why: &str,
) -> Result<Loaded, LoadError> {
    let first = from.store.read(StreamId(run), 1, 1)?;
    let Some(first) = first.first() else {
        let why = "its archive file is missing or empty; if the quarantine folder holds a copy of it, stop the \
                   server and put that back into the archive folder";
        return Err(LoadError::Log(format!("{why} as {run}.jsonl")));
    };
    let first = decode(&first.payload)?;
    let (rebuilt, log) = match resumed(from, run, &first)? {
        Some(resumed) => resumed,
        None => {
            let log = read_log(&*from.store, run, 1, |_| true)?;
            (rebuild(&log, Until::End).map_err(log_error)?, log)
        }
    };
    if let Some(difference) = rebuilt.difference {
        return Err(LoadError::Log(format!("it can be read, but not gone on with: {difference}")));
    }
    let mut recorder: Recorder = rebuilt.recorder;
    let known = log.last().map_or(0, |last| last.seq);
    let mut new: Vec<Envelope> = rebuilt.pending;
    new.extend(recorder.hold(why, &clock::now()));
    keep(&*from.store, run, known, &new)?;
    let crew = crew(&recorder.run().setup, procedure).map_err(|fault| LoadError::Log(fault.text))?;
    let tail = log.into_iter().chain(new).filter(|envelope| envelope.seq > tail_after).collect();
    Ok(Loaded { recorder, crew, tail })
}

fn keep(store: &dyn EventStore, run: Uuid, known: u64, new: &[Envelope]) -> Result<(), StoreError> {
    if new.is_empty() {
        return Ok(());
    }
    let record = |envelope: &Envelope| NewRecord { event_id: envelope.event_id, payload: envelope.encode() };
    let records: Vec<NewRecord> = new.iter().map(record).collect();
    store.append(StreamId(run), Expected::Exact(known), &records).map(|_| ())
}

/// From its latest checkpoint, if there is one that fits; with the events that had to be read for it.
fn resumed(
    from: &Sources,
    run: Uuid,
    first: &Envelope,
) -> Result<Option<(Rebuilt, Vec<Envelope>)>, LoadError> {
    let Some((_, bytes)) = from.checkpoints.latest_at_or_before(StreamId(run), u64::MAX) else {
        return Ok(None);
    };
    let (Some(at), Event::RunOpened(opening)) = (seq_of(&bytes), &first.event) else { return Ok(None) };
    let prepared = from.setups.of(opening).map_err(log_error)?;
    // What stands before the checkpoint is mostly in it.
    let log = read_log(&*from.store, run, 2, |record| record.seq >= at || still_matters(&record.payload))?;
    let (before, after) = log.split_at(log.partition_point(|envelope| envelope.seq <= at));
    let rebuilt = resume(&prepared, before, &bytes, after).map_err(log_error)?;
    Ok(rebuilt.map(|rebuilt| (rebuilt, log)))
}

/// The whole log of a run. Blocks.
pub(crate) fn whole_log(store: &dyn EventStore, run: Uuid) -> Result<Vec<Envelope>, LoadError> {
    read_log(store, run, 1, |_| true)
}

/// The events from this one on, of those that are wanted.
fn read_log(
    store: &dyn EventStore,
    run: Uuid,
    from_seq: u64,
    wanted: impl Fn(&Record) -> bool,
) -> Result<Vec<Envelope>, LoadError> {
    let (mut log, mut next) = (Vec::new(), from_seq);
    loop {
        let page = store.read(StreamId(run), next, PAGE)?;
        let Some(last) = page.last() else { return Ok(log) };
        next = last.seq + 1;
        for record in page.iter().filter(|record| wanted(record)) {
            log.push(decode(&record.payload)?);
        }
    }
}

fn decode(payload: &str) -> Result<Envelope, LoadError> {
    Envelope::decode(payload).map_err(log_error)
}

fn log_error(error: impl std::fmt::Display) -> LoadError {
    LoadError::Log(error.to_string())
}

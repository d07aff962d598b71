//! The store whose truth is the archive: one append-only file a stream.
//!
//! # Why one file a stream and no shared journal
//! An append is written to the stream's own archive file and flushed with `fdatasync` before anyone hears of
//! it. There is one copy of the truth, and after a crash it is read as it stands: no journal to replay, no
//! rule which of two files is right, and damage to one file concerns one run.
//!
//! A journal shared by all runs would need one flush for all of them. We share flushes in two other ways.
//! Callers that append to one stream at the same time form a group: the first of them writes and flushes for
//! all. Callers on different streams flush different files at the same time, and the file system commits
//! these together: its own journal is the shared journal (on ext4, eight runs at once were measured to append
//! several times as many records a second as one alone; `benches/append.rs` repeats it). The price is a device
//! flush per file where the file system does not merge them; with the dozen runs of a class this is bearable,
//! and the simpler recovery is worth it.
//!
//! # Order of an append
//! write → `fdatasync` (a new file: the folder as well) → feed the read copy → show to readers → answer. A
//! failed write or flush poisons the whole store: after a failed flush nobody can know what is on disk
//! without reading it again, and a second flush that succeeds would prove nothing. `recover.rs` is the way back.

mod commit;
mod open;
mod recover;
mod report;

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, RwLock, RwLockReadGuard};

use crate::archive::check::Check;
use crate::archive::line;
use crate::data_folder::FolderLock;
use crate::error::StoreError;
use crate::files::FileLayer;
use crate::judge;
use crate::read_copy::ReadCopy;
use crate::store::{EventStore, Health, Recovered};
use crate::types::{Appended, Expected, Head, NewRecord, Record, StreamId};

use commit::{Shown, Stream, Ticket};
pub use report::{Moved, OpenReport, Refed, Rescued, TornTail};

/// An [`EventStore`] on archive files, with an optional copy for reads.
#[derive(Debug)]
pub struct ArchiveStore {
    files: Arc<dyn FileLayer>,
    copy: Option<Box<dyn ReadCopy>>,
    streams: RwLock<BTreeMap<StreamId, Slot>>,
    /// The first failure since the store was opened or has recovered.
    poison: Mutex<Option<String>>,
    /// Held for reading by whoever changes a file, for writing by a recovery.
    gate: RwLock<()>,
    /// Held as long as the store lives.
    _lock: Option<FolderLock>,
}

/// A stream as found on opening, or since.
#[derive(Debug, Clone)]
enum Slot {
    Live(Arc<Stream>),
    /// Damaged, too new or unreadable. Its file is left alone.
    Refused(StoreError),
}

/// The archive file's name of a stream.
fn file_name(stream: StreamId) -> String {
    format!("{stream}.jsonl")
}

/// A thread that panicked with this lock in its hand has left plain values behind, so going on is sound; a
/// writer's lock is the exception, and `commit` looks after it.
fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl ArchiveStore {
    fn slot(&self, stream: StreamId) -> Option<Slot> {
        self.streams.read().unwrap_or_else(PoisonError::into_inner).get(&stream).cloned()
    }

    fn slots(&self) -> Vec<(StreamId, Slot)> {
        let streams = self.streams.read().unwrap_or_else(PoisonError::into_inner);
        streams.iter().map(|(id, slot)| (*id, slot.clone())).collect()
    }

    fn existing(&self, stream: StreamId) -> Result<Option<Arc<Stream>>, StoreError> {
        match self.slot(stream) {
            Some(Slot::Live(live)) => Ok(Some(live)),
            Some(Slot::Refused(error)) => Err(error),
            None => Ok(None),
        }
    }

    fn existing_or_new(&self, stream: StreamId) -> Result<Arc<Stream>, StoreError> {
        if let Some(live) = self.existing(stream)? {
            return Ok(live);
        }
        let mut streams = self.streams.write().unwrap_or_else(PoisonError::into_inner);
        match streams
            .entry(stream)
            .or_insert_with(|| Slot::Live(Arc::new(Stream::new(stream, Shown::default()))))
        {
            Slot::Live(live) => Ok(Arc::clone(live)),
            Slot::Refused(error) => Err(error.clone()),
        }
    }

    /// Leave to change files; no recovery begins before it is given back.
    fn enter(&self) -> Result<RwLockReadGuard<'_, ()>, StoreError> {
        let entered = self.gate.read().unwrap_or_else(PoisonError::into_inner);
        self.check_poison()?;
        Ok(entered)
    }

    fn check_poison(&self) -> Result<(), StoreError> {
        match &*locked(&self.poison) {
            Some(reason) => Err(StoreError::Poisoned { reason: reason.clone() }),
            None => Ok(()),
        }
    }

    /// The first failure is the one that is told until the store has recovered.
    fn poison(&self, error: &StoreError) {
        locked(&self.poison).get_or_insert_with(|| error.to_string());
    }

    /// Reads through the copy where it can be trusted, else from the archive.
    fn read_range(&self, live: &Stream, from: u64, to: u64) -> Result<Vec<Record>, StoreError> {
        if let Some(copy) = &self.copy
            && live.copy_fault().is_none()
        {
            let records = copy.read(live.id, from, to).and_then(|records| {
                follow(live.id, &records, from, to)?;
                Ok(records)
            });
            match records {
                Ok(records) => return Ok(records),
                Err(fault) => self.distrust_copy(live, fault),
            }
        }
        self.read_archive(live, from, to)
    }

    /// From now on this stream is read from the archive; the next opening feeds the copy again.
    fn distrust_copy(&self, live: &Stream, fault: String) {
        live.set_copy_fault(fault);
        if let Some(copy) = &self.copy {
            // If this fails as well, the next opening will find the fault on its first read again.
            let _ = copy.distrust(live.id);
        }
    }

    fn read_archive(&self, live: &Stream, from: u64, to: u64) -> Result<Vec<Record>, StoreError> {
        let name = file_name(live.id);
        let Some((start, end)) = live.shown().bytes_of(from, to) else { return Ok(Vec::new()) };
        let doing = || format!("reading {}", self.files.show(&name));
        let len = usize::try_from(end - start)
            .map_err(|_| StoreError::Refused { what: "the range is too long to be read at once".into() })?;
        let bytes = self.files.read_at(&name, start, len).map_err(|e| StoreError::from_io(doing(), &e))?;
        let corrupt = |seq, what: &str| StoreError::Corrupt {
            stream: live.id,
            seq,
            what: format!("{what} ({})", self.files.show(&name)),
        };
        let mut records = Vec::new();
        for (seq, bytes) in (from..).zip(bytes.split_terminator_at_line_ends()) {
            records.push(line::decode(live.id, bytes).map_err(|what| corrupt(seq, what))?);
        }
        follow(live.id, &records, from, to).map_err(|what| corrupt(from, &what))?;
        Ok(records)
    }
}

/// Splits at line ends; the bytes end with one.
trait Lines {
    fn split_terminator_at_line_ends(&self) -> impl Iterator<Item = &[u8]>;
}

impl Lines for [u8] {
    fn split_terminator_at_line_ends(&self) -> impl Iterator<Item = &[u8]> {
        self.strip_suffix(b"\n").unwrap_or(self).split(|b| *b == b'\n')
    }
}

/// Whether these are exactly the records `from..=to`, linked to each other.
fn follow(stream: StreamId, records: &[Record], from: u64, to: u64) -> Result<(), String> {
    let Some(first) = records.first() else { return Err(format!("record {from} is missing")) };
    if first.seq != from {
        return Err(format!("record {from} is missing"));
    }
    let mut check = Check::after(stream, first);
    if from == 1 {
        check = Check::start(stream);
        check.accept(first)?;
    }
    for record in &records[1..] {
        check.accept(record).map_err(|what| format!("record {}: {what}", record.seq))?;
    }
    if check.next_seq() == to + 1 { Ok(()) } else { Err(format!("record {} is missing", check.next_seq())) }
}

impl EventStore for ArchiveStore {
    fn append(
        &self,
        stream: StreamId,
        expected: Expected,
        records: &[NewRecord],
    ) -> Result<Appended, StoreError> {
        judge::fits(records)?;
        self.check_poison()?;
        let ticket = Arc::new(Ticket::new(expected, records));
        loop {
            let live = self.existing_or_new(stream)?;
            if let Some(answer) = self.commit(&live, &ticket) {
                return answer;
            }
            // The stream was deleted while we waited: try again on a new one.
        }
    }

    fn read(&self, stream: StreamId, from_seq: u64, limit: u32) -> Result<Vec<Record>, StoreError> {
        let Some(live) = self.existing(stream)? else { return Ok(Vec::new()) };
        let from = from_seq.max(1);
        let to = live.shown().last_seq().min(from.saturating_add(u64::from(limit)).saturating_sub(1));
        if to < from {
            return Ok(Vec::new());
        }
        let records = self.read_range(&live, from, to);
        // Deleted under our feet: that is not damage.
        if records.is_err() && live.is_gone() { Ok(Vec::new()) } else { records }
    }

    fn head(&self, stream: StreamId) -> Result<Option<Head>, StoreError> {
        Ok(self.existing(stream)?.and_then(|live| live.shown().head))
    }

    fn streams(&self) -> Result<Vec<StreamId>, StoreError> {
        let with_records = |(id, slot)| match slot {
            Slot::Live(live) => live.shown().head.map(|_| id),
            Slot::Refused(_) => None,
        };
        Ok(self.slots().into_iter().filter_map(with_records).collect())
    }

    fn delete(&self, stream: StreamId, proof: Head) -> Result<(), StoreError> {
        let Some(live) = self.existing(stream)? else { return Err(StoreError::NotFound { stream }) };
        self.remove(&live, proof)
    }

    fn health(&self) -> Health {
        let mut health = Health { poisoned: locked(&self.poison).clone(), ..Health::default() };
        for (id, slot) in self.slots() {
            match slot {
                Slot::Live(live) => {
                    let shown = live.shown();
                    health.streams += usize::from(shown.head.is_some());
                    health.records += shown.last_seq();
                    health.bytes += shown.len;
                    health.slow.extend(live.copy_fault().map(|fault| (id, fault)));
                }
                Slot::Refused(error) => health.refused.push((id, error)),
            }
        }
        health
    }

    fn recover(&self) -> Result<Recovered, StoreError> {
        self.come_back()
    }
}

//! Group commit: who gets a stream's writer writes and flushes for everyone who waits for it.

use std::mem;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError, RwLock, RwLockReadGuard};

use uuid::Uuid;

use super::{ArchiveStore, file_name, locked};
use crate::archive::line;
use crate::chain::seal;
use crate::error::StoreError;
use crate::judge::{Verdict, judge};
use crate::types::{Appended, Expected, Head, NewRecord, Record, StreamId};

type Answer = Result<Appended, StoreError>;

/// A request to append, until it is answered.
#[derive(Debug)]
pub(super) struct Ticket {
    expected: Expected,
    records: Vec<NewRecord>,
    answer: Mutex<Option<Answer>>,
}

impl Ticket {
    pub(super) fn new(expected: Expected, records: &[NewRecord]) -> Self {
        Self { expected, records: records.to_vec(), answer: Mutex::default() }
    }
}

/// A stream that takes appends.
#[derive(Debug)]
pub(super) struct Stream {
    pub(super) id: StreamId,
    queue: Mutex<Vec<Arc<Ticket>>>,
    /// Held from the first byte written to the answer. Readers never wait for it.
    writer: Mutex<()>,
    shown: RwLock<Shown>,
    gone: AtomicBool,
    copy_fault: OnceLock<String>,
}

/// What is durable, and so may be seen.
#[derive(Debug, Default, Clone)]
pub(super) struct Shown {
    pub(super) head: Option<Head>,
    /// Where each record's line begins, and the event's id; the record with sequence number n stands at n -
    /// 1.
    pub(super) index: Vec<(u64, Uuid)>,
    /// Length of the file.
    pub(super) len: u64,
}

impl Shown {
    pub(super) fn last_seq(&self) -> u64 {
        self.index.len() as u64
    }

    fn event_at(&self, seq: u64) -> Option<Uuid> {
        let place = usize::try_from(seq.checked_sub(1)?).ok()?;
        self.index.get(place).map(|(_, id)| *id)
    }

    /// First byte and end of the lines of these records.
    pub(super) fn bytes_of(&self, from: u64, to: u64) -> Option<(u64, u64)> {
        let offset = |seq: u64| self.index.get(usize::try_from(seq.checked_sub(1)?).ok()?).map(|(at, _)| *at);
        let start = offset(from)?;
        offset(to)?;
        Some((start, offset(to + 1).unwrap_or(self.len)))
    }
}

impl Stream {
    pub(super) fn new(id: StreamId, shown: Shown) -> Self {
        Self {
            id,
            queue: Mutex::default(),
            writer: Mutex::default(),
            shown: RwLock::new(shown),
            gone: AtomicBool::new(false),
            copy_fault: OnceLock::new(),
        }
    }

    pub(super) fn shown(&self) -> RwLockReadGuard<'_, Shown> {
        self.shown.read().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn is_gone(&self) -> bool {
        self.gone.load(Ordering::Acquire)
    }

    /// A recovery has seen to what a thread that panicked left behind.
    pub(super) fn forgive_panic(&self) {
        self.writer.clear_poison();
    }

    /// Nobody finds the stream here any more.
    pub(super) fn give_up(&self) {
        self.gone.store(true, Ordering::Release);
    }

    pub(super) fn copy_fault(&self) -> Option<String> {
        self.copy_fault.get().cloned()
    }

    pub(super) fn set_copy_fault(&self, fault: String) {
        let _ = self.copy_fault.set(fault);
    }

    pub(super) fn forget_copy_fault(&mut self) {
        self.copy_fault.take();
    }
}

/// What a group is going to write.
struct Pending {
    head: Option<Head>,
    records: Vec<Record>,
    bytes: Vec<u8>,
    index: Vec<(u64, Uuid)>,
}

impl ArchiveStore {
    /// Queues the ticket and waits for its answer, doing the group's work if nobody else does. `None`: the
    /// stream was deleted.
    pub(super) fn commit(&self, live: &Stream, ticket: &Arc<Ticket>) -> Option<Answer> {
        locked(&live.queue).push(Arc::clone(ticket));
        let writer = live.writer.lock();
        if writer.is_err() {
            let reason = format!("a thread panicked while writing run {}", live.id);
            self.poison(&StoreError::Io { doing: "an append".into(), message: reason });
        }
        // Keeps the writer's place until the end of this call.
        let _writer = writer.unwrap_or_else(PoisonError::into_inner);
        if let Some(answer) = locked(&ticket.answer).take() {
            return Some(answer);
        }
        let entered = self.enter();
        // Asked once no recovery is under way: it may have given the stream up.
        if live.is_gone() {
            return None;
        }
        let group = mem::take(&mut *locked(&live.queue));
        let answers = match &entered {
            Ok(_) => self.commit_group(live, &group),
            Err(poisoned) => group.iter().map(|ticket| (ticket, Err(poisoned.clone()))).collect(),
        };
        for (member, answer) in answers {
            *locked(&member.answer) = Some(answer);
        }
        // Our ticket was in the queue, so it has been answered; `None` would only make the caller ask again.
        locked(&ticket.answer).take()
    }

    fn commit_group<'a>(&self, live: &Stream, group: &'a [Arc<Ticket>]) -> Vec<(&'a Arc<Ticket>, Answer)> {
        let (pending, mut answers) = prepare(live, group);
        if pending.records.is_empty() {
            return answers;
        }
        let durable = live.shown().last_seq();
        if let Err(error) = self.write(live, &pending) {
            self.poison(&error);
            for (_, answer) in &mut answers {
                if answer.as_ref().is_ok_and(|appended| appended.last() > durable) {
                    *answer = Err(error.clone());
                }
            }
            return answers;
        }
        self.feed_copy(live, &pending);
        let mut shown = live.shown.write().unwrap_or_else(PoisonError::into_inner);
        shown.head = pending.head;
        shown.index.extend(pending.index);
        shown.len += pending.bytes.len() as u64;
        answers
    }

    /// Writes and flushes. When this returns `Ok`, the group is durable.
    fn write(&self, live: &Stream, pending: &Pending) -> Result<(), StoreError> {
        let name = file_name(live.id);
        let new_file = live.shown().len == 0;
        let failed = |what, e| StoreError::from_io(format!("{what} {}", self.files.show(&name)), &e);
        self.files.append(&name, &pending.bytes).map_err(|e| failed("writing", e))?;
        self.files.sync(&name).map_err(|e| failed("flushing", e))?;
        if new_file {
            self.files.sync_folder().map_err(|e| failed("flushing the folder of", e))?;
        }
        Ok(())
    }

    /// The records are durable already: whatever happens here costs speed only.
    fn feed_copy(&self, live: &Stream, pending: &Pending) {
        let (Some(copy), Some(head)) = (&self.copy, pending.head) else { return };
        if live.copy_fault().is_some() {
            return;
        }
        if let Err(fault) = copy.feed(live.id, &pending.records, head) {
            self.distrust_copy(live, fault);
        }
    }

    /// Deletes the stream if the proof is its end. The copy goes first: a crash in between leaves a whole
    /// run.
    pub(super) fn remove(&self, live: &Stream, proof: Head) -> Result<(), StoreError> {
        let _writer = locked(&live.writer);
        let _entered = self.enter()?;
        let stream = live.id;
        let found = if live.is_gone() { None } else { live.shown().head };
        let Some(found) = found else { return Err(StoreError::NotFound { stream }) };
        if found != proof {
            return Err(StoreError::WrongProof { stream, found });
        }
        if let Some(copy) = &self.copy
            && let Err(fault) = copy.forget(stream)
        {
            live.set_copy_fault(fault);
        }
        let name = file_name(stream);
        let failed = |e| StoreError::from_io(format!("removing {}", self.files.show(&name)), &e);
        // Said beforehand, so that a reader who no longer finds the file knows why.
        live.gone.store(true, Ordering::Release);
        self.files.remove(&name).map_err(|e| {
            live.gone.store(false, Ordering::Release);
            live.set_copy_fault("a deletion failed half-way".into());
            failed(e)
        })?;
        self.streams.write().unwrap_or_else(PoisonError::into_inner).remove(&stream);
        self.files.sync_folder().map_err(|e| {
            let error = failed(e);
            self.poison(&error);
            error
        })
    }
}

/// Judges every request of the group in its order and lays out the bytes of those that are accepted.
fn prepare<'a>(live: &Stream, group: &'a [Arc<Ticket>]) -> (Pending, Vec<(&'a Arc<Ticket>, Answer)>) {
    let shown = live.shown();
    let mut pending = Pending { head: shown.head, records: Vec::new(), bytes: Vec::new(), index: Vec::new() };
    let mut answers = Vec::with_capacity(group.len());
    for ticket in group {
        let event_at = |seq: u64| {
            let place = seq.checked_sub(shown.last_seq() + 1).and_then(|n| usize::try_from(n).ok());
            place.and_then(|n| pending.index.get(n)).map(|(_, id)| *id).or_else(|| shown.event_at(seq))
        };
        let verdict = judge(live.id, ticket.expected, pending.head, &ticket.records, event_at);
        let answer = verdict.map(|verdict| match verdict {
            Verdict::Already { first, last } => Appended::Already { first, last },
            Verdict::Write => pending.add(live.id, &shown, &ticket.records),
        });
        answers.push((ticket, answer));
    }
    (pending, answers)
}

impl Pending {
    fn add(&mut self, stream: StreamId, shown: &Shown, records: &[NewRecord]) -> Appended {
        if shown.len == 0 && self.bytes.is_empty() {
            self.bytes.extend_from_slice(line::head_line(stream).as_bytes());
        }
        let first = self.head.map_or(1, |head| head.seq + 1);
        let mut head = self.head.unwrap_or(Head { seq: 0, chain: crate::chain::genesis(stream) });
        for record in seal(stream, self.head, records) {
            self.index.push((shown.len + self.bytes.len() as u64, record.event_id));
            line::encode(&mut self.bytes, &record);
            head = Head { seq: record.seq, chain: record.chain };
            self.records.push(record);
        }
        self.head = Some(head);
        Appended::Written { first, head }
    }
}

#[cfg(test)]
mod tests {
    use std::thread;

    use super::*;
    use crate::conformance::records;
    use crate::crash_backend::CrashFiles;
    use crate::files::FileLayer;
    use crate::store::EventStore;

    fn store() -> (Arc<CrashFiles>, ArchiveStore) {
        let files = Arc::new(CrashFiles::default());
        let (store, _) =
            ArchiveStore::open_on(Arc::<CrashFiles>::clone(&files) as Arc<dyn FileLayer>, None).unwrap();
        (files, store)
    }

    /// Whoever waits while somebody writes is served by one write and one flush, each with an answer of its
    /// own.
    #[test]
    fn those_who_wait_share_a_flush() {
        let (files, store) = store();
        let id = StreamId::random();
        store.append(id, Expected::NoStream, &records(1)).unwrap();
        let live = store.existing(id).unwrap().unwrap();
        let changes = files.changes();
        let again = records(1);
        let (mut written, mut other) = (0, Vec::new());
        thread::scope(|scope| {
            let busy = locked(&live.writer);
            let mut waiting = Vec::new();
            // Six that follow each other, then a repetition of the last and one that is too late.
            for (place, expected) in [1, 2, 3, 4, 5, 6, 6, 3].into_iter().enumerate() {
                let new = if expected == 6 { again.clone() } else { records(1) };
                let store = &store;
                waiting.push(scope.spawn(move || store.append(id, Expected::Exact(expected), &new)));
                while locked(&live.queue).len() <= place {
                    thread::yield_now();
                }
            }
            drop(busy);
            for answer in waiting.into_iter().map(|thread| thread.join().unwrap()) {
                match answer {
                    Ok(Appended::Written { .. }) => written += 1,
                    answer => other.push(answer),
                }
            }
        });
        assert_eq!(written, 6);
        let late = StoreError::Conflict { stream: id, expected: 3, found: 7 };
        assert_eq!(other, [Ok(Appended::Already { first: 7, last: 7 }), Err(late)]);
        assert_eq!(files.changes() - changes, 2);
        assert_eq!(store.read(id, 1, 99).unwrap().len(), 7);
    }
}

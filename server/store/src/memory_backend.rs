//! A store in memory, for tests and for work that nobody needs to find again.

use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

use crate::chain::seal;
use crate::error::StoreError;
use crate::judge::{self, Verdict, judge};
use crate::store::{EventStore, Health, Recovered};
use crate::types::{Appended, Expected, Head, NewRecord, Record, StreamId};

/// An [`EventStore`] that forgets everything when it is dropped. "Durable" here means: in memory.
#[derive(Debug, Default)]
pub struct MemoryStore {
    streams: Mutex<BTreeMap<StreamId, Vec<Record>>>,
    trouble: Mutex<Trouble>,
}

/// On order of a test.
#[derive(Debug, Default)]
struct Trouble {
    /// What every change meets with.
    cause: Option<StoreError>,
    poisoned: Option<String>,
}

impl MemoryStore {
    /// For tests: from now on changes fail with this error, until [`mend`](Self::mend) and a recovery.
    pub fn break_down(&self, cause: StoreError) {
        self.trouble().cause = Some(cause);
    }

    /// For tests: the cause is gone.
    pub fn mend(&self) {
        self.trouble().cause = None;
    }

    fn trouble(&self) -> MutexGuard<'_, Trouble> {
        self.trouble.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// May something be changed?
    fn enter(&self) -> Result<(), StoreError> {
        let mut trouble = self.trouble();
        if let Some(reason) = &trouble.poisoned {
            return Err(StoreError::Poisoned { reason: reason.clone() });
        }
        let Some(cause) = trouble.cause.clone() else { return Ok(()) };
        trouble.poisoned = Some(cause.to_string());
        Err(cause)
    }

    fn streams(&self) -> MutexGuard<'_, BTreeMap<StreamId, Vec<Record>>> {
        self.streams.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn end(records: &[Record]) -> Option<Head> {
    records.last().map(|record| Head { seq: record.seq, chain: record.chain })
}

impl EventStore for MemoryStore {
    fn append(
        &self,
        stream: StreamId,
        expected: Expected,
        records: &[NewRecord],
    ) -> Result<Appended, StoreError> {
        judge::fits(records)?;
        let mut streams = self.streams();
        let stored = streams.get(&stream).map_or(&[][..], Vec::as_slice);
        let head = end(stored);
        let event_at = |seq: u64| {
            let place = usize::try_from(seq.checked_sub(1)?).ok()?;
            stored.get(place).map(|record| record.event_id)
        };
        if let Verdict::Already { first, last } = judge(stream, expected, head, records, event_at)? {
            return Ok(Appended::Already { first, last });
        }
        self.enter()?;
        let sealed = seal(stream, head, records);
        let first = head.map_or(1, |head| head.seq + 1);
        // `fits` refused an empty append.
        let head = end(&sealed).unwrap_or(Head { seq: 0, chain: crate::chain::genesis(stream) });
        streams.entry(stream).or_default().extend(sealed);
        Ok(Appended::Written { first, head })
    }

    fn read(&self, stream: StreamId, from_seq: u64, limit: u32) -> Result<Vec<Record>, StoreError> {
        let streams = self.streams();
        let Some(records) = streams.get(&stream) else { return Ok(Vec::new()) };
        let skip = usize::try_from(from_seq.saturating_sub(1)).unwrap_or(usize::MAX);
        let limit = usize::try_from(limit).unwrap_or(usize::MAX);
        Ok(records.iter().skip(skip).take(limit).cloned().collect())
    }

    fn head(&self, stream: StreamId) -> Result<Option<Head>, StoreError> {
        Ok(self.streams().get(&stream).and_then(|records| end(records)))
    }

    fn streams(&self) -> Result<Vec<StreamId>, StoreError> {
        Ok(self.streams().keys().copied().collect())
    }

    fn delete(&self, stream: StreamId, proof: Head) -> Result<(), StoreError> {
        let mut streams = self.streams();
        let found = streams.get(&stream).and_then(|records| end(records));
        match found {
            None => Err(StoreError::NotFound { stream }),
            Some(found) if found != proof => Err(StoreError::WrongProof { stream, found }),
            Some(_) => {
                self.enter()?;
                streams.remove(&stream);
                Ok(())
            }
        }
    }

    fn health(&self) -> Health {
        let streams = self.streams();
        let records = streams.values().map(|records| records.len() as u64).sum();
        let bytes = streams.values().flatten().map(|record| record.payload.len() as u64).sum();
        let poisoned = self.trouble().poisoned.clone();
        Health { poisoned, streams: streams.len(), records, bytes, ..Health::default() }
    }

    fn recover(&self) -> Result<Recovered, StoreError> {
        let mut trouble = self.trouble();
        match &trouble.cause {
            Some(cause) if trouble.poisoned.is_some() => Err(cause.clone()),
            _ => Ok(Recovered { reason: trouble.poisoned.take(), ..Recovered::default() }),
        }
    }
}

//! The store with a clock beside it: how long each append waits for the disk.

use crate::metrics::Metrics;
use deadship_store::{
    Appended, EventStore, Expected, Head, Health, NewRecord, Record, Recovered, StoreError, StreamId,
};
use std::sync::Arc;
use std::time::Instant;

/// A store whose appends are measured.
pub(crate) struct MeasuredStore {
    /// The store.
    pub(crate) beneath: Arc<dyn EventStore>,
    /// Where it is counted.
    pub(crate) metrics: Metrics,
}

impl EventStore for MeasuredStore {
    fn append(
        &self,
        stream: StreamId,
        expected: Expected,
        records: &[NewRecord],
    ) -> Result<Appended, StoreError> {
        let began = Instant::now();
        let appended = self.beneath.append(stream, expected, records);
        self.metrics.commit(began.elapsed(), appended.is_ok());
        appended
    }

    fn read(&self, stream: StreamId, from_seq: u64, limit: u32) -> Result<Vec<Record>, StoreError> {
        self.beneath.read(stream, from_seq, limit)
    }

    fn head(&self, stream: StreamId) -> Result<Option<Head>, StoreError> {
        self.beneath.head(stream)
    }

    fn streams(&self) -> Result<Vec<StreamId>, StoreError> {
        self.beneath.streams()
    }

    fn delete(&self, stream: StreamId, proof: Head) -> Result<(), StoreError> {
        self.beneath.delete(stream, proof)
    }

    fn health(&self) -> Health {
        self.beneath.health()
    }

    fn recover(&self) -> Result<Recovered, StoreError> {
        self.beneath.recover()
    }
}

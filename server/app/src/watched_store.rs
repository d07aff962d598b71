//! The store as the server uses it: how long each append waits for the disk is counted, and whoever meets with a failure
//! wakes the one task that brings the store back.

use crate::metrics::Metrics;
use deadship_store::{
    Appended, EventStore, Expected, Head, Health, NewRecord, Record, Recovered, StoreError, StreamId,
};
use std::sync::Arc;
use std::time::Instant;
use tokio::sync::Notify;

/// A store that measures its appends and says when a change of it failed.
pub(crate) struct WatchedStore {
    beneath: Arc<dyn EventStore>,
    metrics: Metrics,
    trouble: Arc<Notify>,
}

impl WatchedStore {
    /// The store, and what wakes when a change of it fails.
    pub(crate) fn over(beneath: Arc<dyn EventStore>, metrics: Metrics) -> (Arc<dyn EventStore>, Arc<Notify>) {
        let trouble = Arc::new(Notify::new());
        (Arc::new(WatchedStore { beneath, metrics, trouble: Arc::clone(&trouble) }), trouble)
    }
}

/// Wakes unless all went well, also when the store panics.
struct Alarm<'a>(Option<&'a Notify>);

impl Drop for Alarm<'_> {
    fn drop(&mut self) {
        if let Some(trouble) = self.0 {
            trouble.notify_one();
        }
    }
}

impl EventStore for WatchedStore {
    fn append(
        &self,
        stream: StreamId,
        expected: Expected,
        records: &[NewRecord],
    ) -> Result<Appended, StoreError> {
        let mut alarm = Alarm(Some(&self.trouble));
        let began = Instant::now();
        let appended = self.beneath.append(stream, expected, records);
        self.metrics.commit(began.elapsed(), appended.is_ok());
        if appended.is_ok() {
            alarm.0 = None;
        }
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
        let mut alarm = Alarm(Some(&self.trouble));
        self.beneath.delete(stream, proof)?;
        alarm.0 = None;
        Ok(())
    }

    fn health(&self) -> Health {
        self.beneath.health()
    }

    fn recover(&self) -> Result<Recovered, StoreError> {
        self.beneath.recover()
    }
}

//! The trait that every backend fulfils, and what it says about its health.

use crate::archive_store::TornTail;
use crate::error::StoreError;
use crate::types::{Appended, Expected, Head, NewRecord, Record, StreamId};

/// Append-only streams of records. Calls block; an async caller uses a blocking thread.
pub trait EventStore: Send + Sync {
    /// Appends the records, all or none, if the stream ends where the caller believes. Returns only when they
    /// are durable. Callers on several threads share flushes.
    ///
    /// After an error other than `Conflict` and `Refused` the records may or may not be there once the store
    /// is opened again, but all or none of them; repeating the append with the same event ids is always safe.
    fn append(
        &self,
        stream: StreamId,
        expected: Expected,
        records: &[NewRecord],
    ) -> Result<Appended, StoreError>;

    /// Up to `limit` durable records from `from_seq` on, ascending and without gaps. A stream that does not
    /// exist reads as empty.
    fn read(&self, stream: StreamId, from_seq: u64, limit: u32) -> Result<Vec<Record>, StoreError>;

    /// The end of the stream, or `None` if there is no such stream.
    fn head(&self, stream: StreamId) -> Result<Option<Head>, StoreError>;

    /// All streams that can be read, ascending. Damaged ones are named by [`health`](Self::health).
    fn streams(&self) -> Result<Vec<StreamId>, StoreError>;

    /// Deletes a stream for good. The caller proves with the stream's end that it knows what it deletes.
    fn delete(&self, stream: StreamId, proof: Head) -> Result<(), StoreError>;

    /// How the store is.
    fn health(&self) -> Health;

    /// The way back after a failed write or flush, once its cause may be gone. Proves by a durable write that
    /// writing works, verifies the end of every stream, cuts away what was never acknowledged (kept in
    /// quarantine), and takes appends again. While the cause is still there it fails, changes nothing that
    /// matters, and can be called again. A store that never failed does nothing.
    ///
    /// Whatever was acknowledged is there afterwards; an append that failed is not, and may be repeated.
    fn recover(&self) -> Result<Recovered, StoreError>;
}

/// What a recovery found and did.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Recovered {
    /// What had ended appending, if anything had.
    pub reason: Option<String>,
    /// Ends that were never acknowledged and were cut off.
    pub cut: Vec<TornTail>,
    /// Streams whose acknowledged records were not all found again. Their files were left alone.
    pub refused: Vec<(StreamId, StoreError)>,
}

/// How a store is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Health {
    /// Why no appends are accepted any more, if so.
    pub poisoned: Option<String>,
    /// Streams that can be read.
    pub streams: usize,
    /// Records in them.
    pub records: u64,
    /// Bytes of their archives.
    pub bytes: u64,
    /// Streams that are refused, each with its reason.
    pub refused: Vec<(StreamId, StoreError)>,
    /// Streams whose reads fall back to the archive, each with the read copy's fault. Nothing is lost by it.
    pub slow: Vec<(StreamId, String)>,
}

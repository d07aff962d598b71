//! Append-only event streams on bytes and sequence numbers.
//!
//! One run is one stream. The truth is the **archive**: a text file a stream, one JSON line a record with
//! checksum and hash chain, flushed to the disk before an append is answered. With the feature `sled` an
//! embedded database serves the reads and keeps checkpoints; it is filled from the archives and can be
//! deleted at any time.
//!
//! - [`open`] opens a server's data folder; [`EventStore`] is what it is used through.
//! - [`archive`] reads and writes archive files of their own, without a server and without the database.
//! - [`MemoryStore`], [`crash_backend`], [`failing_backend`] and [`conformance`] are for tests.
//!
//! ```text
//! <data>/FORMAT        the data folder's format
//! <data>/LOCK          held while a server runs
//! <data>/archive/      <stream>.jsonl, the truth
//! <data>/reads/        the read copy, disposable
//! <data>/checkpoints/  checkpoints, disposable
//! <data>/quarantine/   what was moved or cut away, for people to look at
//! ```
#![forbid(unsafe_code)]

pub mod archive;
mod archive_store;
pub mod backup;
mod chain;
mod checkpoints;
pub mod conformance;
pub mod crash_backend;
mod data_folder;
mod error;
pub mod failing_backend;
mod files;
mod judge;
mod memory_backend;
mod open;
mod read_copy;
mod rewriting;
#[cfg(feature = "sled")]
pub mod sled_backend;
mod store;
mod types;

pub use archive_store::{ArchiveStore, Moved, OpenReport, Refed, Rescued, TornTail};
pub use chain::{ChainHash, NotAChainHash};
pub use checkpoints::{CheckpointCache, MemoryCheckpoints};
pub use data_folder::DATA_FORMAT;
pub use error::StoreError;
pub use files::{DiskFiles, FileLayer};
pub use judge::{MAX_PAYLOAD_BYTES, MAX_RECORDS};
pub use memory_backend::MemoryStore;
pub use open::{Opened, Options, open};
pub use read_copy::ReadCopy;
pub use rewriting::{Append, Rewriting, appends_of, replace_archive};
pub use store::{EventStore, Health, Recovered};
pub use types::{Appended, Expected, Head, NewRecord, Record, StreamId};

//! What can go wrong: what happened, where, and what to do about it.

use std::io;

use crate::types::{Head, StreamId};

/// Why the store did not do what was asked. It can be cloned because one failed flush answers a group of
/// callers.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// Somebody else appended in the meantime, or the caller's picture is old.
    #[error(
        "run {stream} ends at record {found}, but the append expected {expected}; read what is new and decide again"
    )]
    Conflict {
        /// The stream.
        stream: StreamId,
        /// The last sequence number the caller expected.
        expected: u64,
        /// The last sequence number there is.
        found: u64,
    },
    /// A deletion whose proof is not the stream's end.
    #[error(
        "run {stream} was not deleted: it ends at {found}, not where the request says; read its end and ask again"
    )]
    WrongProof {
        /// The stream.
        stream: StreamId,
        /// Where it really ends.
        found: Head,
    },
    /// There is no such stream.
    #[error("there is no run {stream} in this store; list the runs to see which there are")]
    NotFound {
        /// The stream asked for.
        stream: StreamId,
    },
    /// The request itself cannot be kept.
    #[error("the append was refused and nothing was written: {what}")]
    Refused {
        /// What is wrong with it.
        what: String,
    },
    /// The operating system refused a read or a write.
    #[error("{doing} failed: {message}; check the disk and the rights on the data folder")]
    Io {
        /// What was being done, with the file.
        doing: String,
        /// The operating system's words.
        message: String,
    },
    /// The disk is full.
    #[error("{doing} failed: the disk is full; free some space")]
    Full {
        /// What was being done, with the file.
        doing: String,
    },
    /// A stream is damaged somewhere before its end. Other streams go on.
    #[error(
        "run {stream} is damaged at record {seq}: {what}; its file was left as it is: keep a copy of it, \
         the records before the damage can still be read from that file"
    )]
    Corrupt {
        /// The stream.
        stream: StreamId,
        /// The first sequence number that cannot be trusted.
        seq: u64,
        /// What was found, with file and line where known.
        what: String,
    },
    /// Written by a later version of deadship.
    #[error(
        "{what} has format {found}, and this version reads formats up to {known}; use a newer deadship for it"
    )]
    Newer {
        /// Which file or folder.
        what: String,
        /// Its format.
        found: u32,
        /// The newest format that this version knows.
        known: u32,
    },
    /// A write or a flush failed earlier: what is on disk is uncertain until the files are read again, which
    /// is what [`EventStore::recover`](crate::EventStore::recover) does.
    #[error("no records are accepted since an earlier failure, though reading goes on: {reason}")]
    Poisoned {
        /// The first failure.
        reason: String,
    },
    /// Another process, or another part of this one, has the data folder open.
    #[error("the data folder {path} is in use by another deadship; stop that one or name another folder")]
    Locked {
        /// The data folder.
        path: String,
    },
    /// A backup cannot be made, read or restored.
    #[error("{path}: {what}")]
    Backup {
        /// The file or folder.
        path: String,
        /// What is wrong, and what to do.
        what: String,
    },
    /// The data folder is not one of ours, or its format mark cannot be read.
    #[error("{path} cannot be used as a data folder: {what}")]
    DataFolder {
        /// The file or folder.
        path: String,
        /// What is wrong, and what to do.
        what: String,
    },
}

impl StoreError {
    /// Whether the cause may go away by itself or by somebody's help, so that trying again makes sense.
    pub fn may_pass(&self) -> bool {
        matches!(self, Self::Io { .. } | Self::Full { .. } | Self::Poisoned { .. })
    }

    /// An operating system error in our words; a full disk is told apart, since people can do something about
    /// it.
    pub fn from_io(doing: impl Into<String>, error: &io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::FileTooLarge => {
                Self::Full { doing: doing.into() }
            }
            _ => Self::Io { doing: doing.into(), message: error.to_string() },
        }
    }
}

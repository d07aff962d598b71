//! Writes an archive file of its own, apart from a server's data folder.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use super::check::Check;
use super::line;
use crate::chain::seal;
use crate::error::StoreError;
use crate::files::sync_folder;
use crate::judge;
use crate::types::{Head, NewRecord, Record, StreamId};

/// Writes one stream into a new file. Nothing is promised to be durable before [`finish`](Self::finish).
#[derive(Debug)]
pub struct ArchiveWriter {
    path: PathBuf,
    file: File,
    stream: StreamId,
    check: Check,
    /// A failed write leaves an unknown number of bytes behind; nothing may follow them.
    failed: Option<StoreError>,
}

impl ArchiveWriter {
    /// Creates the file with its first line. An existing file is never overwritten.
    pub fn create(path: &Path, stream: StreamId) -> Result<Self, StoreError> {
        let file = OpenOptions::new()
            .append(true)
            .create_new(true)
            .open(path)
            .map_err(|e| StoreError::from_io(format!("creating {}", path.display()), &e))?;
        let mut writer =
            Self { path: path.to_owned(), file, stream, check: Check::start(stream), failed: None };
        writer.write(line::head_line(stream).as_bytes())?;
        Ok(writer)
    }

    /// Adds records as one append.
    pub fn append(&mut self, records: &[NewRecord]) -> Result<Head, StoreError> {
        judge::fits(records)?;
        if !self.check.is_whole() {
            let what = "the append copied before it is not complete".into();
            return Err(StoreError::Refused { what });
        }
        let sealed = seal(self.stream, self.check.head(), records);
        let mut bytes = Vec::new();
        for record in &sealed {
            line::encode(&mut bytes, record);
        }
        self.write(&bytes)?;
        // `seal` gives at least one record, since an empty append was refused.
        let last = &sealed[sealed.len() - 1];
        self.check = Check::after(self.stream, last);
        Ok(Head { seq: last.seq, chain: last.chain })
    }

    /// Copies a stored record as it is, with its checksum and chain; it must follow the record before.
    pub fn copy(&mut self, record: &Record) -> Result<(), StoreError> {
        let mut check = self.check.clone();
        check.accept(record).map_err(|what| StoreError::Corrupt {
            stream: self.stream,
            seq: record.seq,
            what: format!("it cannot be copied to {}: {what}", self.path.display()),
        })?;
        let mut bytes = Vec::new();
        line::encode(&mut bytes, record);
        self.write(&bytes)?;
        self.check = check;
        Ok(())
    }

    /// Makes the file durable, with its name, and closes it.
    pub fn finish(self) -> Result<Option<Head>, StoreError> {
        if let Some(error) = self.failed {
            return Err(error);
        }
        let failed = |e| StoreError::from_io(format!("flushing {}", self.path.display()), &e);
        self.file.sync_all().map_err(failed)?;
        sync_folder(self.path.parent().unwrap_or(Path::new(""))).map_err(failed)?;
        Ok(self.check.head())
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), StoreError> {
        if let Some(error) = &self.failed {
            return Err(StoreError::Poisoned { reason: error.to_string() });
        }
        self.file.write_all(bytes).map_err(|e| {
            let error = StoreError::from_io(format!("writing {}", self.path.display()), &e);
            self.failed = Some(error.clone());
            error
        })
    }
}

//! Reads an archive from its beginning and trusts nothing.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, BufRead, BufReader};
use std::path::Path;

use super::check::Check;
use super::line::{self, HeadLine};
use crate::types::{Head, Record, StreamId};

/// A fault in an archive: which file, which line, which record.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}, line {line}: {fault}")]
pub struct ArchiveError {
    /// The file as the caller named it.
    pub file: String,
    /// The line, from 1.
    pub line: u64,
    /// The first sequence number that cannot be trusted.
    pub seq: u64,
    /// What is wrong.
    pub fault: ArchiveFault,
}

/// What is wrong at that line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ArchiveFault {
    /// The file could not be read.
    #[error("the file cannot be read: {0}")]
    Io(String),
    /// Written by a later version.
    #[error(
        "the file has format {found}, and this version reads formats up to {known}; use a newer deadship for it"
    )]
    Newer {
        /// The file's format.
        found: u32,
        /// The newest format that this version knows.
        known: u32,
    },
    /// The last append is not complete; everything before it is whole.
    #[error("the file ends in an unfinished append ({what}); everything before it is whole")]
    Torn {
        /// What was found.
        what: String,
    },
    /// Damage in front of records that are whole.
    #[error("the file is damaged here ({what}); what stands before this line is whole")]
    Damaged {
        /// What was found.
        what: String,
    },
}

/// Reads whole appends, verified, in order. As an iterator it yields the records; after an error it ends.
#[derive(Debug)]
pub struct ArchiveReader<R> {
    file: String,
    source: R,
    check: Check,
    stream: StreamId,
    line: u64,
    /// Bytes read so far, and of these, up to the end of the last whole append.
    read_bytes: u64,
    whole_bytes: u64,
    whole_head: Option<Head>,
    waiting: VecDeque<Record>,
    ended: bool,
}

impl ArchiveReader<BufReader<File>> {
    /// Opens an archive file and reads its first line.
    pub fn open(path: &Path) -> Result<Self, ArchiveError> {
        let name = path.display().to_string();
        match File::open(path) {
            Ok(file) => Self::new(name, BufReader::new(file)),
            Err(e) => {
                Err(ArchiveError { file: name, line: 1, seq: 1, fault: ArchiveFault::Io(e.to_string()) })
            }
        }
    }
}

impl<R: BufRead> ArchiveReader<R> {
    /// Reads an archive from anywhere; `file` is the name that errors show.
    pub fn new(file: impl Into<String>, mut source: R) -> Result<Self, ArchiveError> {
        let file = file.into();
        let at_head = |fault| ArchiveError { file: file.clone(), line: 1, seq: 1, fault };
        let mut first = Vec::new();
        let complete =
            read_line(&mut source, &mut first).map_err(|e| at_head(ArchiveFault::Io(e.to_string())))?;
        if complete.is_none() {
            return Err(at_head(ArchiveFault::Torn { what: "the first line is not complete".into() }));
        }
        match line::read_head_line(&first) {
            Some(HeadLine::Ours(stream)) => {
                let bytes = first.len() as u64 + 1;
                Ok(Self {
                    file,
                    source,
                    check: Check::start(stream),
                    stream,
                    line: 1,
                    read_bytes: bytes,
                    whole_bytes: bytes,
                    whole_head: None,
                    waiting: VecDeque::new(),
                    ended: false,
                })
            }
            Some(HeadLine::Newer(found)) => Err(at_head(ArchiveFault::Newer { found, known: line::FORMAT })),
            None => {
                let what = "the first line is not that of an archive".into();
                Err(at_head(ArchiveFault::Damaged { what }))
            }
        }
    }

    /// The stream that the file holds.
    pub fn stream(&self) -> StreamId {
        self.stream
    }

    /// The end of the appends read so far.
    pub fn head(&self) -> Option<Head> {
        self.whole_head
    }

    /// Length in bytes of the first line and the appends read so far.
    pub fn whole_bytes(&self) -> u64 {
        self.whole_bytes
    }

    /// The records of the next append, or `None` at a clean end.
    pub fn next_append(&mut self) -> Result<Option<Vec<Record>>, ArchiveError> {
        Ok(self.next_append_with_offsets()?.map(|records| records.into_iter().map(|(_, r)| r).collect()))
    }

    /// As [`next_append`](Self::next_append), with the byte offset of each record's line.
    pub(crate) fn next_append_with_offsets(&mut self) -> Result<Option<Vec<(u64, Record)>>, ArchiveError> {
        let mut records = Vec::new();
        let mut bytes = Vec::new();
        loop {
            let offset = self.read_bytes;
            bytes.clear();
            let complete = read_line(&mut self.source, &mut bytes).map_err(|e| self.io(&e))?;
            if complete.is_none() && bytes.is_empty() && records.is_empty() {
                return Ok(None);
            }
            self.line += 1;
            let Some(()) = complete else {
                let what = if bytes.is_empty() {
                    "the last append lacks records"
                } else {
                    "the last line is not complete"
                };
                return Err(self.error(ArchiveFault::Torn { what: what.into() }));
            };
            self.read_bytes += bytes.len() as u64 + 1;
            let record = match line::decode(self.stream, &bytes) {
                Ok(record) => record,
                Err(what) => return Err(self.torn_or_damaged(what)),
            };
            if let Err(what) = self.check.accept(&record) {
                // A complete, checksummed record that does not belong here cannot come from a torn write.
                return Err(self.error(ArchiveFault::Damaged { what: what.into() }));
            }
            records.push((offset, record));
            if self.check.is_whole() {
                self.whole_bytes = self.read_bytes;
                self.whole_head = self.check.head();
                return Ok(Some(records));
            }
        }
    }

    /// A line that cannot be read: if a whole record stands anywhere behind it, this is damage, else the torn
    /// end.
    fn torn_or_damaged(&mut self, what: &str) -> ArchiveError {
        let error = self.error(ArchiveFault::Damaged { what: what.into() });
        let mut bytes = Vec::new();
        loop {
            bytes.clear();
            match read_line(&mut self.source, &mut bytes) {
                Ok(Some(())) if line::decode(self.stream, &bytes).is_ok() => return error,
                Ok(Some(())) => {}
                Ok(None) => return ArchiveError { fault: ArchiveFault::Torn { what: what.into() }, ..error },
                Err(e) => return self.io(&e),
            }
        }
    }

    fn error(&self, fault: ArchiveFault) -> ArchiveError {
        ArchiveError { file: self.file.clone(), line: self.line, seq: self.check.next_seq(), fault }
    }

    fn io(&self, error: &io::Error) -> ArchiveError {
        self.error(ArchiveFault::Io(error.to_string()))
    }
}

impl<R: BufRead> Iterator for ArchiveReader<R> {
    type Item = Result<Record, ArchiveError>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.waiting.is_empty() && !self.ended {
            match self.next_append() {
                Ok(Some(records)) => self.waiting.extend(records),
                Ok(None) => self.ended = true,
                Err(e) => {
                    self.ended = true;
                    return Some(Err(e));
                }
            }
        }
        self.waiting.pop_front().map(Ok)
    }
}

/// Reads up to a line end, which it takes off. `None`: the source ended without one.
fn read_line(source: &mut impl BufRead, line: &mut Vec<u8>) -> io::Result<Option<()>> {
    source.read_until(b'\n', line)?;
    Ok((line.pop_if(|last| *last == b'\n')).map(|_| ()))
}

//! What opening a store found and did. Nothing is repaired in silence.

use std::fmt;

use crate::error::StoreError;
use crate::types::StreamId;

/// What opening a store found and did. Its `Display` is one sentence a line, for the log and for people.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct OpenReport {
    /// Streams that can be read.
    pub streams: usize,
    /// Records in them, all verified.
    pub records: u64,
    /// Unfinished ends that were cut off.
    pub torn: Vec<TornTail>,
    /// Streams that are refused, each with its reason; their files were left alone.
    pub refused: Vec<(StreamId, StoreError)>,
    /// Files in the archive folder that are not ours; left alone.
    pub ignored: Vec<String>,
    /// Streams whose read copy was behind, missing or wrong, and was fed from the archive.
    pub refed: Vec<Refed>,
    /// Records that only the read copy still had: the archive lost records that had been acknowledged.
    pub rescued: Vec<Rescued>,
    /// Folders that were moved away because they could not be opened, or showed later that they are damaged.
    pub moved: Vec<Moved>,
    /// What the read copy could not do while it was brought up to date: it is damaged deeper than its opening showed.
    pub copy_faults: Vec<String>,
    /// Why there is no read copy, where one was wanted. Reads come from the archives.
    pub without_copy: Option<String>,
    /// Why checkpoints are kept in memory only, where a database was wanted.
    pub without_checkpoints: Option<String>,
}

/// An unfinished end that was cut off.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TornTail {
    /// The stream.
    pub stream: StreamId,
    /// The last record that was kept, 0 for none.
    pub kept_seq: u64,
    /// How many bytes were cut off.
    pub cut_bytes: u64,
    /// What was found there.
    pub what: String,
    /// Where the cut bytes were saved, if that worked.
    pub saved: Option<String>,
}

/// A stream whose read copy was fed from the archive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Refed {
    /// The stream.
    pub stream: StreamId,
    /// First record fed.
    pub from: u64,
    /// Last record fed.
    pub to: u64,
}

/// Records that the archive has lost and the read copy still had.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rescued {
    /// The stream.
    pub stream: StreamId,
    /// First record that the archive lacks.
    pub from: u64,
    /// Last record that the read copy knew of.
    pub to: u64,
    /// Where the lines were saved, or why they could not be.
    pub saved: Result<String, String>,
}

/// A folder that was moved away because it was of no use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moved {
    /// The folder.
    pub what: String,
    /// Why.
    pub reason: String,
    /// Where it is now.
    pub to: String,
}

impl OpenReport {
    /// Whether there is anything that a person should know.
    pub fn is_clean(&self) -> bool {
        self.torn.is_empty()
            && self.refused.is_empty()
            && self.rescued.is_empty()
            && self.moved.is_empty()
            && self.without_copy.is_none()
            && self.without_checkpoints.is_none()
    }
}

impl fmt::Display for OpenReport {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} runs with {} records, all verified", self.streams, self.records)?;
        for t in &self.torn {
            let (stream, bytes, kept) = (t.stream, t.cut_bytes, t.kept_seq);
            write!(
                f,
                "\nrun {stream}: an unfinished end of {bytes} bytes was cut off after record {kept} ({})",
                t.what
            )?;
            match &t.saved {
                Some(path) => write!(f, "; the bytes are kept in {path}")?,
                None => write!(f, "; the bytes could not be kept")?,
            }
        }
        for (_, error) in &self.refused {
            write!(f, "\n{error}")?;
        }
        for name in &self.ignored {
            write!(f, "\n{name} in the archive folder is not a run's file and was left alone")?;
        }
        for r in &self.refed {
            write!(
                f,
                "\nrun {}: records {} to {} were copied from the archive for reading",
                r.stream, r.from, r.to
            )?;
        }
        for r in &self.rescued {
            write!(
                f,
                "\nrun {}: THE ARCHIVE HAS LOST records {} to {} that had been acknowledged; ",
                r.stream, r.from, r.to
            )?;
            match &r.saved {
                Ok(path) => write!(f, "what the read copy had of them is kept in {path}")?,
                Err(why) => write!(f, "they could not be saved from the read copy: {why}")?,
            }
        }
        for m in &self.moved {
            write!(f, "\n{} is of no use ({}) and was moved to {}", m.what, m.reason, m.to)?;
        }
        if let Some(why) = &self.without_copy {
            write!(f, "\nreads come from the archives: {why}")?;
        }
        if let Some(why) = &self.without_checkpoints {
            write!(f, "\ncheckpoints are kept in memory only: {why}")?;
        }
        Ok(())
    }
}

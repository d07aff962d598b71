//! The archive: one text file a stream, one JSON line a record.
//!
//! The first line names the format and the stream; every further line is one [`Record`](crate::Record) with
//! its checksum and chain hash (the exact layout stands in `line.rs`). A recorded run in a file of its own
//! and the server's files are the same format: either can be read with [`ArchiveReader`].
//!
//! # What is cut, what is damage
//! The records of one append are written together, and carry their place in it (`part`). A file may end in
//! the middle of the last append when the power went away: what follows the last **whole append** whose
//! records are complete and checksummed is *torn*, and nobody was ever told that it is safe. If, however, a
//! complete and checksummed record stands *behind* the fault, the file was damaged later: that is reported as
//! *damage* and never repaired silently.

pub(crate) mod check;
pub(crate) mod line;
mod reader;
mod writer;

pub use line::FORMAT;
pub use reader::{ArchiveError, ArchiveFault, ArchiveReader};
pub use writer::ArchiveWriter;

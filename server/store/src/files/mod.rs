//! The tiny file layer under the server's archive.
//!
//! The archive code asks for nothing else from the operating system. So the crash and failure tests run that
//! very code on files that lose power or refuse a write.

mod disk;

use std::fmt::Debug;
use std::fs::File;
use std::io;
use std::path::Path;

pub use disk::DiskFiles;
#[cfg(feature = "sled")]
pub(crate) use disk::free_name;

/// Append-only files in one folder, by name.
pub trait FileLayer: Send + Sync + Debug {
    /// Names of the files there are.
    fn list(&self) -> io::Result<Vec<String>>;
    /// The whole file.
    fn read(&self, name: &str) -> io::Result<Vec<u8>>;
    /// `len` bytes from `offset`; fewer is an error.
    fn read_at(&self, name: &str, offset: u64, len: usize) -> io::Result<Vec<u8>>;
    /// Adds bytes at the end; creates the file where it is missing.
    fn append(&self, name: &str, bytes: &[u8]) -> io::Result<()>;
    /// Makes the file's bytes and length durable.
    fn sync(&self, name: &str) -> io::Result<()>;
    /// Makes created and removed names durable.
    fn sync_folder(&self) -> io::Result<()>;
    /// Cuts the file to this length; durable after the next sync.
    fn truncate(&self, name: &str, len: u64) -> io::Result<()>;
    /// Removes the file; durable after the folder's sync.
    fn remove(&self, name: &str) -> io::Result<()>;
    /// Saves bytes in quarantine, outside the folder, durably, and tells where.
    fn set_aside(&self, name: &str, bytes: &[u8]) -> io::Result<String>;
    /// Lets go of open files, so that every file is opened anew: an old handle may be of a file system that
    /// has come back as another.
    fn let_go(&self) {}
    /// What to call this file in a message.
    fn show(&self, name: &str) -> String;
}

/// Makes the names in a folder durable.
pub(crate) fn sync_folder(folder: &Path) -> io::Result<()> {
    let here = Path::new(".");
    let folder = if folder.as_os_str().is_empty() { here } else { folder };
    // Opening a folder as a file is how Unix does it; elsewhere the rename or creation itself has to do.
    if cfg!(unix) { File::open(folder)?.sync_all() } else { Ok(()) }
}

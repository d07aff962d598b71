//! Opening a data folder: the one call that a server makes.

use std::path::Path;
use std::sync::Arc;

use crate::archive_store::{ArchiveStore, OpenReport};
use crate::checkpoints::{CheckpointCache, MemoryCheckpoints};
use crate::data_folder::DataFolder;
use crate::error::StoreError;
use crate::files::DiskFiles;
use crate::read_copy::ReadCopy;

/// How to open a data folder.
#[derive(Debug, Clone)]
pub struct Options {
    /// Whether to keep a read copy and checkpoints in the embedded database. Without it (and without the
    /// feature
    /// `sled`) reads come from the archives, and checkpoints are kept in memory.
    pub database: bool,
    /// Memory that each of the two databases may use for its cache.
    pub cache_bytes: u64,
}

impl Default for Options {
    fn default() -> Self {
        Self { database: cfg!(feature = "sled"), cache_bytes: 64 << 20 }
    }
}

/// An open data folder.
#[derive(Debug)]
pub struct Opened {
    /// The records.
    pub store: ArchiveStore,
    /// The checkpoints.
    pub checkpoints: Box<dyn CheckpointCache>,
    /// What was found and done; to be logged, and shown if it is not clean.
    pub report: OpenReport,
}

/// Opens a data folder, creating it if it is missing. Every archive is read and verified. The folder stays
/// locked until the store is dropped.
///
/// One damaged run does not keep the others from being served: see [`OpenReport::refused`].
pub fn open(data_dir: &Path, options: &Options) -> Result<Opened, StoreError> {
    let (folder, lock) = DataFolder::claim(data_dir)?;
    let files = DiskFiles::new(&folder.archive(), &folder.quarantine())
        .map_err(|e| StoreError::from_io(format!("opening {}", folder.archive().display()), &e))?;
    let files = Arc::new(files);
    let mut extras = Extras::default();
    if options.database {
        open_databases(&folder, options, &mut extras);
    }
    let copy = extras.copy.take();
    let (mut store, mut report) = ArchiveStore::open_locked(files, copy, Some(lock))?;
    if let Some(fault) = report.copy_faults.first().cloned() {
        report.copy_faults.clear();
        store.renew_copy(&mut report, || another_copy(&folder, options, fault, &mut extras));
    }
    report.moved = extras.report.moved;
    report.without_copy = extras.report.without_copy;
    report.without_checkpoints = extras.report.without_checkpoints;
    let checkpoints = extras.checkpoints.unwrap_or_else(|| Box::new(MemoryCheckpoints::default()));
    Ok(Opened { store, checkpoints, report })
}

/// What the databases add, and what opening them met with. They can never keep a store from opening.
#[derive(Default)]
struct Extras {
    copy: Option<Box<dyn ReadCopy>>,
    checkpoints: Option<Box<dyn CheckpointCache>>,
    report: OpenReport,
}

#[cfg(feature = "sled")]
fn open_databases(folder: &DataFolder, options: &Options, extras: &mut Extras) {
    use crate::sled_backend::{SledCheckpoints, SledReads};

    let quarantine = folder.quarantine();
    let moved = &mut extras.report.moved;
    match SledReads::open(&folder.reads(), &quarantine, options.cache_bytes, moved) {
        Ok(copy) => extras.copy = Some(Box::new(copy)),
        Err(why) => extras.report.without_copy = Some(why),
    }
    match SledCheckpoints::open(&folder.checkpoints(), &quarantine, options.cache_bytes, moved) {
        Ok(cache) => extras.checkpoints = Some(Box::new(cache)),
        Err(why) => extras.report.without_checkpoints = Some(why),
    }
}

/// A new read copy in place of one that turned out to be damaged, which is moved away, not deleted. There is none where
/// that fails as well: reads then come from the archives.
#[cfg(feature = "sled")]
fn another_copy(
    folder: &DataFolder,
    options: &Options,
    fault: String,
    extras: &mut Extras,
) -> Option<Box<dyn ReadCopy>> {
    use crate::sled_backend::SledReads;

    let moved = &mut extras.report.moved;
    let opened =
        SledReads::begin_anew(&folder.reads(), &folder.quarantine(), options.cache_bytes, fault, moved);
    match opened {
        Ok(copy) => Some(Box::new(copy)),
        Err(why) => {
            extras.report.without_copy = Some(why);
            None
        }
    }
}

#[cfg(not(feature = "sled"))]
fn another_copy(_: &DataFolder, _: &Options, _: String, _: &mut Extras) -> Option<Box<dyn ReadCopy>> {
    None
}

#[cfg(not(feature = "sled"))]
fn open_databases(_: &DataFolder, _: &Options, extras: &mut Extras) {
    let why = "this program was built without a database";
    extras.report.without_copy = Some(why.into());
    extras.report.without_checkpoints = Some(why.into());
}

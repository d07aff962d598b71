//! The data folder: its lock, its format mark, its places.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use crate::error::StoreError;
use crate::files::sync_folder;

/// The format of the data folder that this version writes, and the newest that it opens.
pub const DATA_FORMAT: u32 = 1;

const MARK: &str = "deadship-data ";

/// Held while a store is open: nobody else may use the folder.
#[derive(Debug)]
pub(crate) struct FolderLock {
    /// The lock goes with the open file.
    _file: File,
}

/// The places in a data folder.
#[derive(Debug, Clone)]
pub(crate) struct DataFolder {
    root: PathBuf,
}

impl DataFolder {
    /// Creates what is missing, takes the lock, checks the format.
    pub(crate) fn claim(root: &Path) -> Result<(Self, FolderLock), StoreError> {
        let failed = |what: &str, e: &io::Error| StoreError::from_io(format!("{what} {}", root.display()), e);
        fs::create_dir_all(root).map_err(|e| failed("creating the data folder", &e))?;
        let lock = lock(root)?;
        let folder = Self { root: root.to_owned() };
        match fs::read_to_string(folder.mark()) {
            Ok(text) => folder.check_mark(&text)?,
            Err(e) if e.kind() == io::ErrorKind::NotFound => {
                folder.write_mark().map_err(|e| failed("writing FORMAT in", &e))?;
            }
            Err(e) => return Err(failed("reading FORMAT in", &e)),
        }
        Ok((folder, lock))
    }

    /// Whether this is a data folder that this version reads. It may be in use.
    pub(crate) fn look(root: &Path) -> Result<(), StoreError> {
        let folder = Self { root: root.to_owned() };
        match fs::read_to_string(folder.mark()) {
            Ok(text) => folder.check_mark(&text),
            Err(e) if e.kind() == io::ErrorKind::NotFound => {
                let what =
                    "it has no file FORMAT; name the data folder of a deadship server with --data".to_owned();
                Err(StoreError::DataFolder { path: root.display().to_string(), what })
            }
            Err(e) => Err(StoreError::from_io(format!("reading FORMAT in {}", root.display()), &e)),
        }
    }

    /// Whether nobody has the folder open now.
    pub(crate) fn not_in_use(root: &Path) -> Result<(), StoreError> {
        if root.join("LOCK").is_file() { lock(root).map(|_| ()) } else { Ok(()) }
    }

    /// The archives: one file a stream.
    pub(crate) fn archive(&self) -> PathBuf {
        self.root.join("archive")
    }

    /// Whatever was moved out of the way.
    pub(crate) fn quarantine(&self) -> PathBuf {
        self.root.join("quarantine")
    }

    /// The read copy's database; disposable.
    #[cfg_attr(not(feature = "sled"), expect(dead_code, reason = "only a database needs it"))]
    pub(crate) fn reads(&self) -> PathBuf {
        self.root.join("reads")
    }

    /// The checkpoints' database; disposable.
    #[cfg_attr(not(feature = "sled"), expect(dead_code, reason = "only a database needs it"))]
    pub(crate) fn checkpoints(&self) -> PathBuf {
        self.root.join("checkpoints")
    }

    fn mark(&self) -> PathBuf {
        self.root.join("FORMAT")
    }

    fn check_mark(&self, text: &str) -> Result<(), StoreError> {
        let path = self.mark().display().to_string();
        let found = text.strip_prefix(MARK).and_then(|rest| rest.lines().next()?.trim().parse::<u32>().ok());
        match found {
            Some(found) if found > DATA_FORMAT => {
                let what = format!("the data folder {}", self.root.display());
                Err(StoreError::Newer { what, found, known: DATA_FORMAT })
            }
            Some(found) if found == DATA_FORMAT => Ok(()),
            _ => {
                let what = format!(
                    "this file ought to say \"{MARK}{DATA_FORMAT}\"; if the folder is a deadship data folder, write \
                     that line into it, else name another folder"
                );
                Err(StoreError::DataFolder { path, what })
            }
        }
    }

    /// Written beside and renamed, so that a crash leaves either no mark or a whole one.
    fn write_mark(&self) -> io::Result<()> {
        let beside = self.root.join("FORMAT.new");
        let mut file = File::create(&beside)?;
        writeln!(file, "{MARK}{DATA_FORMAT}")?;
        file.sync_all()?;
        fs::rename(&beside, self.mark())?;
        sync_folder(&self.root)?;
        sync_folder(self.root.parent().unwrap_or(Path::new("")))
    }
}

fn lock(root: &Path) -> Result<FolderLock, StoreError> {
    let path = root.join("LOCK");
    let failed = |e| StoreError::from_io(format!("locking {}", path.display()), &e);
    // The file's content means nothing and is never written.
    let file =
        OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&path).map_err(failed)?;
    match file.try_lock() {
        Ok(()) => Ok(FolderLock { _file: file }),
        Err(TryLockError::WouldBlock) => Err(StoreError::Locked { path: root.display().to_string() }),
        Err(TryLockError::Error(e)) => Err(failed(e)),
    }
}

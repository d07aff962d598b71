//! Writing archives anew, or away, while no server uses the data folder. Records are never changed otherwise: this is for
//! what people have a right to have removed.
//!
//! The copies that are made for reading go first: if they were left, the next start would take an archive that has become
//! shorter for one that has lost records, and keep what was to be removed. Each archive is written beside the others,
//! flushed, read again, and renamed; a crash leaves every one of them either as it was or as it is to be.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::archive::{ArchiveError, ArchiveFault, ArchiveReader, ArchiveWriter};
use crate::backup::archives_in;
use crate::data_folder::{DataFolder, FolderLock};
use crate::error::StoreError;
use crate::files::sync_folder;
use crate::types::{NewRecord, Record, StreamId};

/// Records that were or are to be written together.
pub type Append<R> = Vec<R>;

/// A data folder in which archives are being written anew. Nobody else may use it meanwhile.
#[derive(Debug)]
pub struct Rewriting {
    root: PathBuf,
    folder: DataFolder,
    copies_gone: bool,
    _lock: FolderLock,
}

impl Rewriting {
    /// Takes a data folder that is there and in nobody's use.
    pub fn begin(data: &Path) -> Result<Rewriting, StoreError> {
        DataFolder::look(data)?;
        let (folder, lock) = DataFolder::claim(data)?;
        let rewriting = Rewriting { root: data.to_owned(), folder, copies_gone: false, _lock: lock };
        // What a rewriting that was cut short has left.
        remove_all(&rewriting.beside())?;
        Ok(rewriting)
    }

    /// The archives, ascending.
    pub fn archives(&self) -> Result<Vec<PathBuf>, StoreError> {
        if self.folder.archive().is_dir() { archives_in(&self.root) } else { Ok(Vec::new()) }
    }

    /// Puts other records in the place of an archive's, with checksums and a chain of their own.
    pub fn replace(&mut self, stream: StreamId, appends: &[Append<NewRecord>]) -> Result<(), StoreError> {
        self.remove_copies()?;
        let beside = self.beside();
        fs::create_dir_all(&beside)
            .map_err(|e| StoreError::from_io(format!("creating {}", beside.display()), &e))?;
        replace(&self.archive_of(stream), &beside.join(format!("{stream}.jsonl")), stream, appends)
    }

    /// Removes an archive.
    pub fn remove(&mut self, stream: StreamId) -> Result<(), StoreError> {
        self.remove_copies()?;
        let path = self.archive_of(stream);
        let failed = |e| StoreError::from_io(format!("removing {}", path.display()), &e);
        fs::remove_file(&path).map_err(failed)?;
        sync_folder(&self.folder.archive()).map_err(failed)
    }

    /// The files that lie in quarantine.
    pub fn quarantined(&self) -> Result<Vec<PathBuf>, StoreError> {
        let mut found = Vec::new();
        gather(&self.folder.quarantine(), &mut found).map_err(|e| {
            StoreError::from_io(format!("listing {}", self.folder.quarantine().display()), &e)
        })?;
        found.sort();
        Ok(found)
    }

    fn archive_of(&self, stream: StreamId) -> PathBuf {
        self.folder.archive().join(format!("{stream}.jsonl"))
    }

    fn beside(&self) -> PathBuf {
        self.root.join("rewriting.part")
    }

    fn remove_copies(&mut self) -> Result<(), StoreError> {
        if !self.copies_gone {
            for copy in ["reads", "checkpoints"] {
                remove_all(&self.root.join(copy))?;
            }
            sync_folder(&self.root)
                .map_err(|e| StoreError::from_io(format!("flushing {}", self.root.display()), &e))?;
            self.copies_gone = true;
        }
        Ok(())
    }
}

impl Drop for Rewriting {
    fn drop(&mut self) {
        // What is left there is removed by the next rewriting as well.
        let _ = fs::remove_dir_all(self.beside());
    }
}

/// All whole appends of an archive file, with its stream. An unfinished end is left out: nobody was told that it is safe.
pub fn appends_of(file: &Path) -> Result<(StreamId, Vec<Append<Record>>), ArchiveError> {
    let mut reader = ArchiveReader::open(file)?;
    let mut appends = Vec::new();
    loop {
        match reader.next_append() {
            Ok(Some(append)) => appends.push(append),
            Ok(None) => return Ok((reader.stream(), appends)),
            Err(ArchiveError { fault: ArchiveFault::Torn { .. }, .. }) => {
                return Ok((reader.stream(), appends));
            }
            Err(error) => return Err(error),
        }
    }
}

/// As [`Rewriting::replace`], for an archive file outside of any data folder.
pub fn replace_archive(
    file: &Path,
    stream: StreamId,
    appends: &[Append<NewRecord>],
) -> Result<(), StoreError> {
    let mut beside = file.as_os_str().to_owned();
    beside.push(".part");
    replace(file, Path::new(&beside), stream, appends)
}

fn replace(
    file: &Path,
    beside: &Path,
    stream: StreamId,
    appends: &[Append<NewRecord>],
) -> Result<(), StoreError> {
    match fs::remove_file(beside) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => {
            return Err(StoreError::from_io(format!("removing {}", beside.display()), &e));
        }
        _ => {}
    }
    let written = write(beside, stream, appends).and_then(|()| {
        let failed = |e| StoreError::from_io(format!("replacing {}", file.display()), &e);
        fs::rename(beside, file).map_err(failed)?;
        sync_folder(file.parent().unwrap_or(Path::new(""))).map_err(failed)
    });
    if written.is_err() {
        let _ = fs::remove_file(beside);
    }
    written
}

/// Writes, flushes, and reads again.
fn write(path: &Path, stream: StreamId, appends: &[Append<NewRecord>]) -> Result<(), StoreError> {
    let mut writer = ArchiveWriter::create(path, stream)?;
    for append in appends {
        writer.append(append)?;
    }
    let head = writer.finish()?;
    let (_, read) = appends_of(path).map_err(|error| misread(path, &error.to_string()))?;
    let last = read.last().and_then(|append| append.last());
    if last.map(|last| (last.seq, last.chain)) == head.map(|head| (head.seq, head.chain)) {
        return Ok(());
    }
    Err(misread(path, "its end is another"))
}

fn misread(path: &Path, why: &str) -> StoreError {
    let message = format!("what was written does not read back as it was: {why}");
    StoreError::Io { doing: format!("writing {}", path.display()), message }
}

fn gather(folder: &Path, found: &mut Vec<PathBuf>) -> io::Result<()> {
    let entries = match fs::read_dir(folder) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(()),
        entries => entries?,
    };
    for entry in entries {
        let entry = entry?;
        if entry.file_type()?.is_dir() {
            gather(&entry.path(), found)?;
        } else {
            found.push(entry.path());
        }
    }
    Ok(())
}

fn remove_all(folder: &Path) -> Result<(), StoreError> {
    match fs::remove_dir_all(folder) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => {
            Err(StoreError::from_io(format!("removing {}", folder.display()), &e))
        }
        _ => Ok(()),
    }
}

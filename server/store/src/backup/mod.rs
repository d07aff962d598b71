//! Backups of a data folder: the whole appends of every archive, with a list of where each ends.
//!
//! Archives only ever grow at their end, so a backup can be made while a server writes them: of each run it holds what
//! was whole when it was read, and what is being written is left for the next backup. A backup is a folder:
//!
//! ```text
//! <backup>/LIST       format, then a line a run: id, last record, chain hash, bytes; a line a file beside them: name,
//!                     bytes, hash; a checksum at the end
//! <backup>/archive/   <stream>.jsonl, as in a data folder
//! <backup>/…/         other files, as in a data folder
//! ```
//!
//! It is written beside its place under another name, flushed, read again and compared, and only then renamed: a
//! folder with a backup's name is a whole backup.

mod list;
mod others;
mod restore;

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::archive::{ArchiveError, ArchiveFault, ArchiveReader, ArchiveWriter};
use crate::data_folder::DataFolder;
use crate::error::StoreError;
use crate::files::sync_folder;
use crate::types::{Head, StreamId};

pub use list::{BACKUP_FORMAT, LIST};
pub use others::check_others;
pub use restore::restore;

/// One archive file, read to its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checked {
    /// The file.
    pub file: PathBuf,
    /// Its stream, if the first line names one.
    pub stream: Option<StreamId>,
    /// End of its whole appends.
    pub head: Option<Head>,
    /// Bytes up to there.
    pub bytes: u64,
    /// What is wrong behind that.
    pub flaw: Option<ArchiveError>,
}

impl Checked {
    /// Records in whole appends.
    pub fn records(&self) -> u64 {
        self.head.map_or(0, |head| head.seq)
    }

    /// The end is unfinished and nothing else is wrong: a server is writing it, or was ended while it did. The next
    /// start cuts it off; nobody was told that it is safe.
    pub fn is_torn(&self) -> bool {
        matches!(&self.flaw, Some(ArchiveError { fault: ArchiveFault::Torn { .. }, .. }))
    }

    /// Something is wrong that no crash explains.
    pub fn is_damaged(&self) -> bool {
        self.flaw.is_some() && !self.is_torn()
    }
}

/// Reads every record of an archive file: checksums, chain, order, whole appends.
pub fn check(file: &Path) -> Checked {
    read_through(file, |_| Ok(())).unwrap_or_else(|_: StoreError| unread(file))
}

/// The archive files in the `archive` folder of a data folder or a backup, ascending.
pub fn archives_in(folder: &Path) -> Result<Vec<PathBuf>, StoreError> {
    let place = folder.join("archive");
    let failed = |e: &io::Error| StoreError::from_io(format!("listing {}", place.display()), e);
    let mut files = Vec::new();
    for entry in fs::read_dir(&place).map_err(|e| failed(&e))? {
        let path = entry.map_err(|e| failed(&e))?.path();
        if stream_of(&path).is_some() {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

/// Checks the archives of a backup: every file, and that each ends where the list says.
pub fn check_backup(folder: &Path) -> Result<Vec<Checked>, StoreError> {
    let mut listed = list::read(folder)?.ends;
    let mut checked = Vec::new();
    for file in archives_in(folder)? {
        let mut found = check(&file);
        let wanted = found.stream.and_then(|stream| listed.remove(&stream));
        if found.flaw.is_none() && wanted != found.head {
            let wanted = wanted.map_or_else(|| "nothing".to_owned(), |head| head.to_string());
            let what = format!("the list of the backup says that it ends at {wanted}");
            let fault = ArchiveFault::Damaged { what };
            let (file, seq) = (file.display().to_string(), found.records() + 1);
            found.flaw = Some(ArchiveError { file, line: seq + 1, seq, fault });
        }
        checked.push(found);
    }
    match listed.keys().next() {
        Some(stream) => {
            Err(refused(folder, &format!("the list names run {stream}, and its file is missing")))
        }
        None => Ok(checked),
    }
}

/// Is this folder a backup?
pub fn is_backup(folder: &Path) -> bool {
    folder.join(LIST).is_file()
}

/// Backs a data folder up into a folder that does not exist yet; a server may use the data folder meanwhile. `first`
/// is copied before the others: the stream that names them. `others` are files beside the archives, as `folder/file`,
/// which are copied for their owner alone if they are there.
///
/// A damaged archive is copied up to the damage, and said in what is returned.
pub fn back_up(
    data: &Path,
    backup: &Path,
    first: StreamId,
    others: &[&str],
) -> Result<Vec<Checked>, StoreError> {
    DataFolder::look(data)?;
    let (parent, name) = place_of(backup)?;
    if fs::symlink_metadata(backup).is_ok() {
        return Err(refused(backup, "it exists already; name a folder that does not"));
    }
    let beside = parent.join(format!("{name}.part"));
    // What a backup that was cut short has left.
    remove_all(&beside)?;
    let made = make(data, &beside, first, others).and_then(|checked| {
        let failed =
            |e: &io::Error| StoreError::from_io(format!("naming the backup {}", backup.display()), e);
        fs::rename(&beside, backup).map_err(|e| failed(&e))?;
        sync_folder(&parent).map_err(|e| failed(&e))?;
        Ok(checked)
    });
    if made.is_err() {
        // No half backup stays behind; should this fail, its name says that it is none.
        let _ = fs::remove_dir_all(&beside);
    }
    made
}

fn make(data: &Path, to: &Path, first: StreamId, others: &[&str]) -> Result<Vec<Checked>, StoreError> {
    let archive = to.join("archive");
    fs::create_dir_all(&archive)
        .map_err(|e| StoreError::from_io(format!("creating {}", archive.display()), &e))?;
    // The list of runs after the stream that names them: every run that it names has its file by then.
    let first = data.join("archive").join(format!("{first}.jsonl"));
    let mut checked = Vec::new();
    if first.is_file() {
        checked.push(copy(&first, &archive)?);
    }
    for file in archives_in(data)? {
        if file != first {
            checked.push(copy(&file, &archive)?);
        }
    }
    let others = others::copy(data, to, others)?;
    list::write(to, &checked, &others)?;
    sync_all(to, &archive)?;
    prove(to, &checked)?;
    Ok(checked)
}

fn sync_all(to: &Path, archive: &Path) -> Result<(), StoreError> {
    let synced = sync_folder(archive).and_then(|()| sync_folder(to));
    synced.map_err(|e| StoreError::from_io(format!("flushing {}", to.display()), &e))
}

/// Reads what was written again.
fn prove(to: &Path, copied: &[Checked]) -> Result<(), StoreError> {
    let found = check_backup(to)?;
    let whole =
        found.iter().all(|file| file.flaw.is_none()) && check_others(to)?.iter().all(|(_, whole)| *whole);
    let there = copied.iter().filter(|file| file.head.is_some()).count();
    if whole && found.len() == there {
        return Ok(());
    }
    Err(refused(to, "what was written does not read back as it was; see to that disk, and use another"))
}

/// Copies the whole appends of an archive into a folder. A file without one gives no file.
fn copy(file: &Path, folder: &Path) -> Result<Checked, StoreError> {
    let mut writer: Option<ArchiveWriter> = None;
    let checked = read_through(file, |append| {
        for (stream, record) in append {
            let into = match &mut writer {
                Some(writer) => writer,
                None => {
                    let path = folder.join(format!("{stream}.jsonl"));
                    writer.insert(ArchiveWriter::create(&path, *stream)?)
                }
            };
            into.copy(record)?;
        }
        Ok(())
    })?;
    if let Some(writer) = writer {
        writer.finish()?;
    }
    // A file that cannot be read is no backup of anything: that is not a matter of this one run alone.
    match &checked.flaw {
        Some(ArchiveError { fault: ArchiveFault::Io(message), .. }) => {
            let (doing, message) = (format!("reading {}", file.display()), message.clone());
            Err(StoreError::Io { doing, message })
        }
        _ => Ok(checked),
    }
}

type Numbered = (StreamId, crate::types::Record);

/// Reads a file append by append up to its end or the first flaw. Only what `each` says is an error.
fn read_through(
    file: &Path,
    mut each: impl FnMut(&[Numbered]) -> Result<(), StoreError>,
) -> Result<Checked, StoreError> {
    let mut checked = unread(file);
    let mut reader = match ArchiveReader::open(file) {
        Ok(reader) => reader,
        Err(flaw) => {
            checked.flaw = Some(flaw);
            return Ok(checked);
        }
    };
    let stream = reader.stream();
    checked.stream = Some(stream);
    if stream_of(file).is_some_and(|named| named != stream) {
        let what = format!("the first line names run {stream}, the file's name another");
        let fault = ArchiveFault::Damaged { what };
        checked.flaw = Some(ArchiveError { file: file.display().to_string(), line: 1, seq: 1, fault });
        return Ok(checked);
    }
    loop {
        match reader.next_append() {
            Ok(Some(records)) => {
                let numbered: Vec<Numbered> = records.into_iter().map(|record| (stream, record)).collect();
                each(&numbered)?;
                (checked.head, checked.bytes) = (reader.head(), reader.whole_bytes());
            }
            Ok(None) => return Ok(checked),
            Err(flaw) => {
                checked.flaw = Some(flaw);
                return Ok(checked);
            }
        }
    }
}

fn unread(file: &Path) -> Checked {
    Checked { file: file.to_owned(), stream: None, head: None, bytes: 0, flaw: None }
}

/// The stream that an archive file's name means.
fn stream_of(path: &Path) -> Option<StreamId> {
    let name = path.file_name()?.to_str()?;
    let stream: StreamId = name.strip_suffix(".jsonl")?.parse().ok()?;
    (format!("{stream}.jsonl") == name).then_some(stream)
}

fn place_of(path: &Path) -> Result<(PathBuf, String), StoreError> {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned());
    let name =
        name.ok_or_else(|| refused(path, "it is no name for a folder; name one that does not exist"))?;
    let parent = path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    if !parent.is_dir() {
        return Err(refused(path, "the folder that it should be made in does not exist; make that first"));
    }
    Ok((parent.to_owned(), name))
}

fn remove_all(folder: &Path) -> Result<(), StoreError> {
    match fs::remove_dir_all(folder) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => {
            Err(StoreError::from_io(format!("removing {}", folder.display()), &e))
        }
        _ => Ok(()),
    }
}

fn refused(path: &Path, what: &str) -> StoreError {
    StoreError::Backup { path: path.display().to_string(), what: what.to_owned() }
}

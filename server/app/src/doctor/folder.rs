//! The data folder and the disk beneath it.

use super::Check;
use deadship_store::archive::{ArchiveError, ArchiveFault, ArchiveReader};
use deadship_store::{
    ArchiveStore, DATA_FORMAT, EventStore, Expected, NewRecord, Options, StoreError, StreamId,
};
use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use uuid::Uuid;

/// Archives are read for so long; what remains is verified when the server starts.
const READING: Duration = Duration::from_secs(3);

/// Appends that are timed, and for how long at most.
const APPENDS: usize = 100;
const APPENDING: Duration = Duration::from_secs(2);

/// Bytes of a usual record.
const RECORD: usize = 400;

/// A team of an afternoon writes a few megabytes: below the first a class may not get through, below the second look.
const SPACE_BAD: u64 = 200 << 20;
const SPACE_LOOK: u64 = 2 << 30;

/// Waits for the disk that people notice, and that make the server useless.
const SLOW: Duration = Duration::from_millis(100);
const TOO_SLOW: Duration = Duration::from_secs(1);

/// All checks of the folder.
pub(super) fn checks(data: &Path) -> Vec<Check> {
    let existing = nearest(data);
    let mut checks = vec![there(data, &existing)];
    if data.is_dir() {
        checks.push(whole(data));
    }
    checks.extend(space(&existing));
    checks.push(disk(&existing));
    checks
}

/// The folder, or the nearest above it that exists.
fn nearest(data: &Path) -> PathBuf {
    let absolute = std::path::absolute(data).unwrap_or_else(|_| data.to_owned());
    absolute.ancestors().find(|folder| folder.exists()).map_or(absolute.clone(), Path::to_owned)
}

/// Is it there, may it be written, and does this version read it?
fn there(data: &Path, existing: &Path) -> Check {
    const NAME: &str = "folder";
    let shown = data.display();
    if !existing.is_dir() {
        return Check::bad(NAME, format!("{} is no folder", existing.display()), "name another with --data");
    }
    if let Err(error) = tempfile::tempfile_in(existing) {
        let found = format!("{} cannot be written: {error}", existing.display());
        return Check::bad(NAME, found, "give this user the right to write it, or name another with --data");
    }
    if !data.is_dir() {
        return Check::ok(NAME, format!("{shown} will be made at the first start"));
    }
    match fs::read_to_string(data.join("FORMAT")) {
        Ok(text) => match text.trim().strip_prefix("deadship-data ").and_then(|n| n.parse::<u32>().ok()) {
            Some(format) if format <= DATA_FORMAT => {
                let used = if is_locked(data) { ", a server uses it now" } else { "" };
                Check::ok(NAME, format!("{shown} can be written, format {format}{used}"))
            }
            Some(format) => {
                let found = format!("{shown} has format {format}, this version reads up to {DATA_FORMAT}");
                Check::bad(NAME, found, "use a newer deadship")
            }
            None => {
                Check::bad(NAME, format!("{shown}/FORMAT is not a mark of deadship"), "name another folder")
            }
        },
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            let foreign = fs::read_dir(data).is_ok_and(|mut entries| entries.next().is_some());
            match foreign {
                false => Check::ok(NAME, format!("{shown} is empty and can be written")),
                true => {
                    Check::look(NAME, format!("{shown} holds files of others"), "name a folder of its own")
                }
            }
        }
        Err(error) => {
            Check::bad(NAME, format!("{shown}/FORMAT cannot be read: {error}"), "see to its rights")
        }
    }
}

fn is_locked(data: &Path) -> bool {
    let Ok(file) = File::open(data.join("LOCK")) else { return false };
    matches!(file.try_lock(), Err(TryLockError::WouldBlock))
}

/// Are the archives whole? Only looks.
fn whole(data: &Path) -> Check {
    const NAME: &str = "archives";
    let (began, archive) = (Instant::now(), data.join("archive"));
    let Ok(entries) = fs::read_dir(&archive) else { return Check::ok(NAME, "none yet") };
    let mut files: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    files.retain(|path| path.extension().is_some_and(|end| end == "jsonl"));
    files.sort();
    let (mut read, mut records, mut torn) = (0, 0_u64, 0);
    for file in &files {
        if began.elapsed() > READING {
            break;
        }
        match records_of(file) {
            Ok(count) => records += count,
            // While a server writes, the end is always on its way; else the next start cuts it off.
            Err(ArchiveError { fault: ArchiveFault::Torn { .. }, .. }) => torn += 1,
            Err(error) => {
                let found = format!("{} line {}: {}", error.file, error.line, error.fault);
                return Check::bad(NAME, found, "bring this file back from a copy");
            }
        }
        read += 1;
    }
    let found = format!("{read} of {} read, {records} records, whole", files.len());
    match torn {
        0 => Check::ok(NAME, found),
        _ if is_locked(data) => Check::ok(NAME, format!("{found}, {torn} being written")),
        _ => {
            let to_do =
                "nothing that was acknowledged is lost: the next start cuts them off and keeps the bytes";
            Check::look(NAME, format!("{found}, {torn} with an unfinished end"), to_do)
        }
    }
}

fn records_of(file: &Path) -> Result<u64, ArchiveError> {
    let mut reader = ArchiveReader::open(file)?;
    let mut records = 0;
    while let Some(append) = reader.next_append()? {
        records += append.len() as u64;
    }
    Ok(records)
}

/// Free space, where the system tells it.
fn space(existing: &Path) -> Option<Check> {
    const NAME: &str = "space";
    let free = free_bytes(existing)?;
    let found = format!("{:.1} GiB free", free as f64 / f64::from(1 << 30));
    let to_do = "make room, or name a folder on another disk with --data";
    Some(match free {
        ..SPACE_BAD => Check::bad(NAME, found, to_do),
        SPACE_BAD..SPACE_LOOK => Check::look(NAME, found, to_do),
        _ => Check::ok(NAME, found),
    })
}

#[cfg(unix)]
fn free_bytes(folder: &Path) -> Option<u64> {
    let found = rustix::fs::statvfs(folder).ok()?;
    Some(found.f_bavail.saturating_mul(found.f_frsize))
}

#[cfg(not(unix))]
fn free_bytes(_: &Path) -> Option<u64> {
    None
}

/// How long an order waits for this disk.
fn disk(existing: &Path) -> Check {
    const NAME: &str = "disk";
    let times = match time_appends(existing) {
        Ok(times) => times,
        Err(error) => {
            return Check::bad(NAME, format!("it cannot be written: {error}"), "see to the data folder");
        }
    };
    let (median, slow) = (times[times.len() / 2], times[times.len() * 95 / 100]);
    let ms = |time: Duration| time.as_secs_f64() * 1e3;
    let found = format!(
        "an event is safe on it after {:.1} ms, one in twenty after {:.1} ms or more ({} tried)",
        ms(median),
        ms(slow),
        times.len()
    );
    if slow > TOO_SLOW {
        Check::bad(NAME, found, "every order waits for it: use another disk, not a share on the network")
    } else if slow > SLOW {
        Check::look(NAME, found, "people notice 100 ms: an SSD of this machine is quicker")
    } else {
        Check::ok(NAME, found)
    }
}

/// Times of durable appends in a folder beside the data, sorted; at least one.
fn time_appends(existing: &Path) -> Result<Vec<Duration>, StoreError> {
    let failed = |error: io::Error| StoreError::from_io("making a folder for a trial", &error);
    let folder = tempfile::Builder::new().prefix(".doctor-").tempdir_in(existing).map_err(failed)?;
    let options = Options { database: false, ..Options::default() };
    let store: ArchiveStore = deadship_store::open(folder.path(), &options)?.store;
    let (stream, began) = (StreamId::random(), Instant::now());
    let mut times = Vec::with_capacity(APPENDS);
    while times.is_empty() || (times.len() < APPENDS && began.elapsed() < APPENDING) {
        let payload = format!("\"{}\"", "x".repeat(RECORD));
        let record = NewRecord { event_id: Uuid::new_v4(), payload };
        let start = Instant::now();
        store.append(stream, Expected::Exact(times.len() as u64), &[record])?;
        times.push(start.elapsed());
    }
    times.sort();
    Ok(times)
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::*;

    #[test]
    fn a_folder_that_is_fit_is_ok_and_nothing_is_left_in_it() {
        let folder = tempfile::tempdir().unwrap();
        let data = folder.path().join("new");
        assert!(checks(&data).iter().all(|check| check.verdict != Verdict::Bad));
        drop(deadship_store::open(&data, &Options { database: false, ..Options::default() }).unwrap());
        let before = fs::read_dir(&data).unwrap().count();
        assert!(checks(&data)[0].found.contains("format 1"));
        assert_eq!(fs::read_dir(&data).unwrap().count(), before);
    }

    #[test]
    fn what_is_wrong_is_found() {
        let folder = tempfile::tempdir().unwrap();
        let verdict = |data: &Path| there(data, &nearest(data)).verdict;
        fs::write(folder.path().join("FORMAT"), "deadship-data 99\n").unwrap();
        assert_eq!(verdict(folder.path()), Verdict::Bad);
        fs::write(folder.path().join("FORMAT"), "something else").unwrap();
        assert_eq!(verdict(folder.path()), Verdict::Bad);
        assert_eq!(verdict(&folder.path().join("FORMAT/below")), Verdict::Bad);
        let foreign = tempfile::tempdir().unwrap();
        fs::write(foreign.path().join("letter.txt"), "").unwrap();
        assert_eq!(verdict(foreign.path()), Verdict::Look);
    }

    #[test]
    fn a_damaged_archive_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let options = Options { database: false, ..Options::default() };
        let stream = StreamId::random();
        {
            let store = deadship_store::open(folder.path(), &options).unwrap().store;
            for seq in 0..3 {
                let record = NewRecord { event_id: Uuid::new_v4(), payload: "\"something\"".to_owned() };
                store.append(stream, Expected::Exact(seq), &[record]).unwrap();
            }
        }
        assert!(whole(folder.path()).found.contains("3 records"));
        let file = folder.path().join(format!("archive/{stream}.jsonl"));
        let text = fs::read_to_string(&file).unwrap().replacen("something", "somethink", 1);
        fs::write(&file, text).unwrap();
        let check = whole(folder.path());
        assert_eq!(check.verdict, Verdict::Bad);
        assert!(check.found.contains("line 2"), "{}", check.found);
    }
}

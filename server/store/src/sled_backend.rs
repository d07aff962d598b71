//! The embedded database: a copy of the archives for reads, and checkpoints.
//!
//! This is the only file that knows the database. Its makers call it beta, and on Linux its flush does not
//! wait for the disk, so nothing that matters rests on it: records are durable in the archives before they
//! come here, every record read is verified, and every error or panic is turned into "ask the archive". The
//! background flusher is on, because it also cleans the database's segments, and is never relied on.
//!
//! Keys: stream (16 bytes) ‖ sequence number (8 bytes, big-endian); the value is the record's archive line.
//! Sequence numbers begin at 1, so number 0 holds the stream's end. Checkpoints: stream ‖ tick; CRC-32 ‖
//! bytes.

use std::fmt;
use std::fs;
use std::ops::{Bound, RangeInclusive};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::mpsc;
use std::thread;
use std::time::Duration;

use uuid::Uuid;

use crate::archive::line;
use crate::archive_store::Moved;
use crate::chain::ChainHash;
use crate::checkpoints::CheckpointCache;
use crate::files::{free_name, sync_folder};
use crate::read_copy::ReadCopy;
use crate::types::{Head, Record, StreamId};

/// How often the background flusher runs.
const FLUSH_EVERY_MS: u64 = 1000;
/// How often, and after which pause, to try again while a database that was just closed holds its lock.
const UNLOCK_TRIES: u32 = 250;
const UNLOCK_PAUSE: Duration = Duration::from_millis(20);
/// How long opening may take. A sound database of years opens within seconds; it is only a copy.
const OPEN_LIMIT: Duration = Duration::from_secs(30);
/// Keys removed in one batch.
const PORTION: usize = 1024;

type Key = [u8; 24];

fn key(stream: StreamId, number: u64) -> Key {
    let mut key = [0; 24];
    key[..16].copy_from_slice(stream.0.as_bytes());
    key[16..].copy_from_slice(&number.to_be_bytes());
    key
}

fn all_of(stream: StreamId) -> RangeInclusive<Key> {
    key(stream, 0)..=key(stream, u64::MAX)
}

fn key_parts(key: &[u8]) -> Option<(StreamId, u64)> {
    let stream = Uuid::from_slice(key.get(..16)?).ok()?;
    Some((StreamId(stream), u64::from_be_bytes(key.get(16..)?.try_into().ok()?)))
}

/// Errors and panics of the database, in words. It does panic on damaged files instead of returning an error.
fn guarded<T>(work: impl FnOnce() -> Result<T, sled::Error>) -> Result<T, String> {
    match catch_unwind(AssertUnwindSafe(work)) {
        Ok(result) => result.map_err(|e| format!("the database says: {e}")),
        Err(panic) => {
            let text = panic.downcast_ref::<&str>().map(ToString::to_string);
            let text = text.or_else(|| panic.downcast_ref::<String>().cloned()).unwrap_or_default();
            Err(format!("the database broke off: {text}"))
        }
    }
}

/// What opens a database; tests put another in its place.
type Opener = fn(&Path, u64) -> Result<sled::Db, String>;

/// The one place where a database is opened.
fn open_sled(folder: &Path, cache_bytes: u64) -> Result<sled::Db, String> {
    guarded(|| {
        sled::Config::new()
            .path(folder)
            .cache_capacity(cache_bytes)
            .mode(sled::Mode::LowSpace)
            .flush_every_ms(Some(FLUSH_EVERY_MS))
            .open()
    })
}

/// How a database is opened, and how long that may take.
#[derive(Clone, Copy)]
struct Opening {
    opener: Opener,
    limit: Duration,
}

impl Opening {
    const USUAL: Self = Self { opener: open_sled, limit: OPEN_LIMIT };

    /// Opens, but not for ever: on some damage the call has been seen not to return. A thread cannot be ended from
    /// outside, so one that hangs goes on until the program ends, on files that nobody else uses any more; should it
    /// come to an end after all, what it opened is closed at once. Running out of time is one more error.
    fn open(self, folder: &Path, cache_bytes: u64) -> Result<sled::Db, String> {
        let (tell, told) = mpsc::channel();
        let (path, opener) = (folder.to_owned(), self.opener);
        let work = move || {
            let _ = tell.send(opener(&path, cache_bytes));
        };
        let thread = thread::Builder::new().name("open-database".to_owned()).spawn(work);
        thread.map_err(|e| format!("the system gives no thread to open it in: {e}"))?;
        told.recv_timeout(self.limit)
            .unwrap_or_else(|_| Err(format!("it had not opened after {} s", self.limit.as_secs_f64())))
    }
}

/// The database has no error kind of its own for this.
fn is_locked(reason: &str) -> bool {
    reason.contains("could not acquire lock")
}

/// Opens a database; one that does not open is moved to quarantine, never deleted, and an empty one takes its
/// place.
fn open_or_move(
    opening: Opening,
    folder: &Path,
    quarantine: &Path,
    cache_bytes: u64,
    moved: &mut Vec<Moved>,
) -> Result<sled::Db, String> {
    let mut opened = opening.open(folder, cache_bytes);
    for _ in 0..UNLOCK_TRIES {
        // Nobody else is in the data folder, so its lock can only be held by our own last database, whose
        // threads are still ending. Moving its files away under it would be wrong.
        if !opened.as_ref().is_err_and(|why| is_locked(why)) {
            break;
        }
        thread::sleep(UNLOCK_PAUSE);
        opened = opening.open(folder, cache_bytes);
    }
    let reason = match opened {
        Err(reason) if !is_locked(&reason) => reason,
        opened_or_locked => return opened_or_locked,
    };
    move_away(folder, quarantine, reason, moved)?;
    open_new(opening, folder, cache_bytes)
}

fn move_away(folder: &Path, quarantine: &Path, reason: String, moved: &mut Vec<Moved>) -> Result<(), String> {
    let what = folder.display().to_string();
    let failed = |e| format!("{what} is of no use ({reason}) and could not be moved away: {e}");
    fs::create_dir_all(quarantine).map_err(failed)?;
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    let to = free_name(quarantine, &name);
    fs::rename(folder, &to).map_err(failed)?;
    sync_folder(quarantine).map_err(failed)?;
    moved.push(Moved { what: what.clone(), reason, to: to.display().to_string() });
    Ok(())
}

fn open_new(opening: Opening, folder: &Path, cache_bytes: u64) -> Result<sled::Db, String> {
    let failed = |why| format!("a new {} could not be opened either: {why}", folder.display());
    opening.open(folder, cache_bytes).map_err(failed)
}

fn remove_all(db: &sled::Db, stream: StreamId) -> Result<(), sled::Error> {
    remove(db, all_of(stream))?;
    db.flush().map(|_| ())
}

/// Removes keys in their order. A database that was cut off while it wrote has been seen to show keys that it neither
/// finds nor lets go of: that is an error, not a reason to try for ever.
fn remove(db: &sled::Db, keys: RangeInclusive<Key>) -> Result<(), sled::Error> {
    let damaged = || sled::Error::ReportableBug("it shows keys that it does not let go of".into());
    let (first, last) = keys.clone().into_inner();
    let mut after = Bound::Included(sled::IVec::from(&first));
    loop {
        let mut batch = sled::Batch::default();
        let mut end = None;
        for key in db.range((after.clone(), Bound::Included(sled::IVec::from(&last)))).keys().take(PORTION) {
            let key = key?;
            if end.as_ref().is_some_and(|end| *end >= key) {
                return Err(damaged());
            }
            batch.remove(&key);
            end = Some(key);
        }
        let Some(end) = end else { break };
        db.apply_batch(batch)?;
        after = Bound::Excluded(end);
    }
    if db.range(keys).next().is_some() { Err(damaged()) } else { Ok(()) }
}

/// The read copy in a database of its own.
pub struct SledReads {
    db: sled::Db,
}

impl fmt::Debug for SledReads {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // The database's own form prints everything in it.
        f.write_str("SledReads")
    }
}

impl SledReads {
    /// Opens it; a folder that does not open is moved to `quarantine`, noted in `moved`, and begun anew.
    pub fn open(
        folder: &Path,
        quarantine: &Path,
        cache_bytes: u64,
        moved: &mut Vec<Moved>,
    ) -> Result<Self, String> {
        Ok(Self { db: open_or_move(Opening::USUAL, folder, quarantine, cache_bytes, moved)? })
    }

    /// Moves one away that opened and then showed that it is damaged, for that `reason`, and begins a new one.
    pub fn begin_anew(
        folder: &Path,
        quarantine: &Path,
        cache_bytes: u64,
        reason: String,
        moved: &mut Vec<Moved>,
    ) -> Result<Self, String> {
        move_away(folder, quarantine, reason, moved)?;
        Ok(Self { db: open_new(Opening::USUAL, folder, cache_bytes)? })
    }
}

impl ReadCopy for SledReads {
    fn feed(&self, stream: StreamId, records: &[Record], head: Head) -> Result<(), String> {
        guarded(|| {
            let mut batch = sled::Batch::default();
            for record in records {
                let mut value = Vec::with_capacity(record.payload.len() + 192);
                line::encode(&mut value, record);
                batch.insert(&key(stream, record.seq), value);
            }
            let end = [head.seq.to_be_bytes().as_slice(), &head.chain.0].concat();
            batch.insert(&key(stream, 0), end);
            self.db.apply_batch(batch)
        })
    }

    fn read(&self, stream: StreamId, from: u64, to: u64) -> Result<Vec<Record>, String> {
        let lines = guarded(|| {
            let range = self.db.range(key(stream, from)..=key(stream, to));
            // One more than can be there: damage must not make it endless.
            let most = usize::try_from(to.saturating_sub(from)).unwrap_or(usize::MAX).saturating_add(2);
            range.values().take(most).collect::<Result<Vec<_>, _>>()
        })?;
        let decode = |bytes: &sled::IVec| {
            line::decode(stream, bytes.strip_suffix(b"\n").unwrap_or(bytes)).map_err(str::to_owned)
        };
        lines.iter().map(decode).collect()
    }

    fn head(&self, stream: StreamId) -> Result<Option<Head>, String> {
        let Some(value) = guarded(|| self.db.get(key(stream, 0)))? else { return Ok(None) };
        let (seq, chain) = value.split_at_checked(8).ok_or("the end of a run is cut short")?;
        let seq = u64::from_be_bytes(seq.try_into().map_err(|_| "the end of a run is cut short")?);
        let chain = chain.try_into().map_err(|_| "the end of a run has the wrong length")?;
        Ok(Some(Head { seq, chain: ChainHash(chain) }))
    }

    fn streams(&self) -> Result<Vec<StreamId>, String> {
        let mut streams = Vec::new();
        let mut next = guarded(|| self.db.first())?;
        while let Some((at, _)) = next {
            let (stream, _) = key_parts(&at).ok_or("a key is not one of ours")?;
            if streams.last().is_some_and(|last: &StreamId| last.0 >= stream.0) {
                return Err("its keys are out of order".into());
            }
            streams.push(stream);
            next = guarded(|| self.db.get_gt(key(stream, u64::MAX)))?;
        }
        Ok(streams)
    }

    fn distrust(&self, stream: StreamId) -> Result<(), String> {
        guarded(|| self.db.remove(key(stream, 0)).map(|_| ()))
    }

    fn forget(&self, stream: StreamId) -> Result<(), String> {
        guarded(|| remove_all(&self.db, stream))
    }
}

/// Checkpoints in a database of their own, which may be deleted at any time while no server runs.
pub struct SledCheckpoints {
    db: sled::Db,
}

impl fmt::Debug for SledCheckpoints {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("SledCheckpoints")
    }
}

impl SledCheckpoints {
    /// Opens them; a folder that does not open is moved to `quarantine`, noted in `moved`, and begun anew.
    pub fn open(
        folder: &Path,
        quarantine: &Path,
        cache_bytes: u64,
        moved: &mut Vec<Moved>,
    ) -> Result<Self, String> {
        Ok(Self { db: open_or_move(Opening::USUAL, folder, quarantine, cache_bytes, moved)? })
    }
}

impl CheckpointCache for SledCheckpoints {
    fn put(&self, stream: StreamId, tick: u64, bytes: &[u8]) {
        let value = [crc32fast::hash(bytes).to_be_bytes().as_slice(), bytes].concat();
        // A checkpoint that could not be kept is a checkpoint that is not there.
        let _ = guarded(|| self.db.insert(key(stream, tick), value).map(|_| ()));
    }

    fn latest_at_or_before(&self, stream: StreamId, tick: u64) -> Option<(u64, Vec<u8>)> {
        guarded(|| {
            for entry in self.db.range(key(stream, 0)..=key(stream, tick)).rev() {
                let (key, value) = entry?;
                // A damaged one is passed over for the one before it.
                if let Some(found) = checkpoint(&key, &value) {
                    return Ok(Some(found));
                }
            }
            Ok(None)
        })
        .ok()
        .flatten()
    }

    fn forget_before(&self, stream: StreamId, tick: u64) {
        if let Some(last) = tick.checked_sub(1) {
            let _ = guarded(|| remove(&self.db, key(stream, 0)..=key(stream, last)));
        }
    }

    fn forget(&self, stream: StreamId) {
        let _ = guarded(|| remove_all(&self.db, stream));
    }
}

fn checkpoint(key: &[u8], value: &[u8]) -> Option<(u64, Vec<u8>)> {
    let (_, tick) = key_parts(key)?;
    let (crc, bytes) = value.split_at_checked(4)?;
    (crc == crc32fast::hash(bytes).to_be_bytes()).then(|| (tick, bytes.to_vec()))
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::archive_store::{ArchiveStore, Refed};
    use crate::conformance::records;
    use crate::files::{DiskFiles, FileLayer};
    use crate::store::EventStore;
    use crate::types::Expected;

    #[test]
    fn a_panic_of_the_database_becomes_an_error() {
        let broken = guarded::<()>(|| panic!("page {} is uninitialized", 7));
        assert_eq!(broken, Err("the database broke off: page 7 is uninitialized".into()));
        let broken = guarded::<()>(|| Err(sled::Error::ReportableBug("so".into())));
        assert!(broken.is_err_and(|why| why.starts_with("the database says: ")));
    }

    /// Hangs on a folder with a file `hang` in it, as the database does on some damage.
    fn hanging(folder: &Path, cache_bytes: u64) -> Result<sled::Db, String> {
        if folder.join("hang").exists() { never(folder, cache_bytes) } else { open_sled(folder, cache_bytes) }
    }

    fn never(_: &Path, _: u64) -> Result<sled::Db, String> {
        loop {
            thread::park();
        }
    }

    #[test]
    fn a_database_that_never_opens_is_moved_and_filled_again_from_the_archives() {
        let data = tempfile::tempdir().expect("a folder");
        let (reads, quarantine) = (data.path().join("reads"), data.path().join("quarantine"));
        let files = DiskFiles::new(&data.path().join("archive"), &quarantine).expect("a folder");
        let files: Arc<dyn FileLayer> = Arc::new(files);
        let stream = StreamId::random();
        let (store, _) = ArchiveStore::open_on(Arc::clone(&files), None).expect("opens");
        store.append(stream, Expected::NoStream, &records(5)).expect("appends");
        drop(store);
        fs::create_dir(&reads).expect("a folder");
        fs::write(reads.join("hang"), "").expect("written");
        let mut moved = Vec::new();
        let opening = Opening { opener: hanging, limit: Duration::from_secs(2) };
        let db = open_or_move(opening, &reads, &quarantine, 1 << 20, &mut moved).expect("opens anew");
        let [Moved { reason, to, .. }] = moved.as_slice() else { panic!("{moved:?}") };
        assert!(reason.contains("had not opened after 2 s"), "{reason}");
        assert!(Path::new(to).join("hang").exists());
        let copy = Box::new(SledReads { db });
        let (store, mut report) = ArchiveStore::open_on(files, Some(copy)).expect("opens");
        report.moved = moved;
        assert_eq!(report.refed, [Refed { stream, from: 1, to: 5 }]);
        assert!(report.to_string().contains("was moved to"), "{report}");
        assert_eq!(store.read(stream, 1, 9).expect("reads").len(), 5);
        assert!(store.health().slow.is_empty());
    }

    #[test]
    fn where_nothing_opens_in_time_it_is_said_and_nothing_hangs() {
        let data = tempfile::tempdir().expect("a folder");
        let (reads, quarantine) = (data.path().join("reads"), data.path().join("quarantine"));
        let opening = Opening { opener: never, limit: Duration::from_millis(50) };
        let opened = open_or_move(opening, &reads, &quarantine, 1 << 20, &mut Vec::new());
        assert!(opened.is_err_and(|why| why.contains("had not opened after 0.05 s")));
    }

    #[test]
    fn keys_sort_by_stream_and_number() {
        let (low, high) = (StreamId(Uuid::from_u128(1)), StreamId(Uuid::from_u128(2)));
        assert!(key(low, 255) < key(low, 256) && key(low, u64::MAX) < key(high, 0));
        assert_eq!(key_parts(&key(high, 300)), Some((high, 300)));
        assert_eq!(key_parts(&[0; 7]), None);
    }

    #[test]
    fn a_damaged_checkpoint_is_passed_over() {
        let folder = tempfile::tempdir().expect("a folder");
        let quarantine = folder.path().join("quarantine");
        let place = folder.path().join("checkpoints");
        let cache = SledCheckpoints::open(&place, &quarantine, 1 << 20, &mut Vec::new()).expect("opens");
        let stream = StreamId::random();
        cache.put(stream, 5, b"good");
        for (tick, value) in [(6, &b"bad!bytes"[..]), (7, b"bad")] {
            cache.db.insert(key(stream, tick), value).expect("inserts");
        }
        assert_eq!(cache.latest_at_or_before(stream, 9), Some((5, b"good".to_vec())));
    }
}

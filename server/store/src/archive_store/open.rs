//! Opening: read every archive, cut torn ends, refuse what is damaged, bring the read copy up to date.

use std::collections::BTreeMap;
use std::io::Cursor;
use std::sync::{Arc, Mutex, PoisonError, RwLock};

use super::commit::{Shown, Stream};
use super::recover::PROBE;
use super::{ArchiveStore, OpenReport, Refed, Rescued, Slot, TornTail, file_name};
use crate::archive::{ArchiveError, ArchiveFault, ArchiveReader, line};
use crate::data_folder::FolderLock;
use crate::error::StoreError;
use crate::files::FileLayer;
use crate::read_copy::ReadCopy;
use crate::types::{Head, StreamId};

/// Records in one portion when the copy is fed.
const PORTION: u64 = 1024;

impl ArchiveStore {
    /// Opens a store on these files, which nobody else may use meanwhile, with a copy for reads if there is
    /// one.
    pub fn open_on(
        files: Arc<dyn FileLayer>,
        copy: Option<Box<dyn ReadCopy>>,
    ) -> Result<(Self, OpenReport), StoreError> {
        Self::open_locked(files, copy, None)
    }

    pub(crate) fn open_locked(
        files: Arc<dyn FileLayer>,
        copy: Option<Box<dyn ReadCopy>>,
        lock: Option<FolderLock>,
    ) -> Result<(Self, OpenReport), StoreError> {
        let mut report = OpenReport::default();
        let mut streams = BTreeMap::new();
        let names =
            files.list().map_err(|e| StoreError::from_io(format!("listing {}", files.show("")), &e))?;
        for name in names {
            if name == PROBE {
                // A recovery was cut short; should this fail, the next one overwrites nothing by it.
                let _ = files.remove(&name);
                continue;
            }
            let id = name.strip_suffix(".jsonl").and_then(|stem| stem.parse().ok());
            // Only the spelling that we write: two names must never mean one stream.
            let Some(id) = id.filter(|id| file_name(*id) == name) else {
                report.ignored.push(name);
                continue;
            };
            let slot = match load(files.as_ref(), id, &mut report) {
                Ok(shown) => Slot::Live(Arc::new(Stream::new(id, shown))),
                Err(error) => {
                    report.refused.push((id, error.clone()));
                    Slot::Refused(error)
                }
            };
            streams.insert(id, slot);
        }
        // A process may have ended between creating a file and making its name durable.
        let flushing = || format!("flushing the folder {}", files.show(""));
        files.sync_folder().map_err(|e| StoreError::from_io(flushing(), &e))?;
        let store = Self {
            files,
            copy,
            streams: RwLock::new(streams),
            poison: Mutex::default(),
            gate: RwLock::default(),
            _lock: lock,
        };
        store.bring_copy_up_to_date(&mut report);
        for (_, slot) in store.slots() {
            if let Slot::Live(live) = slot {
                let shown = live.shown();
                report.streams += usize::from(shown.head.is_some());
                report.records += shown.last_seq();
            }
        }
        Ok((store, report))
    }

    /// Gives up the read copy, which is closed before `another` is asked for, and feeds that one.
    pub(crate) fn renew_copy(
        &mut self,
        report: &mut OpenReport,
        another: impl FnOnce() -> Option<Box<dyn ReadCopy>>,
    ) {
        self.copy = None;
        self.copy = another();
        for slot in self.streams.get_mut().unwrap_or_else(PoisonError::into_inner).values_mut() {
            // Nobody else has the streams of a store that is being opened.
            if let Slot::Live(live) = slot
                && let Some(live) = Arc::get_mut(live)
            {
                live.forget_copy_fault();
            }
        }
        report.refed.clear();
        self.bring_copy_up_to_date(report);
    }

    fn bring_copy_up_to_date(&self, report: &mut OpenReport) {
        let Some(copy) = self.copy.as_deref() else { return };
        for (id, slot) in self.slots() {
            // The copy of a damaged run is left as it is: it may be of help to whoever repairs the run.
            let Slot::Live(live) = slot else { continue };
            if let Err(fault) = self.feed_stream(copy, &live, report) {
                let fault = format!("run {id} could not be copied: {fault}");
                report.copy_faults.push(fault.clone());
                self.distrust_copy(&live, fault);
            }
        }
        let copied = copy.streams().unwrap_or_else(|fault| {
            report.copy_faults.push(fault);
            Vec::new()
        });
        for id in copied {
            if self.slot(id).is_none() {
                if let Ok(Some(head)) = copy.head(id) {
                    self.rescue(copy, id, 1, head.seq, report);
                }
                if let Err(fault) = copy.forget(id) {
                    report
                        .copy_faults
                        .push(format!("run {id}, which is gone, could not be forgotten: {fault}"));
                }
            }
        }
    }

    fn feed_stream(&self, copy: &dyn ReadCopy, live: &Stream, report: &mut OpenReport) -> Result<(), String> {
        let last = live.shown().last_seq();
        let head = copy.head(live.id)?;
        let from = match head {
            Some(head) if head.seq <= last && self.archive_agrees(live, head)? => head.seq + 1,
            Some(head) => {
                if head.seq > last {
                    self.rescue(copy, live.id, last + 1, head.seq, report);
                }
                copy.forget(live.id)?;
                1
            }
            None => {
                copy.forget(live.id)?;
                1
            }
        };
        if from > last {
            return Ok(());
        }
        let mut next = from;
        while next <= last {
            let to = last.min(next + PORTION - 1);
            let records = self.read_archive(live, next, to).map_err(|e| e.to_string())?;
            let Some(end) = records.last() else { return Err(format!("record {next} is missing")) };
            copy.feed(live.id, &records, Head { seq: end.seq, chain: end.chain })?;
            next = to + 1;
        }
        report.refed.push(Refed { stream: live.id, from, to: last });
        Ok(())
    }

    /// Whether the archive has the same record at the copy's end. The chain vouches for everything before it.
    fn archive_agrees(&self, live: &Stream, head: Head) -> Result<bool, String> {
        let at = self.read_archive(live, head.seq, head.seq).map_err(|e| e.to_string())?;
        Ok(at.first().is_some_and(|record| record.chain == head.chain))
    }

    /// Saves what the copy has beyond the archive. That the archive is behind at all means that it lost
    /// records.
    fn rescue(&self, copy: &dyn ReadCopy, stream: StreamId, from: u64, to: u64, report: &mut OpenReport) {
        let saved = copy.read(stream, from, to).and_then(|records| {
            let mut bytes = Vec::new();
            if from == 1 {
                bytes.extend_from_slice(line::head_line(stream).as_bytes());
            }
            records.iter().for_each(|record| line::encode(&mut bytes, record));
            let name = format!("{stream}-from-{from}.jsonl");
            self.files.set_aside(&name, &bytes).map_err(|e| e.to_string())
        });
        report.rescued.push(Rescued { stream, from, to, saved });
    }
}

/// Reads one archive; what is torn is cut off, what is damaged is an error and stays as it is.
fn load(files: &dyn FileLayer, stream: StreamId, report: &mut OpenReport) -> Result<Shown, StoreError> {
    let name = file_name(stream);
    let bytes =
        files.read(&name).map_err(|e| StoreError::from_io(format!("reading {}", files.show(&name)), &e))?;
    let len = bytes.len() as u64;
    let (shown, fault) = scan(&files.show(&name), stream, &bytes);
    match fault {
        // A file without a byte is what a crash right after its creation leaves.
        None => {}
        Some(ArchiveError { fault: ArchiveFault::Torn { .. }, .. }) if len == 0 => {}
        Some(ArchiveError { fault: ArchiveFault::Torn { what }, .. }) => {
            let failed =
                |e| StoreError::from_io(format!("cutting the unfinished end of {}", files.show(&name)), &e);
            let kept = usize::try_from(shown.len).unwrap_or(usize::MAX).min(bytes.len());
            let saved = files.set_aside(&format!("{stream}-torn-at-{kept}.part"), &bytes[kept..]).ok();
            files.truncate(&name, shown.len).map_err(failed)?;
            files.sync(&name).map_err(failed)?;
            let (kept_seq, cut_bytes) = (shown.last_seq(), len - shown.len);
            report.torn.push(TornTail { stream, kept_seq, cut_bytes, what, saved });
        }
        Some(error) => return Err(refusal(stream, error)),
    }
    // After a mere crash of the process, records can be whole in the page cache whose flush never returned.
    // They are about to be shown, so they must be durable.
    if shown.len > 0 {
        files.sync(&name).map_err(|e| StoreError::from_io(format!("flushing {}", files.show(&name)), &e))?;
    }
    Ok(shown)
}

pub(super) fn scan(file: &str, stream: StreamId, bytes: &[u8]) -> (Shown, Option<ArchiveError>) {
    let mut shown = Shown::default();
    let mut reader = match ArchiveReader::new(file, Cursor::new(bytes)) {
        Ok(reader) => reader,
        Err(error) => return (shown, Some(error)),
    };
    if reader.stream() != stream {
        let what = format!("the first line names run {}, the file's name another", reader.stream());
        let fault = ArchiveFault::Damaged { what };
        return (shown, Some(ArchiveError { file: file.into(), line: 1, seq: 1, fault }));
    }
    loop {
        match reader.next_append_with_offsets() {
            Ok(Some(records)) => {
                shown.index.extend(records.into_iter().map(|(at, record)| (at, record.event_id)));
                shown.head = reader.head();
                shown.len = reader.whole_bytes();
            }
            Ok(None) if shown.len > 0 => return (shown, None),
            // With no whole append, not even the first line is kept: the next append writes it anew.
            Ok(None) => {
                let fault = ArchiveFault::Torn { what: "there is a first line and no record".into() };
                return (shown, Some(ArchiveError { file: file.into(), line: 2, seq: 1, fault }));
            }
            Err(error) => return (shown, Some(error)),
        }
    }
}

pub(super) fn refusal(stream: StreamId, error: ArchiveError) -> StoreError {
    let ArchiveError { file, line, seq, fault } = error;
    match fault {
        ArchiveFault::Newer { found, known } => StoreError::Newer { what: file, found, known },
        ArchiveFault::Io(message) => StoreError::Io { doing: format!("reading {file}"), message },
        ArchiveFault::Torn { what } | ArchiveFault::Damaged { what } => {
            StoreError::Corrupt { stream, seq, what: format!("{what} ({file}, line {line})") }
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;

    use super::*;
    use crate::conformance::records;
    use crate::crash_backend::CrashFiles;
    use crate::store::EventStore;
    use crate::types::{Expected, Record};

    /// A copy that takes everything, keeps only ends, and may not let go of what it has.
    #[derive(Debug, Default)]
    struct Ends {
        stuck: bool,
        ends: Mutex<BTreeMap<StreamId, Head>>,
    }

    impl ReadCopy for Ends {
        fn feed(&self, stream: StreamId, _: &[Record], head: Head) -> Result<(), String> {
            self.ends.lock().unwrap().insert(stream, head);
            Ok(())
        }
        fn read(&self, _: StreamId, _: u64, _: u64) -> Result<Vec<Record>, String> {
            Err("it has none".into())
        }
        fn head(&self, stream: StreamId) -> Result<Option<Head>, String> {
            Ok(self.ends.lock().unwrap().get(&stream).copied())
        }
        fn streams(&self) -> Result<Vec<StreamId>, String> {
            Ok(self.ends.lock().unwrap().keys().copied().collect())
        }
        fn distrust(&self, _: StreamId) -> Result<(), String> {
            Ok(())
        }
        fn forget(&self, stream: StreamId) -> Result<(), String> {
            self.ends.lock().unwrap().remove(&stream);
            if self.stuck { Err("it does not let go".into()) } else { Ok(()) }
        }
    }

    #[test]
    fn a_copy_that_does_not_let_go_is_replaced_and_the_new_one_is_trusted() {
        let files: Arc<dyn FileLayer> = Arc::new(CrashFiles::default());
        let stream = StreamId::random();
        let (store, _) = ArchiveStore::open_on(Arc::clone(&files), None).unwrap();
        store.append(stream, Expected::NoStream, &records(5)).unwrap();
        drop(store);

        let stuck = Ends { stuck: true, ..Ends::default() };
        let (mut store, mut report) = ArchiveStore::open_on(files, Some(Box::new(stuck))).unwrap();
        assert_eq!(report.copy_faults.len(), 1, "{report}");
        assert!(!store.health().slow.is_empty());

        report.copy_faults.clear();
        store.renew_copy(&mut report, || Some(Box::new(Ends::default())));
        assert_eq!(report.copy_faults, Vec::<String>::new());
        assert_eq!(report.refed, [Refed { stream, from: 1, to: 5 }]);
        assert!(store.health().slow.is_empty());
    }
}

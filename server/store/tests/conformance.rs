//! The conformance suite on every backend.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::path::Path;
use std::sync::Arc;

use deadship_store::conformance::Breakable;
use deadship_store::crash_backend::{CrashFiles, CrashStore, Survives};
use deadship_store::failing_backend::{FailingFiles, Fault, Operation, Plan};
use deadship_store::{
    ArchiveStore, DiskFiles, EventStore, FileLayer, MemoryStore, Options, ReadCopy, StoreError, conformance,
    open,
};

#[test]
fn memory() {
    let store = Arc::new(MemoryStore::default());
    conformance::run(&mut || Arc::<MemoryStore>::clone(&store));
}

/// Every reopening is a power cut that leaves only what a sync has reached.
#[test]
fn crash() {
    let mut last: Option<Arc<CrashStore>> = None;
    conformance::run(&mut || {
        let files =
            last.take().map_or_else(CrashFiles::default, |s| s.files().after_power_cut(Survives::Nothing));
        let (store, report) = CrashStore::open(files).expect("opens");
        assert!(report.is_clean(), "{report}");
        let store = Arc::new(store);
        last = Some(Arc::clone(&store));
        store
    });
}

fn on_disk(options: &Options) {
    let folder = tempfile::tempdir().expect("a folder");
    let mut last: Option<std::sync::Weak<dyn EventStore>> = None;
    conformance::run(&mut || {
        // The suite drops the store before it asks for the next, else the lock would say so here.
        assert!(last.take().is_none_or(|store| store.strong_count() == 0));
        let opened = open(folder.path(), options).expect("opens");
        assert!(opened.report.is_clean(), "{}", opened.report);
        let store: Arc<dyn EventStore> = Arc::new(opened.store);
        last = Some(Arc::downgrade(&store));
        store
    });
}

#[test]
fn archive_files() {
    on_disk(&Options { database: false, ..Options::default() });
}

#[cfg(feature = "sled")]
#[test]
fn sled() {
    on_disk(&Options::default());
}

struct Memory(Arc<MemoryStore>);

impl Breakable for Memory {
    fn store(&self) -> Arc<dyn EventStore> {
        Arc::<MemoryStore>::clone(&self.0)
    }

    fn break_down(&mut self, nth: u64) {
        // A change of it is one step.
        if nth == 1 {
            self.0.break_down(StoreError::Full { doing: "an append".into() });
        }
    }

    fn mend(&mut self) {
        self.0.mend();
    }

    fn reopen(&mut self) {}
}

/// An archive store on files that fail.
struct Files {
    files: Arc<FailingFiles>,
    store: Option<Arc<ArchiveStore>>,
    copy: Box<dyn Fn() -> Option<Box<dyn ReadCopy>>>,
    fault: Fault,
    bytes_written: usize,
}

impl Files {
    fn bench(
        beneath: Arc<dyn FileLayer>,
        copy: impl Fn() -> Option<Box<dyn ReadCopy>> + 'static,
        fault: Fault,
        bytes_written: usize,
    ) -> Box<dyn Breakable> {
        let files = Arc::new(FailingFiles::new(beneath));
        let mut new = Self { files, store: None, copy: Box::new(copy), fault, bytes_written };
        new.reopen();
        Box::new(new)
    }
}

impl Breakable for Files {
    fn store(&self) -> Arc<dyn EventStore> {
        Arc::<ArchiveStore>::clone(self.store.as_ref().unwrap())
    }

    fn break_down(&mut self, nth: u64) {
        let (fault, bytes_written) = (self.fault, self.bytes_written);
        self.files.break_down(Plan { operation: Operation::Any, nth, fault, bytes_written });
    }

    fn mend(&mut self) {
        self.files.mend();
    }

    fn reopen(&mut self) {
        if let Some(store) = self.store.take() {
            assert_eq!(Arc::strong_count(&store), 1);
        }
        let files = Arc::<FailingFiles>::clone(&self.files);
        let (store, report) = ArchiveStore::open_on(files, (self.copy)()).unwrap();
        assert!(report.is_clean(), "{report}");
        self.store = Some(Arc::new(store));
    }
}

/// How much a write that fails still writes: nothing, the middle of a line, more than there is.
const WRITTEN: [usize; 3] = [0, 300, usize::MAX];

#[test]
fn memory_comes_back() {
    conformance::run_recoveries(&mut || Box::new(Memory(Arc::default())));
}

#[test]
fn failing_files_come_back() {
    for (fault, written) in [(Fault::Io, WRITTEN[0]), (Fault::Full, WRITTEN[1]), (Fault::Io, WRITTEN[2])] {
        conformance::run_recoveries(&mut || {
            Files::bench(Arc::new(CrashFiles::default()), || None, fault, written)
        });
    }
}

fn disk_files(folder: &Path) -> Arc<dyn FileLayer> {
    Arc::new(DiskFiles::new(&folder.join("archive"), &folder.join("quarantine")).unwrap())
}

#[test]
fn archive_files_come_back() {
    let mut folders = Vec::new();
    conformance::run_recoveries(&mut || {
        let folder = tempfile::tempdir().unwrap();
        let files = disk_files(folder.path());
        folders.push(folder);
        Files::bench(files, || None, Fault::Full, WRITTEN[1])
    });
}

#[cfg(feature = "sled")]
#[test]
fn sled_comes_back() {
    use deadship_store::sled_backend::SledReads;

    let mut folders = Vec::new();
    conformance::run_recoveries(&mut || {
        let folder = tempfile::tempdir().unwrap();
        let (files, place) = (disk_files(folder.path()), folder.path().to_owned());
        folders.push(folder);
        let copy = move || -> Option<Box<dyn ReadCopy>> {
            let (reads, quarantine) = (place.join("reads"), place.join("quarantine"));
            let copy = SledReads::open(&reads, &quarantine, 1 << 20, &mut Vec::new());
            Some(Box::new(copy.unwrap()))
        };
        Files::bench(files, copy, Fault::Io, WRITTEN[1])
    });
}

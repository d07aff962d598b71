//! The conformance suite on every backend.

use std::sync::Arc;

use deadship_store::crash_backend::{CrashFiles, CrashStore, Survives};
use deadship_store::{EventStore, MemoryStore, Options, conformance, open};

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

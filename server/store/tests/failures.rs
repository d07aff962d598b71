//! Writes and flushes that fail.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::sync::Arc;
use std::thread;

use deadship_store::conformance::records;
use deadship_store::crash_backend::CrashFiles;
use deadship_store::failing_backend::{FailingFiles, Fault, Operation, Plan};
use deadship_store::{ArchiveStore, EventStore, Expected, StoreError, StreamId};

fn failing() -> (Arc<FailingFiles>, ArchiveStore) {
    let files = Arc::new(FailingFiles::new(Arc::new(CrashFiles::default())));
    let (store, _) = ArchiveStore::open_on(Arc::<FailingFiles>::clone(&files), None).unwrap();
    (files, store)
}

fn plan(operation: Operation, fault: Fault) -> Plan {
    Plan { operation, nth: 1, fault, bytes_written: 300 }
}

#[test]
fn the_first_failure_ends_appending_and_not_reading() {
    for operation in [Operation::Write, Operation::Sync] {
        let (files, store) = failing();
        let stream = StreamId::random();
        store.append(stream, Expected::NoStream, &records(2)).unwrap();
        files.plan(plan(operation, Fault::Io));
        let new = records(5);
        let first = store.append(stream, Expected::Exact(2), &new).unwrap_err();
        assert!(matches!(first, StoreError::Io { .. }), "{first}");
        for stream in [stream, StreamId::random()] {
            let later = store.append(stream, Expected::NoStream, &new).unwrap_err();
            assert_eq!(later, StoreError::Poisoned { reason: first.to_string() });
        }
        assert_eq!(store.health().poisoned, Some(first.to_string()));
        assert_eq!(store.read(stream, 1, 9).unwrap().len(), 2);
        let head = store.head(stream).unwrap().unwrap();
        assert_eq!(head.seq, 2);
        assert!(matches!(store.delete(stream, head), Err(StoreError::Poisoned { .. })));
        // Opened again, the store goes on; the failed append can be repeated.
        drop(store);
        let (store, _) = ArchiveStore::open_on(files, None).unwrap();
        store.append(stream, Expected::Exact(2), &new).unwrap();
        assert_eq!(store.read(stream, 1, 9).unwrap().len(), 7);
    }
}

#[test]
fn a_full_disk_is_told_apart() {
    for operation in [Operation::Write, Operation::Sync, Operation::SyncFolder] {
        let (files, store) = failing();
        files.plan(plan(operation, Fault::Full));
        let error = store.append(StreamId::random(), Expected::NoStream, &records(3)).unwrap_err();
        assert!(matches!(error, StoreError::Full { .. }), "{error}");
        assert!(error.to_string().contains("disk is full"));
    }
}

#[test]
fn everyone_in_a_failed_group_is_told() {
    let (files, store) = failing();
    let stream = StreamId::random();
    store.append(stream, Expected::NoStream, &records(1)).unwrap();
    files.plan(Plan { nth: 3, ..plan(Operation::Sync, Fault::Io) });
    let acknowledged = thread::scope(|scope| {
        let append = || {
            let mut done = 0;
            for _ in 0..20 {
                let seq = store.head(stream).unwrap().unwrap().seq;
                match store.append(stream, Expected::Exact(seq), &records(1)) {
                    Ok(_) => done += 1,
                    Err(StoreError::Conflict { .. }) => {}
                    Err(_) => break,
                }
            }
            done
        };
        let threads: Vec<_> = (0..6).map(|_| scope.spawn(append)).collect();
        threads.into_iter().map(|t| t.join().unwrap()).sum::<u64>()
    });
    assert!(store.health().poisoned.is_some());
    assert_eq!(store.head(stream).unwrap().unwrap().seq, 1 + acknowledged);
    drop(store);
    let (store, _) = ArchiveStore::open_on(files, None).unwrap();
    assert!(store.head(stream).unwrap().unwrap().seq > acknowledged);
}

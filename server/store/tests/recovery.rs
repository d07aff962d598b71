//! Coming back after a failed write: what the conformance suite does not reach.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::sync::Arc;
use std::thread;

use deadship_store::conformance::records;
use deadship_store::crash_backend::{CrashFiles, CrashStore, Survives};
use deadship_store::failing_backend::{FailingFiles, Fault, Operation, Plan};
use deadship_store::{ArchiveStore, EventStore, Expected, FileLayer, NewRecord, StoreError, StreamId};
use uuid::Uuid;

struct Bench {
    disk: Arc<CrashFiles>,
    files: Arc<FailingFiles>,
    store: ArchiveStore,
}

fn bench() -> Bench {
    let disk = Arc::new(CrashFiles::default());
    let files = Arc::new(FailingFiles::new(Arc::<CrashFiles>::clone(&disk)));
    let (store, _) = ArchiveStore::open_on(Arc::<FailingFiles>::clone(&files), None).unwrap();
    Bench { disk, files, store }
}

fn plan(operation: Operation) -> Plan {
    Plan { operation, nth: 1, fault: Fault::Full, bytes_written: 500 }
}

fn ids(records: &[NewRecord]) -> Vec<Uuid> {
    records.iter().map(|record| record.event_id).collect()
}

fn stored(store: &dyn EventStore, stream: StreamId) -> Vec<Uuid> {
    store.read(stream, 1, u32::MAX).unwrap().iter().map(|record| record.event_id).collect()
}

fn name(stream: StreamId) -> String {
    format!("{stream}.jsonl")
}

/// The power goes at every step of a recovery, before and after what was refused has reached the disk.
#[test]
fn the_power_goes_while_it_recovers() {
    for operation in [Operation::Write, Operation::Sync] {
        for rule in
            [Survives::Nothing, Survives::Everything].into_iter().chain((0..12).map(Survives::SomeBeginning))
        {
            for cut in 0..40 {
                let Bench { disk, files, store } = bench();
                let stream = StreamId::random();
                let kept = records(3);
                store.append(stream, Expected::NoStream, &kept).unwrap();
                files.plan(plan(operation));
                let in_doubt = records(4);
                store.append(stream, Expected::Exact(3), &in_doubt).unwrap_err();
                disk.cut_after(cut);
                let done = store.recover().is_ok();
                let (store, report) = CrashStore::open(disk.after_power_cut(rule)).unwrap();
                assert!(report.refused.is_empty() && report.ignored.is_empty(), "{report}");
                let found = stored(&store, stream);
                let (without, with) = (ids(&kept), [ids(&kept), ids(&in_doubt)].concat());
                assert!(found == without || (!done && found == with), "cut {cut}, {rule:?}: {found:?}");
                // Whoever was refused repeats it, and it is there once.
                store.append(stream, Expected::Exact(3), &in_doubt).unwrap();
                assert_eq!(stored(&store, stream), with);
                if done {
                    break;
                }
            }
        }
    }
}

#[test]
fn what_was_refused_is_kept_aside_and_said() {
    let Bench { disk, files, store } = bench();
    let stream = StreamId::random();
    store.append(stream, Expected::NoStream, &records(2)).unwrap();
    let len = disk.read(&name(stream)).unwrap().len();
    files.plan(plan(Operation::Sync));
    let error = store.append(stream, Expected::Exact(2), &records(3)).unwrap_err();
    let whole = disk.read(&name(stream)).unwrap();
    assert!(whole.len() > len);
    let recovered = store.recover().unwrap();
    assert_eq!(recovered.reason, Some(error.to_string()));
    let [cut] = recovered.cut.as_slice() else { panic!("{recovered:?}") };
    assert_eq!((cut.stream, cut.kept_seq, cut.cut_bytes), (stream, 2, (whole.len() - len) as u64));
    assert_eq!(disk.aside().into_values().collect::<Vec<_>>(), [whole[len..].to_vec()]);
    assert_eq!(disk.read(&name(stream)).unwrap(), whole[..len]);
    assert_eq!(disk.list().unwrap(), [name(stream)], "the trial file is gone");
    assert_eq!(store.recover().unwrap().reason, None);
}

/// A recovery looks: acknowledged records that the disk no longer has end one stream, and are said.
#[test]
fn a_stream_that_lost_acknowledged_records_is_refused_and_the_others_go_on() {
    for harm in [harm_cut, harm_flip] {
        let Bench { disk, files, store } = bench();
        let (sound, harmed) = (StreamId::random(), StreamId::random());
        let before = records(3);
        store.append(sound, Expected::NoStream, &before).unwrap();
        store.append(harmed, Expected::NoStream, &records(3)).unwrap();
        files.plan(plan(Operation::Write));
        store.append(sound, Expected::Exact(3), &records(1)).unwrap_err();
        harm(&disk, &name(harmed));
        let recovered = store.recover().unwrap();
        let [(stream, StoreError::Corrupt { .. })] = recovered.refused.as_slice() else {
            panic!("{recovered:?}")
        };
        assert_eq!(*stream, harmed);
        assert!(matches!(store.read(harmed, 1, 9), Err(StoreError::Corrupt { .. })));
        let error = store.append(harmed, Expected::Exact(3), &records(1)).unwrap_err();
        assert!(matches!(error, StoreError::Corrupt { .. }), "{error}");
        store.append(sound, Expected::Exact(3), &records(1)).unwrap();
        assert_eq!(stored(&store, sound)[..3], ids(&before));
    }
}

fn harm_cut(disk: &CrashFiles, name: &str) {
    let len = disk.read(name).unwrap().len() as u64;
    disk.truncate(name, len - 10).unwrap();
}

fn harm_flip(disk: &CrashFiles, name: &str) {
    let len = disk.read(name).unwrap().len();
    disk.damage(name, len - 10, 1);
}

/// Many append while the disk fails and recovers again and again: what was acknowledged is there, once.
#[test]
fn many_append_while_it_fails_and_recovers() {
    let Bench { files, store, .. } = bench();
    let streams: Vec<StreamId> = (0..4).map(|_| StreamId::random()).collect();
    for nth in 1..=12 {
        files.plan(Plan {
            nth: nth * 23,
            ..plan(if nth % 2 == 0 { Operation::Write } else { Operation::Sync })
        });
    }
    let append = |stream: StreamId| {
        let mut kept: Vec<NewRecord> = Vec::new();
        while kept.len() < 150 {
            let new = records(1 + kept.len() % 3);
            let expected = Expected::Exact(kept.len() as u64);
            while let Err(error) = store.append(stream, expected, &new) {
                assert!(!matches!(error, StoreError::Conflict { .. }), "{error}");
                // Several may try at a time; while a plan is due it fails again.
                let _ = store.recover();
            }
            kept.extend(new);
        }
        kept
    };
    let append = &append;
    let kept: Vec<Vec<NewRecord>> = thread::scope(|scope| {
        let threads: Vec<_> = streams.iter().map(|stream| scope.spawn(move || append(*stream))).collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    for (stream, kept) in streams.iter().zip(&kept) {
        assert_eq!(stored(&store, *stream), ids(kept));
    }
    drop(store);
    let (store, report) = ArchiveStore::open_on(files, None).unwrap();
    assert!(report.is_clean(), "{report}");
    for (stream, kept) in streams.iter().zip(&kept) {
        assert_eq!(stored(&store, *stream), ids(kept));
    }
}

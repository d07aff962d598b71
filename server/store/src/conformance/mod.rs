//! For tests: what every [`EventStore`] must do, as one suite. A store that breaks a promise makes it panic.

mod recovery;

use std::fmt::Debug;
use std::sync::Arc;
use std::thread;

use uuid::Uuid;

use crate::error::StoreError;
use crate::judge::MAX_RECORDS;
use crate::store::{EventStore, Recovered};
use crate::types::{Appended, Expected, Head, NewRecord, Record, StreamId};

pub use recovery::{Breakable, run_recoveries};

/// Runs the suite. `open` opens the store under test; every further call opens the same store again after the
/// one before was dropped. Streams are random, so the store need not be empty.
pub fn run(open: &mut dyn FnMut() -> Arc<dyn EventStore>) {
    let cases: [fn(&dyn EventStore); 10] = [
        an_unknown_stream_is_empty,
        appends_are_read_back,
        a_wrong_expectation_is_a_conflict,
        a_repeated_append_changes_nothing,
        reads_respect_their_limits,
        what_cannot_be_kept_is_refused,
        streams_do_not_touch_each_other,
        deletion_needs_the_right_proof,
        health_counts,
        a_recovery_of_a_sound_store_changes_nothing,
    ];
    for case in cases {
        case(open().as_ref());
    }
    threads_on_one_stream(&open());
    threads_on_their_own_streams(&open());
    threads_that_delete_and_begin_anew(&open());
    everything_is_there_after_reopening(open);
}

/// New records with random event ids and payloads that tell their place.
pub fn records(count: usize) -> Vec<NewRecord> {
    let record =
        |n| NewRecord { event_id: Uuid::new_v4(), payload: format!("{{\"n\":{n},\"text\":\"ü \\n\"}}") };
    (0..count).map(record).collect()
}

fn ok<T>(result: Result<T, StoreError>) -> T {
    match result {
        Ok(value) => value,
        Err(error) => panic!("the store refused what it must accept: {error}"),
    }
}

fn refused<T: Debug>(result: Result<T, StoreError>) -> StoreError {
    match result {
        Ok(value) => panic!("the store accepted what it must refuse: {value:?}"),
        Err(error) => error,
    }
}

fn end_of(store: &dyn EventStore, stream: StreamId) -> Head {
    match ok(store.head(stream)) {
        Some(head) => head,
        None => panic!("stream {stream} has no end"),
    }
}

/// Fills a new stream in appends of these sizes.
fn filled(store: &dyn EventStore, sizes: &[usize]) -> (StreamId, Vec<NewRecord>) {
    let stream = StreamId::random();
    let mut all = Vec::new();
    for size in sizes {
        let new = records(*size);
        ok(store.append(stream, Expected::Exact(all.len() as u64), &new));
        all.extend(new);
    }
    (stream, all)
}

fn assert_holds(store: &dyn EventStore, stream: StreamId, expected: &[NewRecord]) {
    let stored = ok(store.read(stream, 1, u32::MAX));
    assert_eq!(stored.len(), expected.len(), "stream {stream} has another number of records");
    for (seq, (record, new)) in (1..).zip(stored.iter().zip(expected)) {
        assert_eq!((record.seq, record.event_id), (seq, new.event_id));
        assert_eq!(record.payload, new.payload, "a payload changed");
    }
    if let Some(last) = stored.last() {
        assert_eq!(end_of(store, stream), Head { seq: last.seq, chain: last.chain });
    }
}

fn an_unknown_stream_is_empty(store: &dyn EventStore) {
    let stream = StreamId::random();
    assert_eq!(ok(store.head(stream)), None);
    assert_eq!(ok(store.read(stream, 1, 10)), Vec::<Record>::new());
    let error = refused(store.append(stream, Expected::Exact(3), &records(1)));
    assert_eq!(error, StoreError::Conflict { stream, expected: 3, found: 0 });
    assert!(!ok(store.streams()).contains(&stream), "a refused append made a stream");
}

fn appends_are_read_back(store: &dyn EventStore) {
    let stream = StreamId::random();
    let (one, three) = (records(1), records(3));
    let appended = ok(store.append(stream, Expected::NoStream, &one));
    assert_eq!(appended, Appended::Written { first: 1, head: end_of(store, stream) });
    let appended = ok(store.append(stream, Expected::Exact(1), &three));
    assert_eq!(appended, Appended::Written { first: 2, head: end_of(store, stream) });
    assert_eq!((appended.first(), appended.last()), (2, 4));
    let parts: Vec<_> = ok(store.read(stream, 1, 9)).iter().map(|r| (r.part, r.of)).collect();
    assert_eq!(parts, [(1, 1), (1, 3), (2, 3), (3, 3)]);
    assert_holds(store, stream, &[one, three].concat());
}

fn a_wrong_expectation_is_a_conflict(store: &dyn EventStore) {
    let (stream, all) = filled(store, &[2]);
    for (expected, seq) in [(Expected::NoStream, 0), (Expected::Exact(1), 1), (Expected::Exact(3), 3)] {
        let error = refused(store.append(stream, expected, &records(1)));
        assert_eq!(error, StoreError::Conflict { stream, expected: seq, found: 2 });
    }
    assert_holds(store, stream, &all);
}

fn a_repeated_append_changes_nothing(store: &dyn EventStore) {
    let (stream, all) = filled(store, &[1, 3, 2]);
    let repeated = ok(store.append(stream, Expected::Exact(1), &all[1..4]));
    assert_eq!(repeated, Appended::Already { first: 2, last: 4 });
    let repeated = ok(store.append(stream, Expected::NoStream, &all[..1]));
    assert_eq!(repeated, Appended::Already { first: 1, last: 1 });
    // The same events elsewhere, or only some of them, are not a repetition.
    for (expected, some) in [(2, &all[1..4]), (4, &[all[4].clone(), all[5].clone(), all[0].clone()][..])] {
        let error = refused(store.append(stream, Expected::Exact(expected), some));
        assert_eq!(error, StoreError::Conflict { stream, expected, found: 6 });
    }
    assert_holds(store, stream, &all);
}

fn reads_respect_their_limits(store: &dyn EventStore) {
    let (stream, _) = filled(store, &[1, 4, 5]);
    for (from, limit, expected) in [
        (1, 0, vec![]),
        (0, 2, vec![1, 2]),
        (1, 3, vec![1, 2, 3]),
        (4, 2, vec![4, 5]),
        (9, 100, vec![9, 10]),
        (10, 1, vec![10]),
        (11, 5, vec![]),
        (u64::MAX, u32::MAX, vec![]),
    ] {
        let seqs: Vec<_> = ok(store.read(stream, from, limit)).iter().map(|r| r.seq).collect();
        // From 0 is read as from 1; a store may count record 0 against the limit in no case.
        assert_eq!(seqs, expected, "read from {from}, at most {limit}");
    }
}

fn what_cannot_be_kept_is_refused(store: &dyn EventStore) {
    let stream = StreamId::random();
    let bad = |payload: &str| vec![NewRecord { event_id: Uuid::new_v4(), payload: payload.into() }];
    for new in
        [vec![], bad(""), bad("{"), bad("{}\n"), bad("{\"a\":\r1}"), bad("1 2"), records(MAX_RECORDS + 1)]
    {
        let error = refused(store.append(stream, Expected::NoStream, &new));
        assert!(matches!(error, StoreError::Refused { .. }), "{error}");
    }
    for plain in ["0", "null", "\"}\"", "[1, 2]", " {} ", "{\"seq\":1,\"payload\":{}}"] {
        let (stream, new) = (StreamId::random(), bad(plain));
        ok(store.append(stream, Expected::NoStream, &new));
        assert_holds(store, stream, &new);
    }
    assert_eq!(ok(store.head(stream)), None);
}

fn streams_do_not_touch_each_other(store: &dyn EventStore) {
    let (a, of_a) = filled(store, &[2, 2]);
    let (b, of_b) = filled(store, &[3]);
    assert_holds(store, a, &of_a);
    assert_holds(store, b, &of_b);
    // The same events in two streams are two records with hashes of their own.
    let c = StreamId::random();
    ok(store.append(c, Expected::NoStream, &of_b));
    assert_ne!(end_of(store, b), end_of(store, c));
    let streams = ok(store.streams());
    assert!([a, b, c].iter().all(|stream| streams.contains(stream)));
    assert!(streams.is_sorted());
}

fn deletion_needs_the_right_proof(store: &dyn EventStore) {
    let (stream, all) = filled(store, &[1, 2]);
    let (other, of_other) = filled(store, &[1]);
    let head = end_of(store, stream);
    let old = ok(store.read(stream, 1, 1)).remove(0);
    for proof in [end_of(store, other), Head { seq: 1, chain: old.chain }, Head { seq: 3, chain: old.chain }]
    {
        assert_eq!(refused(store.delete(stream, proof)), StoreError::WrongProof { stream, found: head });
    }
    assert_holds(store, stream, &all);
    ok(store.delete(stream, head));
    assert_eq!(ok(store.head(stream)), None);
    assert_eq!(ok(store.read(stream, 1, 9)), Vec::<Record>::new());
    assert!(!ok(store.streams()).contains(&stream));
    assert_eq!(refused(store.delete(stream, head)), StoreError::NotFound { stream });
    assert_holds(store, other, &of_other);
    let again = records(2);
    ok(store.append(stream, Expected::NoStream, &again));
    assert_holds(store, stream, &again);
}

fn health_counts(store: &dyn EventStore) {
    let before = store.health();
    filled(store, &[1, 4]);
    let after = store.health();
    assert_eq!((before.poisoned, after.poisoned), (None, None));
    assert_eq!((after.streams, after.records), (before.streams + 1, before.records + 5));
    assert!(after.bytes > before.bytes && after.refused.is_empty() && after.slow.is_empty());
}

fn a_recovery_of_a_sound_store_changes_nothing(store: &dyn EventStore) {
    let (stream, mut all) = filled(store, &[2, 1]);
    let before = store.health();
    assert_eq!(ok(store.recover()), Recovered::default());
    assert_eq!(store.health(), before);
    let more = records(2);
    ok(store.append(stream, Expected::Exact(3), &more));
    all.extend(more);
    assert_holds(store, stream, &all);
}

/// Everyone appends at the end as they see it and tries again on a conflict; nothing is lost or doubled.
fn threads_on_one_stream(store: &Arc<dyn EventStore>) {
    let stream = StreamId::random();
    let appended: Vec<NewRecord> = thread::scope(|scope| {
        let work = || {
            let mine = records(20);
            for pair in mine.chunks(2) {
                loop {
                    let seq = ok(store.head(stream)).map_or(0, |head| head.seq);
                    match store.append(stream, Expected::Exact(seq), pair) {
                        Ok(done) => {
                            assert_eq!(done.first(), seq + 1);
                            // What was acknowledged can be read at once.
                            assert_eq!(ok(store.read(stream, seq + 1, 2)).len(), 2);
                            break;
                        }
                        Err(StoreError::Conflict { .. }) => {}
                        Err(error) => panic!("{error}"),
                    }
                }
            }
            mine
        };
        let threads: Vec<_> = (0..8).map(|_| scope.spawn(work)).collect();
        threads.into_iter().flat_map(|t| t.join().unwrap_or_else(|_| panic!("a thread failed"))).collect()
    });
    let stored = ok(store.read(stream, 1, u32::MAX));
    assert_eq!(stored.len(), appended.len());
    for new in &appended {
        assert_eq!(stored.iter().filter(|record| record.event_id == new.event_id).count(), 1);
    }
    assert!((1..).zip(&stored).all(|(seq, record)| record.seq == seq));
}

fn threads_on_their_own_streams(store: &Arc<dyn EventStore>) {
    thread::scope(|scope| {
        for _ in 0..8 {
            scope.spawn(|| {
                let (stream, all) = filled(store.as_ref(), &[1, 2, 3, 4, 5, 1, 1, 1, 9]);
                assert_holds(store.as_ref(), stream, &all);
            });
        }
    });
}

/// A deletion never tears a stream: whoever reads or appends meets the old one whole, none, or the new one
/// whole.
fn threads_that_delete_and_begin_anew(store: &Arc<dyn EventStore>) {
    let stream = StreamId::random();
    thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| {
                for _ in 0..25 {
                    match store.append(stream, Expected::NoStream, &records(3)) {
                        Ok(_) | Err(StoreError::Conflict { .. }) => {}
                        Err(error) => panic!("{error}"),
                    }
                    assert!(matches!(ok(store.read(stream, 1, 9)).len(), 0 | 3), "a torn stream was read");
                    let Some(head) = ok(store.head(stream)) else { continue };
                    match store.delete(stream, head) {
                        Ok(()) | Err(StoreError::NotFound { .. } | StoreError::WrongProof { .. }) => {}
                        Err(error) => panic!("{error}"),
                    }
                }
            });
        }
    });
}

fn everything_is_there_after_reopening(open: &mut dyn FnMut() -> Arc<dyn EventStore>) {
    let store = open();
    let (stream, mut all) = filled(store.as_ref(), &[3, 1, 2]);
    let (deleted, _) = filled(store.as_ref(), &[2]);
    ok(store.delete(deleted, end_of(store.as_ref(), deleted)));
    let head = end_of(store.as_ref(), stream);
    drop(store);
    let store = open();
    assert_eq!(end_of(store.as_ref(), stream), head);
    assert_holds(store.as_ref(), stream, &all);
    assert_eq!(ok(store.head(deleted)), None);
    let repeated = ok(store.append(stream, Expected::Exact(4), &all[4..]));
    assert_eq!(repeated, Appended::Already { first: 5, last: 6 });
    let more = records(2);
    ok(store.append(stream, Expected::Exact(6), &more));
    all.extend(more);
    assert_holds(store.as_ref(), stream, &all);
}

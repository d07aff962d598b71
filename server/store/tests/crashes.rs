//! The power goes off at every possible point; what was acknowledged is there afterwards.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use deadship_store::conformance::records;
use deadship_store::crash_backend::{CrashFiles, CrashStore, Survives};
use deadship_store::{EventStore, Expected, FileLayer, NewRecord, Record, StoreError, StreamId};
use proptest::prelude::*;
use uuid::Uuid;

fn stream(n: u128) -> StreamId {
    StreamId(Uuid::from_u128(n))
}

fn ids(records: &[NewRecord]) -> Vec<Uuid> {
    records.iter().map(|r| r.event_id).collect()
}

fn stored_ids(records: &[Record]) -> Vec<Uuid> {
    records.iter().map(|r| r.event_id).collect()
}

/// What was acknowledged to the caller of one stream, and what it asked for when the power went off.
#[derive(Default, Clone)]
struct Told {
    acknowledged: Vec<NewRecord>,
    in_doubt: Vec<NewRecord>,
}

/// Appends of these sizes to two streams by turns until the power goes off.
fn work(store: &CrashStore, sizes: &[usize]) -> [Told; 2] {
    let mut told = [Told::default(), Told::default()];
    for (turn, size) in sizes.iter().enumerate() {
        let of = &mut told[turn % 2];
        let new = records(*size);
        let expected = Expected::Exact(of.acknowledged.len() as u64);
        match store.append(stream(turn as u128 % 2), expected, &new) {
            Ok(_) => of.acknowledged.extend(new),
            Err(_) => {
                of.in_doubt = new;
                break;
            }
        }
    }
    told
}

/// Everything acknowledged is there; the append in doubt is there as a whole or not at all.
fn assert_kept(store: &CrashStore, n: u128, told: &Told) {
    let stored = stored_ids(&store.read(stream(n), 1, u32::MAX).unwrap());
    let acknowledged = ids(&told.acknowledged);
    let with_doubt = [acknowledged.clone(), ids(&told.in_doubt)].concat();
    assert!(
        stored == acknowledged || stored == with_doubt,
        "{stored:?} is neither {acknowledged:?} nor more"
    );
}

#[test]
fn at_every_change_with_every_rule() {
    let sizes = [1, 2, 3, 1, 2, 1];
    let (probe, _) = CrashStore::open(CrashFiles::default()).unwrap();
    work(&probe, &sizes);
    let rules = [Survives::Nothing, Survives::Everything];
    let chances = (0..40).map(Survives::SomeBeginning);
    for rule in rules.into_iter().chain(chances) {
        for cut in 0..=probe.files().changes() {
            let (store, _) = CrashStore::open(CrashFiles::default()).unwrap();
            store.files().cut_after(cut);
            let told = work(&store, &sizes);
            let (store, report) = store.power_cut(rule).unwrap();
            assert!(report.refused.is_empty(), "{report}");
            for (n, of) in (0..).zip(&told) {
                assert_kept(&store, n, of);
                // The interrupted caller repeats itself, as a client does.
                if !of.in_doubt.is_empty() {
                    let expected = Expected::Exact(of.acknowledged.len() as u64);
                    store.append(stream(n), expected, &of.in_doubt).unwrap();
                }
            }
        }
    }
}

#[test]
fn during_the_reopening_as_well() {
    let sizes = [2, 2, 2, 2];
    for cut in 0..12 {
        for second_cut in 0..8 {
            let (store, _) = CrashStore::open(CrashFiles::default()).unwrap();
            store.files().cut_after(cut);
            let told = work(&store, &sizes);
            let files = store.files().after_power_cut(Survives::SomeBeginning(cut * 8 + second_cut));
            files.cut_after(second_cut);
            let files = match CrashStore::open(files) {
                Ok((store, _)) => store.files().after_power_cut(Survives::SomeBeginning(second_cut)),
                Err(_) => continue,
            };
            let (store, report) = CrashStore::open(files).unwrap();
            assert!(report.refused.is_empty(), "{report}");
            assert_kept(&store, 0, &told[0]);
            assert_kept(&store, 1, &told[1]);
        }
    }
}

#[test]
fn what_is_cut_off_is_reported_and_kept() {
    let (store, _) = CrashStore::open(CrashFiles::default()).unwrap();
    let new = records(2);
    store.append(stream(0), Expected::NoStream, &new).unwrap();
    store.files().cut_after(0);
    let failed = store.append(stream(0), Expected::Exact(2), &records(40)).unwrap_err();
    assert!(matches!(failed, StoreError::Io { .. }), "{failed}");
    let files = (0..).map(|seed| store.files().after_power_cut(Survives::SomeBeginning(seed)));
    let torn = |files| {
        let (store, report) = CrashStore::open(files).unwrap();
        (!report.torn.is_empty()).then_some((store, report))
    };
    let (store, report) = files.map(torn).find_map(|found| found).unwrap();
    let torn = &report.torn[0];
    assert_eq!((torn.stream, torn.kept_seq), (stream(0), 2));
    assert_eq!(store.files().aside().values().next().unwrap().len() as u64, torn.cut_bytes);
    assert!(report.to_string().contains("cut off after record 2"), "{report}");
    assert_eq!(stored_ids(&store.read(stream(0), 1, 9).unwrap()), ids(&new));
}

#[test]
fn a_deletion_is_done_or_not_done() {
    for cut in 0..3 {
        for seed in 0..20 {
            let (store, _) = CrashStore::open(CrashFiles::default()).unwrap();
            let new = records(3);
            let head =
                store.append(stream(0), Expected::NoStream, &new).map(|_| store.head(stream(0))).unwrap();
            store.files().cut_after(cut);
            let deleted = store.delete(stream(0), head.unwrap().unwrap()).is_ok();
            let (store, report) = store.power_cut(Survives::SomeBeginning(seed)).unwrap();
            assert!(report.is_clean(), "{report}");
            let stored = stored_ids(&store.read(stream(0), 1, 9).unwrap());
            assert!(stored.is_empty() || (!deleted && stored == ids(&new)));
        }
    }
}

/// The process ended between making a new file durable and making its name durable; the power goes later.
#[test]
fn a_name_that_was_not_yet_durable_becomes_so_on_opening() {
    let (store, _) = CrashStore::open(CrashFiles::default()).unwrap();
    store.append(stream(0), Expected::NoStream, &records(1)).unwrap();
    let name = format!("{}.jsonl", stream(0));
    let files = CrashFiles::default();
    files.append(&name, &store.files().read(&name).unwrap()).unwrap();
    files.sync(&name).unwrap();
    let (store, _) = CrashStore::open(files).unwrap();
    store.append(stream(0), Expected::Exact(1), &records(1)).unwrap();
    let (store, _) = store.power_cut(Survives::Nothing).unwrap();
    assert_eq!(store.read(stream(0), 1, 9).unwrap().len(), 2);
}

#[test]
fn damage_concerns_one_stream_and_is_left_alone() {
    let (store, _) = CrashStore::open(CrashFiles::default()).unwrap();
    for n in 0..2 {
        for seq in 0..3 {
            store.append(stream(n), Expected::Exact(seq), &records(1)).unwrap();
        }
    }
    let name = format!("{}.jsonl", stream(0));
    store.files().damage(&name, 400, 1);
    // While it runs, a read that meets the damage says so.
    assert!(matches!(store.read(stream(0), 1, 9), Err(StoreError::Corrupt { .. })));
    let (store, report) = store.power_cut(Survives::Nothing).unwrap();
    assert_eq!(report.refused.len(), 1);
    for error in [
        store.read(stream(0), 1, 9).unwrap_err(),
        store.head(stream(0)).unwrap_err(),
        store.append(stream(0), Expected::NoStream, &records(1)).unwrap_err(),
    ] {
        assert!(matches!(error, StoreError::Corrupt { stream: s, seq: 2, .. } if s == stream(0)), "{error}");
    }
    assert_eq!(store.streams().unwrap(), [stream(1)]);
    assert_eq!(store.health().refused.len(), 1);
    store.append(stream(1), Expected::Exact(3), &records(1)).unwrap();
    assert_eq!(store.read(stream(1), 1, 9).unwrap().len(), 4);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    /// A disk may even write the sectors of one flush in any order. Then the stream is right, or refused by
    /// name.
    #[test]
    fn with_sectors_in_any_order(
        sizes in prop::collection::vec(1usize..12, 1..8),
        cut in 0u64..24,
        seed in any::<u64>(),
    ) {
        let (store, _) = CrashStore::open(CrashFiles::default()).unwrap();
        store.files().cut_after(cut);
        let told = work(&store, &sizes);
        let (store, report) = store.power_cut(Survives::SomeSectors(seed)).unwrap();
        for (n, of) in (0..).zip(&told) {
            let refused = report.refused.iter().any(|(id, _)| *id == stream(n));
            if refused {
                prop_assert!(!of.in_doubt.is_empty(), "refused without a write in flight: {report}");
                let refusal = store.read(stream(n), 1, 1);
                prop_assert!(matches!(refusal, Err(StoreError::Corrupt { .. })), "not corrupt");
            } else {
                assert_kept(&store, n, of);
            }
        }
    }
}

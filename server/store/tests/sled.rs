//! The embedded database is a copy: whatever happens to it, the archives win and nothing is lost.
#![cfg(feature = "sled")]
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::fs;
use std::path::{Path, PathBuf};

use deadship_store::conformance::records;
use deadship_store::sled_backend::SledReads;
use deadship_store::{
    EventStore, Expected, Opened, Options, ReadCopy, Record, Refed, StoreError, StreamId, open,
};

fn archives_only() -> Options {
    Options { database: false, ..Options::default() }
}

fn archive_of(data: &Path, stream: StreamId) -> PathBuf {
    data.join("archive").join(format!("{stream}.jsonl"))
}

fn append(data: &Path, options: &Options, stream: StreamId, from: u64, count: usize) {
    let Opened { store, .. } = open(data, options).unwrap();
    store.append(stream, Expected::Exact(from), &records(count)).unwrap();
}

fn copy_of(data: &Path) -> SledReads {
    let mut moved = Vec::new();
    let copy = SledReads::open(&data.join("reads"), &data.join("quarantine"), 1 << 20, &mut moved).unwrap();
    assert!(moved.is_empty(), "{moved:?}");
    copy
}

fn all(opened: &Opened, stream: StreamId) -> Vec<Record> {
    opened.store.read(stream, 1, u32::MAX).unwrap()
}

#[test]
fn a_copy_that_is_behind_is_fed() {
    let data = tempfile::tempdir().unwrap();
    let stream = StreamId::random();
    append(data.path(), &Options::default(), stream, 0, 3);
    append(data.path(), &archives_only(), stream, 3, 2500);
    let opened = open(data.path(), &Options::default()).unwrap();
    assert_eq!(opened.report.refed, [Refed { stream, from: 4, to: 2503 }]);
    assert_eq!(all(&opened, stream).len(), 2503);
    assert!(opened.store.health().slow.is_empty());
    drop(opened);
    assert_eq!(copy_of(data.path()).read(stream, 1, 2503).unwrap().len(), 2503);
    assert_eq!(open(data.path(), &Options::default()).unwrap().report.refed, []);
}

#[test]
fn a_missing_copy_is_made_again() {
    let data = tempfile::tempdir().unwrap();
    let stream = StreamId::random();
    append(data.path(), &Options::default(), stream, 0, 5);
    fs::remove_dir_all(data.path().join("reads")).unwrap();
    let opened = open(data.path(), &Options::default()).unwrap();
    assert_eq!(opened.report.refed, [Refed { stream, from: 1, to: 5 }]);
    assert_eq!(all(&opened, stream).len(), 5);
}

#[test]
fn a_copy_that_does_not_open_is_moved_and_made_again() {
    let data = tempfile::tempdir().unwrap();
    let stream = StreamId::random();
    append(data.path(), &Options::default(), stream, 0, 5);
    for round in 1..=2 {
        let conf = data.path().join("reads/conf");
        let bytes = fs::read(&conf).unwrap();
        fs::write(&conf, &bytes[..bytes.len() / 2]).unwrap();
        let opened = open(data.path(), &Options::default()).unwrap();
        assert_eq!(opened.report.moved.len(), 1, "round {round}: {}", opened.report);
        assert!(Path::new(&opened.report.moved[0].to).join("conf").exists());
        assert_eq!(opened.report.refed, [Refed { stream, from: 1, to: 5 }]);
        assert_eq!(all(&opened, stream).len(), 5);
        assert_eq!(opened.report.without_copy, None);
    }
    assert_eq!(fs::read_dir(data.path().join("quarantine")).unwrap().count(), 2);
}

/// A cut file makes the database panic on opening, or come up with old or no content: it depends on the
/// moment.
#[test]
fn a_cut_copy_costs_nothing() {
    let data = tempfile::tempdir().unwrap();
    let stream = StreamId::random();
    append(data.path(), &Options::default(), stream, 0, 20_000);
    let db = data.path().join("reads/db");
    let bytes = fs::read(&db).unwrap();
    fs::write(&db, &bytes[..bytes.len() - (1 << 20)]).unwrap();
    let opened = open(data.path(), &Options::default()).unwrap();
    assert_eq!(opened.report.without_copy, None);
    assert_eq!(all(&opened, stream).len(), 20_000);
}

#[test]
fn without_a_place_for_the_database_reads_come_from_the_archives() {
    let data = tempfile::tempdir().unwrap();
    let stream = StreamId::random();
    append(data.path(), &archives_only(), stream, 0, 3);
    fs::write(data.path().join("quarantine"), "a file where a folder belongs").unwrap();
    fs::write(data.path().join("reads"), "a file where a folder belongs").unwrap();
    let opened = open(data.path(), &Options::default()).unwrap();
    assert!(opened.report.without_copy.is_some());
    assert_eq!(all(&opened, stream).len(), 3);
    opened.store.append(stream, Expected::Exact(3), &records(1)).unwrap();
    assert_eq!(all(&opened, stream).len(), 4);
}

#[test]
fn wrong_records_in_the_copy_are_never_believed() {
    let data = tempfile::tempdir().unwrap();
    let stream = StreamId::random();
    append(data.path(), &Options::default(), stream, 0, 5);
    let copy = copy_of(data.path());
    let head = copy.head(stream).unwrap().unwrap();
    let mut wrong = copy.read(stream, 3, 3).unwrap();
    wrong[0].payload = "\"forged\"".into();
    copy.feed(stream, &wrong, head).unwrap();
    drop(copy);
    let opened = open(data.path(), &Options::default()).unwrap();
    let read = all(&opened, stream);
    assert_eq!(read.len(), 5);
    assert!(read.iter().all(|record| record.payload != "\"forged\""));
    assert_eq!(opened.store.health().slow[0].0, stream);
    opened.store.append(stream, Expected::Exact(5), &records(1)).unwrap();
    assert_eq!(all(&opened, stream).len(), 6);
    drop(opened);
    // The next opening feeds the copy again.
    let opened = open(data.path(), &Options::default()).unwrap();
    assert_eq!(opened.report.refed, [Refed { stream, from: 1, to: 6 }]);
    assert_eq!(all(&opened, stream).len(), 6);
    assert!(opened.store.health().slow.is_empty());
}

/// The archive wins, but that acknowledged records are gone from it is said, and what the copy has is saved.
#[test]
fn records_that_only_the_copy_has_are_saved() {
    let data = tempfile::tempdir().unwrap();
    let (short, lost) = (StreamId::random(), StreamId::random());
    append(data.path(), &Options::default(), short, 0, 2);
    append(data.path(), &Options::default(), lost, 0, 2);
    let path = archive_of(data.path(), short);
    let before = fs::read(&path).unwrap();
    append(data.path(), &Options::default(), short, 2, 3);
    fs::write(&path, &before).unwrap();
    fs::rename(archive_of(data.path(), lost), data.path().join("elsewhere")).unwrap();
    let opened = open(data.path(), &Options::default()).unwrap();
    let mut rescued = opened.report.rescued.clone();
    rescued.sort_by_key(|r| r.from);
    let ranges: Vec<_> = rescued.iter().map(|r| (r.stream, r.from, r.to)).collect();
    assert_eq!(ranges, [(lost, 1, 2), (short, 3, 5)]);
    let saved = |n: usize| fs::read(rescued[n].saved.as_ref().unwrap()).unwrap();
    assert_eq!(saved(0), fs::read(data.path().join("elsewhere")).unwrap());
    assert_eq!(saved(1).split(|b| *b == b'\n').count(), 3 + 1);
    assert_eq!(all(&opened, short).len(), 2);
    assert_eq!(opened.store.head(lost).unwrap(), None);
    assert!(!opened.report.is_clean());
}

#[test]
fn the_copy_of_a_damaged_run_is_left_alone() {
    let data = tempfile::tempdir().unwrap();
    let stream = StreamId::random();
    append(data.path(), &Options::default(), stream, 0, 1);
    append(data.path(), &Options::default(), stream, 1, 1);
    let path = archive_of(data.path(), stream);
    let mut bytes = fs::read(&path).unwrap();
    bytes[150] ^= 4;
    fs::write(&path, bytes).unwrap();
    let opened = open(data.path(), &Options::default()).unwrap();
    assert!(matches!(opened.store.read(stream, 1, 1), Err(StoreError::Corrupt { seq: 1, .. })));
    drop(opened);
    assert_eq!(copy_of(data.path()).read(stream, 1, 2).unwrap().len(), 2);
}

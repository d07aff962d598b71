//! A data folder on disk: lock, formats, and what opening does to it.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::fs;
use std::path::{Path, PathBuf};

use deadship_store::archive::ArchiveReader;
use deadship_store::conformance::records;
use deadship_store::{EventStore, Expected, Opened, Options, StoreError, StreamId, open};

fn archives_only() -> Options {
    Options { database: false, ..Options::default() }
}

fn archive_of(data: &Path, stream: StreamId) -> PathBuf {
    data.join("archive").join(format!("{stream}.jsonl"))
}

/// A folder with one stream of three records.
fn folder(options: &Options) -> (tempfile::TempDir, StreamId) {
    let data = tempfile::tempdir().unwrap();
    let stream = StreamId::random();
    let Opened { store, .. } = open(data.path(), options).unwrap();
    store.append(stream, Expected::NoStream, &records(1)).unwrap();
    store.append(stream, Expected::Exact(1), &records(2)).unwrap();
    (data, stream)
}

#[test]
fn a_second_opener_is_told() {
    let data = tempfile::tempdir().unwrap();
    let first = open(data.path(), &archives_only()).unwrap();
    let second = open(data.path(), &archives_only()).unwrap_err();
    assert_eq!(second, StoreError::Locked { path: data.path().display().to_string() });
    drop(first);
    open(data.path(), &archives_only()).unwrap();
}

#[test]
fn the_folder_is_marked_and_a_newer_one_refused() {
    let (data, stream) = folder(&archives_only());
    let mark = data.path().join("FORMAT");
    assert_eq!(fs::read_to_string(&mark).unwrap(), "deadship-data 1\n");
    fs::write(&mark, "deadship-data 2\nand whatever comes then\n").unwrap();
    let error = open(data.path(), &archives_only()).unwrap_err();
    assert!(matches!(error, StoreError::Newer { found: 2, known: 1, .. }), "{error}");
    fs::write(&mark, "a shopping list").unwrap();
    let error = open(data.path(), &archives_only()).unwrap_err();
    assert!(matches!(error, StoreError::DataFolder { .. }), "{error}");
    fs::write(&mark, "deadship-data 1\n").unwrap();
    let opened = open(data.path(), &archives_only()).unwrap();
    assert_eq!(opened.store.read(stream, 1, 9).unwrap().len(), 3);
}

#[test]
fn a_newer_archive_is_refused_and_the_others_live() {
    let (data, stream) = folder(&archives_only());
    let path = archive_of(data.path(), stream);
    let text = fs::read_to_string(&path).unwrap();
    let newer = text.replacen("\"version\":1", "\"version\":2", 1);
    fs::write(&path, &newer).unwrap();
    let opened = open(data.path(), &archives_only()).unwrap();
    let error = opened.store.head(stream).unwrap_err();
    assert!(matches!(error, StoreError::Newer { found: 2, known: 1, .. }), "{error}");
    opened.store.append(StreamId::random(), Expected::NoStream, &records(1)).unwrap();
    assert_eq!(fs::read_to_string(&path).unwrap(), newer);
}

#[test]
fn a_torn_end_is_cut_and_the_bytes_are_kept() {
    let (data, stream) = folder(&archives_only());
    let path = archive_of(data.path(), stream);
    let whole = fs::read(&path).unwrap();
    let torn = b"{\"seq\":4,\"event\":\"0000";
    fs::write(&path, [&whole[..], torn].concat()).unwrap();
    let opened = open(data.path(), &archives_only()).unwrap();
    let report = &opened.report.torn[0];
    assert_eq!((report.kept_seq, report.cut_bytes), (3, torn.len() as u64));
    assert_eq!(fs::read(report.saved.as_ref().unwrap()).unwrap(), torn);
    assert_eq!(fs::read(&path).unwrap(), whole);
    opened.store.append(stream, Expected::Exact(3), &records(1)).unwrap();
    let records = ArchiveReader::open(&path).unwrap().collect::<Result<Vec<_>, _>>().unwrap();
    assert_eq!(records.len(), 4);
}

#[test]
fn strange_and_empty_files_do_no_harm() {
    let (data, stream) = folder(&archives_only());
    let unborn = StreamId::random();
    fs::write(data.path().join("archive/notes.txt"), "mine").unwrap();
    fs::write(archive_of(data.path(), unborn), "").unwrap();
    let whole = fs::read_to_string(archive_of(data.path(), stream)).unwrap();
    let renamed = StreamId::random();
    fs::write(archive_of(data.path(), renamed), &whole).unwrap();
    let first_line_only = StreamId::random();
    let first_line = whole.lines().next().unwrap().replace(&stream.to_string(), &first_line_only.to_string());
    fs::write(archive_of(data.path(), first_line_only), first_line + "\n").unwrap();
    let opened = open(data.path(), &archives_only()).unwrap();
    assert_eq!(opened.report.ignored, ["notes.txt"]);
    assert!(matches!(opened.store.head(renamed), Err(StoreError::Corrupt { .. })));
    assert_eq!(opened.store.streams().unwrap(), [stream]);
    for fresh in [unborn, first_line_only] {
        opened.store.append(fresh, Expected::NoStream, &records(2)).unwrap();
        let records =
            ArchiveReader::open(&archive_of(data.path(), fresh)).unwrap().collect::<Result<Vec<_>, _>>();
        assert_eq!(records.unwrap().len(), 2);
    }
}

//! Archive files: round trip, and every kind of damage is found.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::io::Cursor;

use deadship_store::archive::{ArchiveError, ArchiveFault, ArchiveReader, ArchiveWriter};
use deadship_store::{NewRecord, Record, StoreError, StreamId};
use proptest::prelude::*;
use uuid::Uuid;

fn stream() -> StreamId {
    StreamId(Uuid::from_u128(0x0123_4567_89ab_cdef_0123_4567_89ab_cdef))
}

fn new_record(id: u128, payload: &str) -> NewRecord {
    NewRecord { event_id: Uuid::from_u128(id), payload: payload.into() }
}

/// The file's bytes, and where each append ends in it.
fn written(appends: &[Vec<NewRecord>]) -> (Vec<u8>, Vec<usize>) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("run.jsonl");
    let mut writer = ArchiveWriter::create(&path, stream()).unwrap();
    let mut ends = vec![std::fs::read(&path).unwrap().len()];
    for records in appends {
        writer.append(records).unwrap();
        ends.push(std::fs::read(&path).unwrap().len());
    }
    writer.finish().unwrap();
    (std::fs::read(&path).unwrap(), ends)
}

fn read(bytes: &[u8]) -> (Vec<Record>, Option<ArchiveError>) {
    let mut records = Vec::new();
    match ArchiveReader::new("run.jsonl", Cursor::new(bytes)) {
        Err(error) => return (records, Some(error)),
        Ok(reader) => {
            for record in reader {
                match record {
                    Ok(record) => records.push(record),
                    Err(error) => return (records, Some(error)),
                }
            }
        }
    }
    (records, None)
}

fn three_appends() -> Vec<Vec<NewRecord>> {
    vec![
        vec![new_record(1, "{\"a\":1}")],
        vec![new_record(2, "[]"), new_record(3, "\"two\""), new_record(4, "{\"b\":{}}")],
        vec![new_record(5, "null"), new_record(6, "{\"c\":\"ü\"}")],
    ]
}

/// The layout is a promise: files written today are read for ever.
#[test]
fn the_format_stands() {
    let (bytes, _) = written(&three_appends()[..1]);
    let text = String::from_utf8(bytes).unwrap();
    let lines: Vec<_> = text.lines().collect();
    assert_eq!(
        lines[0],
        r#"{"format":"deadship-archive","version":1,"stream":"01234567-89ab-cdef-0123-456789abcdef"}"#
    );
    assert_eq!(
        lines[1],
        r#"{"seq":1,"event":"00000000-0000-0000-0000-000000000001","part":[1,1],"crc":"37e89c07","chain":"71541fac5ebe37b197028f3b7b29cc11","payload":{"a":1}}"#
    );
    assert!(text.lines().all(|line| serde_json::from_str::<serde_json::Value>(line).is_ok()));
}

#[test]
fn every_flipped_byte_is_found() {
    let (bytes, _) = written(&three_appends());
    let (whole, None) = read(&bytes) else { panic!("the file is whole") };
    for at in 0..bytes.len() {
        for bit in 0..8 {
            let mut damaged = bytes.clone();
            damaged[at] ^= 1 << bit;
            let (records, error) = read(&damaged);
            assert!(error.is_some(), "byte {at}, bit {bit} went unnoticed");
            assert!(whole.starts_with(&records), "byte {at}, bit {bit}: a wrong record was yielded");
        }
    }
}

#[test]
fn a_cut_file_is_torn_after_the_last_whole_append() {
    let (bytes, ends) = written(&three_appends());
    let counts = [0, 1, 4, 6];
    for len in 0..=bytes.len() {
        let (records, error) = read(&bytes[..len]);
        let whole = ends.iter().rposition(|end| *end <= len);
        assert_eq!(records.len(), whole.map_or(0, |n| counts[n]), "cut to {len} bytes");
        match error {
            None => assert!(ends.contains(&len), "cut to {len} bytes went unnoticed"),
            Some(error) => assert!(matches!(error.fault, ArchiveFault::Torn { .. }), "{error}"),
        }
    }
}

#[test]
fn damage_before_whole_records_is_not_torn() {
    let (mut bytes, ends) = written(&three_appends());
    bytes[ends[1] + 5] ^= 1;
    let (records, error) = read(&bytes);
    let error = error.unwrap();
    assert_eq!((records.len(), error.line, error.seq), (1, 3, 2));
    assert!(matches!(error.fault, ArchiveFault::Damaged { .. }));
    assert!(error.to_string().starts_with("run.jsonl, line 3: "), "{error}");
}

#[test]
fn lost_doubled_and_exchanged_records_are_damage() {
    let (bytes, ends) = written(&three_appends());
    let append = |n: usize| &bytes[ends[n - 1]..ends[n]];
    let head = &bytes[..ends[0]];
    for wrong in [
        [head, append(1), append(3)].concat(),
        [head, append(1), append(1), append(2)].concat(),
        [head, append(2), append(1)].concat(),
    ] {
        let error = read(&wrong).1.unwrap();
        assert!(matches!(error.fault, ArchiveFault::Damaged { .. }), "{error}");
    }
}

#[test]
fn a_record_of_another_history_does_not_follow() {
    let (bytes, ends) = written(&three_appends());
    let mut other = three_appends();
    other[0][0].payload = "{\"a\":2}".into();
    let (other_bytes, other_ends) = written(&other);
    let mixed = [&other_bytes[..other_ends[1]], &bytes[ends[1]..]].concat();
    let error = read(&mixed).1.unwrap();
    assert!(error.to_string().contains("chain"), "{error}");
}

#[test]
fn a_newer_format_is_refused_by_name() {
    let (bytes, _) = written(&three_appends());
    let text = String::from_utf8(bytes).unwrap().replacen("\"version\":1", "\"version\":7", 1);
    let error = read(text.as_bytes()).1.unwrap();
    assert_eq!(error.fault, ArchiveFault::Newer { found: 7, known: 1 });
}

#[test]
fn copying_keeps_checksums_and_chain_and_accepts_no_gap() {
    let (bytes, _) = written(&three_appends());
    let (records, _) = read(&bytes);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("copy.jsonl");
    let mut writer = ArchiveWriter::create(&path, stream()).unwrap();
    writer.copy(&records[0]).unwrap();
    assert!(matches!(writer.copy(&records[2]), Err(StoreError::Corrupt { seq: 3, .. })));
    let mut forged = records[1].clone();
    forged.payload = "[0]".into();
    assert!(writer.copy(&forged).is_err(), "a changed payload was copied");
    for record in &records[1..] {
        writer.copy(record).unwrap();
    }
    writer.finish().unwrap();
    assert_eq!(std::fs::read(&path).unwrap(), bytes);
    assert!(matches!(ArchiveWriter::create(&path, stream()), Err(StoreError::Io { .. })));
}

fn json() -> impl Strategy<Value = String> {
    let leaf = prop_oneof![
        Just("null".to_owned()),
        any::<i64>().prop_map(|n| n.to_string()),
        any::<String>().prop_map(|s| serde_json::to_string(&s).unwrap()),
    ];
    leaf.prop_recursive(2, 8, 4, |inner| {
        prop::collection::vec((any::<String>(), inner), 0..4).prop_map(|fields| {
            let field = |(k, v): &(String, String)| format!("{}: {v}", serde_json::to_string(k).unwrap());
            format!("{{{}}}", fields.iter().map(field).collect::<Vec<_>>().join(", "))
        })
    })
}

fn appends() -> impl Strategy<Value = Vec<Vec<NewRecord>>> {
    let record = (any::<u128>(), json()).prop_map(|(id, payload)| new_record(id, &payload));
    prop::collection::vec(prop::collection::vec(record, 1..5), 0..6)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn round_trip(appends in appends()) {
        let (bytes, _) = written(&appends);
        let (records, error) = read(&bytes);
        prop_assert_eq!(error, None);
        let got: Vec<_> = records.into_iter().map(|r| (r.event_id, r.payload)).collect();
        let put: Vec<_> = appends.into_iter().flatten().map(|r| (r.event_id, r.payload)).collect();
        prop_assert_eq!(got, put);
    }

    /// Cut anywhere, then overwrite any stretch: only true records are yielded, and the fault is told.
    #[test]
    fn random_damage(
        appends in appends(),
        cut in any::<prop::sample::Index>(),
        at in any::<prop::sample::Index>(),
        junk in prop::collection::vec(any::<u8>(), 0..40),
    ) {
        let (bytes, ends) = written(&appends);
        let (whole, _) = read(&bytes);
        let mut damaged = bytes[..cut.index(bytes.len() + 1)].to_vec();
        let at = at.index(damaged.len() + 1);
        for (offset, byte) in junk.iter().enumerate() {
            if let Some(place) = damaged.get_mut(at + offset) {
                *place = *byte;
            }
        }
        let (records, error) = read(&damaged);
        prop_assert!(whole.starts_with(&records));
        let still_right = damaged.iter().zip(&bytes).take_while(|(a, b)| a == b).count();
        let must_be_there = ends.iter().filter(|end| **end <= still_right).count().saturating_sub(1);
        let count = appends[..must_be_there].iter().map(Vec::len).sum::<usize>();
        prop_assert!(records.len() >= count, "{} of {} records before the damage", records.len(), count);
        if error.is_none() {
            prop_assert!(bytes.starts_with(&damaged) && ends.contains(&damaged.len()));
        }
    }
}

//! Checkpoint caches: the latest at or before a tick, by stream.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use deadship_store::{CheckpointCache, MemoryCheckpoints, StreamId};

fn suite(cache: &dyn CheckpointCache) {
    let (a, b) = (StreamId::random(), StreamId::random());
    assert_eq!(cache.latest_at_or_before(a, u64::MAX), None);
    for (stream, tick, bytes) in [(a, 10, "ten"), (a, 20, "twenty"), (b, 15, "other"), (a, 0, "")] {
        cache.put(stream, tick, bytes.as_bytes());
    }
    let found = |stream, tick| {
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        cache.latest_at_or_before(stream, tick).map(|(at, bytes)| (at, text(bytes)))
    };
    assert_eq!(found(a, 9), Some((0, String::new())));
    assert_eq!(found(a, 10), Some((10, "ten".into())));
    assert_eq!(found(a, 19), Some((10, "ten".into())));
    assert_eq!(found(a, u64::MAX), Some((20, "twenty".into())));
    assert_eq!(found(b, 14), None);
    cache.put(a, 10, b"again");
    assert_eq!(found(a, 11), Some((10, "again".into())));
    cache.forget_before(a, 20);
    assert_eq!((found(a, 19), found(a, 20)), (None, Some((20, "twenty".into()))));
    assert_eq!(found(b, 15), Some((15, "other".into())));
    cache.forget(a);
    assert_eq!(found(a, u64::MAX), None);
    assert_eq!(found(b, 15), Some((15, "other".into())));
}

#[test]
fn memory() {
    suite(&MemoryCheckpoints::default());
}

#[cfg(feature = "sled")]
#[test]
fn sled() {
    let data = tempfile::tempdir().unwrap();
    let opened = deadship_store::open(data.path(), &deadship_store::Options::default()).unwrap();
    suite(opened.checkpoints.as_ref());
    opened.checkpoints.put(StreamId::random(), 1, &[7; 100_000]);
}

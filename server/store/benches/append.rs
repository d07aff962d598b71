//! Appends of about 280 bytes a record, durable when they return: singly, in groups of 64, and by eight runs
//! at once.

use std::hint::black_box;
use std::path::Path;
use std::thread;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use deadship_store::{ArchiveStore, EventStore, Expected, NewRecord, Options, StreamId, open};
use uuid::Uuid;

const RUNS: u64 = 8;

/// A record whose archive line has about 280 bytes.
fn record(n: u64) -> NewRecord {
    let payload = format!(
        "{{\"tick\":\"{n:010}\",\"kind\":17,\"version\":1,\"cause\":\"{n:010}\",\"who\":\"person\",\"note\":\"{:-<20}\"}}",
        ""
    );
    NewRecord { event_id: Uuid::new_v4(), payload }
}

fn group(size: u64) -> Vec<NewRecord> {
    (0..size).map(record).collect()
}

fn appender(store: &ArchiveStore) -> impl FnMut(&[NewRecord]) {
    let (stream, mut end) = (StreamId::random(), 0);
    move |records| match store.append(stream, Expected::Exact(end), records) {
        Ok(done) => end = black_box(done).last(),
        Err(error) => panic!("{error}"),
    }
}

fn durable_appends(c: &mut Criterion) {
    for (name, database) in [("archive", false), ("archive and database", true)] {
        if database && !cfg!(feature = "sled") {
            continue;
        }
        // In the build folder, since the folder for temporary files may be in memory.
        let folder = tempfile::tempdir_in(Path::new(env!("CARGO_TARGET_TMPDIR"))).expect("a folder");
        let options = Options { database, ..Options::default() };
        let store = open(folder.path(), &options).expect("the store opens").store;
        let mut bench = c.benchmark_group(format!("append/{name}"));
        for size in [1, 64] {
            let records = group(size);
            let mut append = appender(&store);
            bench.throughput(Throughput::Elements(size));
            bench.bench_function(BenchmarkId::new("records", size), |b| b.iter(|| append(&records)));
        }
        bench.throughput(Throughput::Elements(RUNS * 16));
        bench.bench_function(BenchmarkId::new("runs at once, 16 single appends each", RUNS), |b| {
            b.iter(|| {
                thread::scope(|scope| {
                    for _ in 0..RUNS {
                        scope.spawn(|| {
                            let mut append = appender(&store);
                            (0..16).for_each(|n| append(&[record(n)]));
                        });
                    }
                });
            });
        });
        bench.finish();
    }
}

criterion_group!(benches, durable_appends);
criterion_main!(benches);

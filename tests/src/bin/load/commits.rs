//! Durable group commits of many runs: the store's, beside the least that the database can do.

use deadship_store::{EventStore, Expected, NewRecord, Options, StreamId, open};
use std::fs::File;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};
use uuid::Uuid;

/// How long each is measured.
const MEASURED: Duration = Duration::from_secs(5);

fn payload(n: u64) -> String {
    format!(
        "{{\"tick\":\"{n:010}\",\"kind\":17,\"version\":1,\"cause\":\"{n:010}\",\"note\":\"{:-<120}\"}}",
        ""
    )
}

/// Measures both, with so many runs that append one record at a time, and prints what they reach.
pub(crate) fn compare(runs: usize) {
    let Ok(folder) = tempfile::Builder::new().prefix("deadship-load-").tempdir_in(".") else {
        panic!("no folder for the data can be made here")
    };
    let store = store(&folder.path().join("store"), runs);
    let bare = bare(&folder.path().join("bare"), runs);
    println!("\n| durable appends of {runs} runs, one record each at a time | records/s |");
    println!("| --- | --- |");
    println!("| the store: archive with fdatasync, then the read copy | {store:.0} |");
    println!("| bare: batches into the database, its flush, fdatasync of its file | {bare:.0} |");
    println!("\nOf the bare database's: {:.2}", store / bare.max(1e-9));
}

fn store(folder: &Path, runs: usize) -> f64 {
    let opened = match open(folder, &Options::default()) {
        Ok(opened) => opened,
        Err(error) => panic!("the store cannot be opened: {error}"),
    };
    let (store, done) = (&opened.store, AtomicU64::new(0));
    let began = Instant::now();
    thread::scope(|scope| {
        for _ in 0..runs {
            scope.spawn(|| {
                let (stream, mut seq) = (StreamId::random(), 0);
                while began.elapsed() < MEASURED {
                    let record = NewRecord { event_id: Uuid::new_v4(), payload: payload(seq) };
                    match store.append(stream, Expected::Exact(seq), &[record]) {
                        Ok(appended) => seq = appended.last(),
                        Err(error) => panic!("{error}"),
                    }
                    done.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
    });
    done.load(Ordering::Relaxed) as f64 / began.elapsed().as_secs_f64()
}

type Wanted = (Vec<u8>, String, mpsc::Sender<()>);

/// One thread commits for all: what waits is one batch.
fn bare(folder: &Path, runs: usize) -> f64 {
    let config = sled::Config::new().path(folder).flush_every_ms(None);
    let Ok(db) = config.open() else { panic!("the database cannot be opened") };
    let Ok(file) = File::open(folder.join("db")) else { panic!("the database has no file") };
    let (to, waiting) = mpsc::channel::<Wanted>();
    let done = AtomicU64::new(0);
    let began = Instant::now();
    thread::scope(|scope| {
        scope.spawn(move || {
            while let Ok(first) = waiting.recv() {
                let group: Vec<Wanted> = std::iter::once(first).chain(waiting.try_iter()).collect();
                let mut batch = sled::Batch::default();
                for (key, value, _) in &group {
                    batch.insert(key.as_slice(), value.as_bytes());
                }
                let kept = db.apply_batch(batch).and_then(|()| db.flush());
                assert!(kept.is_ok() && file.sync_data().is_ok(), "the database does not commit");
                for (_, _, reply) in group {
                    let _ = reply.send(());
                }
            }
        });
        for run in 0..runs as u64 {
            let (to, done) = (to.clone(), &done);
            scope.spawn(move || {
                let (reply, kept) = mpsc::channel();
                let mut seq = 0_u64;
                while began.elapsed() < MEASURED {
                    let key = [run.to_be_bytes(), seq.to_be_bytes()].concat();
                    if to.send((key, payload(seq), reply.clone())).is_err() || kept.recv().is_err() {
                        return;
                    }
                    seq += 1;
                    done.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
        drop(to);
    });
    done.load(Ordering::Relaxed) as f64 / began.elapsed().as_secs_f64()
}

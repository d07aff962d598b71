//! Durable group commits of many runs: the store's, beside the least that the database can do.

use crate::figures::Quantiles;
use deadship_store::{EventStore, Expected, NewRecord, Options, StreamId, open};
use std::fs::File;
use std::path::Path;
use std::sync::{Mutex, PoisonError, mpsc};
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

/// What was reached.
struct Reached {
    records_s: f64,
    latency: Quantiles,
}

/// Measures both with so many runs that append one record at a time, first at `rate` records a second of all together,
/// then as fast as they can, and prints what they reach.
pub(crate) fn compare(runs: usize, rate: f64) {
    let Ok(folder) = tempfile::Builder::new().prefix("deadship-load-").tempdir_in(".") else {
        panic!("no folder for the data can be made here")
    };
    let pace = Duration::from_secs_f64(runs as f64 / rate);
    println!(
        "\n| durable appends of {runs} runs, one record each at a time | records/s | durable p50 / p99 / max |"
    );
    println!("| --- | --- | --- |");
    let mut shares = Vec::new();
    for (how, pace) in [(format!("{rate:.0} a second"), Some(pace)), ("flat out".to_owned(), None)] {
        let ours = store(&folder.path().join(format!("store {how}")), runs, pace);
        let bare = bare(&folder.path().join(format!("bare {how}")), runs, pace);
        let line = |what: &str, reached: &Reached| {
            println!("| {what}, {how} | {:.0} | {} |", reached.records_s, reached.latency);
        };
        line("the store: archive of each run with fdatasync, then the read copy", &ours);
        line("bare: one batch for all into the database, its flush, fdatasync of its file", &bare);
        shares.push(format!("{how} {:.2}", ours.records_s / bare.records_s.max(1e-9)));
    }
    println!("\nOf the bare database's: {}", shares.join(", "));
}

/// Lets all runs append for a while. `run` gives what appends the next record of a run.
fn measure<A: FnMut(u64)>(runs: usize, pace: Option<Duration>, run: impl Fn(u64) -> A + Sync) -> Reached {
    let latencies_us = Mutex::new(Vec::new());
    let began = Instant::now();
    thread::scope(|scope| {
        for number in 0..runs as u64 {
            let (run, latencies_us) = (&run, &latencies_us);
            scope.spawn(move || {
                let mut append = run(number);
                let mut own_us = Vec::new();
                // Not all at the same moment.
                let offset = pace.map_or(Duration::ZERO, |pace| pace.mul_f64(number as f64 / runs as f64));
                while began.elapsed() < MEASURED {
                    let due = pace.map(|pace| offset + pace * own_us.len() as u32);
                    if let Some(wait) = due.and_then(|due| due.checked_sub(began.elapsed())) {
                        thread::sleep(wait);
                    }
                    let asked = Instant::now();
                    append(own_us.len() as u64);
                    own_us.push(asked.elapsed().as_micros() as u64);
                }
                latencies_us.lock().unwrap_or_else(PoisonError::into_inner).extend(own_us);
            });
        }
    });
    let elapsed_s = began.elapsed().as_secs_f64();
    let latency = Quantiles::of(latencies_us.into_inner().unwrap_or_else(PoisonError::into_inner));
    Reached { records_s: latency.count as f64 / elapsed_s, latency }
}

fn store(folder: &Path, runs: usize, pace: Option<Duration>) -> Reached {
    let opened = match open(folder, &Options::default()) {
        Ok(opened) => opened,
        Err(error) => panic!("the store cannot be opened: {error}"),
    };
    let store = &opened.store;
    measure(runs, pace, |_| {
        let stream = StreamId::random();
        move |seq| {
            let record = NewRecord { event_id: Uuid::new_v4(), payload: payload(seq) };
            if let Err(error) = store.append(stream, Expected::Exact(seq), &[record]) {
                panic!("{error}");
            }
        }
    })
}

type Wanted = (Vec<u8>, String, mpsc::Sender<()>);

/// One thread commits for all: what waits is one batch.
fn bare(folder: &Path, runs: usize, pace: Option<Duration>) -> Reached {
    let config = sled::Config::new().path(folder).flush_every_ms(None);
    let Ok(db) = config.open() else { panic!("the database cannot be opened") };
    let Ok(file) = File::open(folder.join("db")) else { panic!("the database has no file") };
    let (to, waiting) = mpsc::channel::<Wanted>();
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
        let reached = measure(runs, pace, |run| {
            let (to, (reply, kept)) = (to.clone(), mpsc::channel());
            move |seq: u64| {
                let key = [run.to_be_bytes(), seq.to_be_bytes()].concat();
                let sent = to.send((key, payload(seq), reply.clone())).is_ok();
                assert!(sent && kept.recv().is_ok(), "the database has gone");
            }
        });
        // The committing thread ends with the last sender.
        drop(to);
        reached
    })
}

//! How long a server takes to bring a hundred live runs of an hour each back after a crash.
//!
//! `cargo test --release -p deadship-server --test come_back -- --ignored --nocapture`
#![allow(
    clippy::disallowed_types,
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a test fails by panicking"
)]

mod common;

use common::Bench;
use deadship_protocol::MOST_TEAMS;
use deadship_run::crew::Crew;
use deadship_run::ids::event_id;
use deadship_run::library::Library;
use deadship_run::{Command, Envelope, Recorder, Role, Who};
use deadship_server::{Config, Server, start};
use deadship_store::{EventStore, Expected, NewRecord, Opened, Options, StreamId, open};
use serde_json::{Value, json};
use std::net::SocketAddr;
use std::path::Path;
use std::time::{Duration, Instant};
use uuid::Uuid;

const RUNS: usize = 100;
const DRILL: &str = "first-light";
const AT: &str = "2026-01-01T00:00:00Z";

/// Between two checkpoints of a server: the worst moment for a crash is just before the next.
const CHECKPOINT_TICKS: u64 = 1_200;
const CHECKPOINTS: u64 = 60;

/// What is wanted of two cores, in a release build.
const LIMIT: Duration = Duration::from_secs(5);

/// The built-in drill, but it does not end when its aim is reached.
fn library() -> Library {
    let drill = Library::built_in().opening(DRILL, None).unwrap().drill_file;
    let text =
        drill.text.replace("limit = \"45 min\"", "limit = \"3 h\"").replace("ends = true", "ends = false");
    assert_ne!(text, drill.text);
    Library::built_in().with([(drill.name, text)])
}

async fn serve(data: &Path) -> Server {
    let listen = SocketAddr::from(([127, 0, 0, 1], 0));
    start(Config {
        listen,
        data: data.to_owned(),
        library: library(),
        new_key: false,
        tls: false,
        keep_days: None,
        team_sees_ratings: None,
    })
    .await
    .unwrap()
}

/// An hour of a robot crew that brings the ship back, with an instructor who notes something every ten seconds.
struct Hour {
    turns: Vec<Vec<Envelope>>,
    checkpoint: (u64, Vec<u8>),
    /// Tick of the last event: the last durable one.
    tick: u64,
}

fn hour() -> Hour {
    let opening = library().opening(DRILL, None).unwrap();
    let who = Who::person("Iris", Role::Instructor);
    let (mut recorder, first) = Recorder::open(Uuid::new_v4(), opening, &who, AT).unwrap();
    let mut crew = Crew::new(&recorder.run().setup, Some(DRILL)).unwrap();
    let (mut turns, mut checkpoint) = (vec![first], None);
    let tick = CHECKPOINT_TICKS * (CHECKPOINTS + 1) - 1;
    while recorder.run().tick() < tick {
        assert!(recorder.run().goes(), "the drill must not end");
        let mut turn = Vec::new();
        if recorder.run().tick().is_multiple_of(200) {
            let note = Command::Note { text: format!("noted at tick {}", recorder.run().tick()) };
            turn.extend(recorder.command(&note, &who, Some(Uuid::new_v4()), AT).envelopes);
        }
        turn.extend(crew.act(&mut recorder, AT));
        turn.extend(recorder.tick(AT));
        let now = recorder.run().tick();
        if now <= CHECKPOINT_TICKS * CHECKPOINTS
            && let Some(bytes) = turn.last().and_then(|last| recorder.checkpoint(last))
        {
            checkpoint = Some((now, bytes));
        }
        if !turn.is_empty() {
            turns.push(turn);
        }
    }
    let last_tick = turns.last().and_then(|turn| turn.last()).map_or(0, |last| last.tick);
    Hour { turns, checkpoint: checkpoint.unwrap(), tick: last_tick }
}

/// Puts the hour in the place of what a run has done so far.
fn fill(opened: &Opened, run: Uuid, hour: &Hour) {
    let stream = StreamId(run);
    let head = opened.store.head(stream).unwrap().unwrap();
    opened.store.delete(stream, head).unwrap();
    let mut seq = 0;
    for portion in hour.turns.chunks(500) {
        let records: Vec<NewRecord> =
            portion.iter().flatten().map(|envelope| of_run(envelope, run)).collect();
        opened.store.append(stream, Expected::Exact(seq), &records).unwrap();
        seq += records.len() as u64;
    }
    opened.checkpoints.forget(stream);
    opened.checkpoints.put(stream, hour.checkpoint.0, &hour.checkpoint.1);
}

fn of_run(envelope: &Envelope, run: Uuid) -> NewRecord {
    let event_id = event_id(run, envelope.seq);
    let envelope = Envelope { run, event_id, ..envelope.clone() };
    NewRecord { event_id, payload: envelope.encode() }
}

async fn open_runs(bench: &Bench) -> Vec<Uuid> {
    let mut runs = Vec::new();
    while runs.len() < RUNS {
        let count = MOST_TEAMS.min(RUNS - runs.len());
        let teams: Vec<String> = (0..count).map(|n| format!("Team {}", runs.len() + n)).collect();
        let body = json!({ "drill": DRILL, "teams": teams, "hold": true }).to_string();
        let (status, text) = bench.http("POST", "/api/runs", Some(&bench.key), &body).await;
        assert_eq!(status, 201, "{text}");
        let opened: Value = serde_json::from_str(&text).unwrap();
        let ids = opened["runs"].as_array().unwrap().iter();
        runs.extend(ids.map(|run| run["run"].as_str().unwrap().parse::<Uuid>().unwrap()));
    }
    runs
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "takes a minute; measures"]
async fn a_hundred_runs_of_an_hour_come_back() {
    let folder = tempfile::tempdir().unwrap();
    let server = serve(folder.path()).await;
    let key = server.instructor_key().unwrap().to_owned();
    let bench = Bench { server, folder, key };
    let runs = open_runs(&bench).await;
    let Bench { server, folder, .. } = bench;
    server.stop().await;
    let hour = hour();
    let opened = open(folder.path(), &Options::default()).unwrap();
    runs.iter().for_each(|run| fill(&opened, *run, &hour));
    drop(opened);
    let events: usize = hour.turns.iter().map(Vec::len).sum();
    println!("{RUNS} runs, {events} events each; a checkpoint has {} bytes", hour.checkpoint.1.len());
    let began = Instant::now();
    let opened = open(folder.path(), &Options::default()).unwrap();
    println!("opening the store alone: {:.2} s, {}", began.elapsed().as_secs_f64(), opened.report);
    drop(opened);
    let began = Instant::now();
    let server = serve(folder.path()).await;
    let took = began.elapsed();
    assert_eq!(server.came_back().failed, []);
    assert_eq!(server.came_back().on_hold.len(), RUNS);
    for state in server.runs() {
        assert_eq!((state.tick, state.failed), (hour.tick, None));
        assert!(state.hold.is_some());
    }
    println!("{RUNS} runs back on hold after {:.2} s", took.as_secs_f64());
    assert!(cfg!(debug_assertions) || took < LIMIT, "{took:?}");
    server.stop().await;
}

//! What people try who mean no good, and what disks do.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod common;

use common::{Bench, Client, start_on};
use deadship_protocol::{ByeCode, ClientMessage, ErrorCode, Identity, ServerMessage, VERSION};
use deadship_server::{HOUSE_STREAM, StartError};
use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use uuid::Uuid;

/// Says hello and gives the code of the refusal.
async fn refused(bench: &Bench, identity: Identity) -> ErrorCode {
    let mut client = Client::connect(bench.address(), None).await;
    client.send(&ClientMessage::Hello { version: VERSION, identity, run: None, last_seq: None }).await;
    let ServerMessage::Error { code, .. } = client.next().await else { panic!("not refused") };
    let bye = client.next().await;
    assert!(matches!(bye, ServerMessage::Bye { code: ByeCode::Refused, .. }), "{bye:?}");
    code
}

fn join(code: &str, name: &str) -> Identity {
    Identity::Join { code: code.to_owned(), name: name.to_owned(), station: None }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_trainee_who_is_refused_does_not_lock_the_instructor_out() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], true).await;
    let iris = || Identity::Teach { key: bench.key.clone(), name: Some("Iris".to_owned()) };
    let (first, _) = Client::hello(bench.address(), iris(), Some(runs[0].run), None).await;
    assert_eq!(refused(&bench, join(&runs[0].code, "Iris")).await, ErrorCode::NameTaken);
    drop(first);
    Client::hello(bench.address(), iris(), Some(runs[0].run), None).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_loses_the_name_loses_the_seat() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red"], true).await;
    let (mut ada, _) = bench.join(&runs[0], "Ada", "pumps").await;
    assert!(matches!(teacher.line("free Ada").await, ServerMessage::Answer { .. }));
    let bye = ada.until(|message| matches!(message, ServerMessage::Bye { .. })).await;
    assert!(matches!(bye, ServerMessage::Bye { code: ByeCode::Replaced, .. }), "{bye:?}");
    bench.join(&runs[0], "Ada", "pumps").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn names_that_look_like_others_are_refused() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], true).await;
    for name in ["Ada\u{200b}", "\u{202e}adA", "instructor\u{feff}", "a\u{1b}[31m", "a\nb"] {
        assert_eq!(refused(&bench, join(&runs[0].code, name)).await, ErrorCode::BadName, "{name:?}");
    }
    bench.join(&runs[0], "Zoë Ñandú", "pumps").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn lines_cannot_command_terminals() {
    let bench = Bench::new().await;
    let (mut teacher, _) = bench.class(&["Red"], true).await;
    for line in ["note \u{1b}[2J", "note one\n0:00.0 plant: two", "note \u{9b}31m"] {
        assert_eq!(teacher.refused(line).await[0].0, "wrong-form", "{line:?}");
    }
    teacher.order("note with a tab:\there\n").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_greatest_number_of_an_event_is_no_trouble() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], true).await;
    let identity = Identity::Teach { key: bench.key.clone(), name: None };
    let (mut client, _) = Client::hello(bench.address(), identity, Some(runs[0].run), Some(u64::MAX)).await;
    client.send(&ClientMessage::Use { run: runs[0].run, last_seq: Some(u64::MAX) }).await;
    client.order("note here").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_query_that_cannot_be_read_is_answered_like_any_other_mistake() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], true).await;
    let path = format!("/api/runs/{}/events?from=first", runs[0].run);
    let (status, body) = bench.http("GET", &path, Some(&bench.key), "").await;
    assert!(status == 400 && body.contains("\"code\":\"bad-request\""), "{status} {body}");
}

fn archive_of(folder: &Path, run: Uuid) -> PathBuf {
    folder.join("archive").join(format!("{run}.jsonl"))
}

fn quarantined(folder: &Path, begins: &str) -> PathBuf {
    let files = fs::read_dir(folder.join("quarantine")).unwrap().map(|entry| entry.unwrap().path());
    let begins = |path: &PathBuf| path.file_name().unwrap().to_string_lossy().starts_with(begins);
    files.into_iter().find(begins).unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_run_whose_archive_has_lost_records_waits_for_them() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red", "Blue"], true).await;
    teacher.order("note the last word").await;
    let (red, run) = (archive_of(bench.folder.path(), runs[0].run), runs[0].run);
    let Bench { server, folder, .. } = bench;
    server.stop().await;
    let whole = fs::read(&red).unwrap();
    fs::write(&red, &whole[..whole.len() - 20]).unwrap();
    let server = start_on(folder.path()).await.unwrap();
    let came = server.came_back().clone();
    assert_eq!((came.on_hold.len(), came.failed.len()), (1, 1), "{came:?}");
    assert!(came.failed[0].1.contains("add that file"), "{came:?}");
    server.stop().await;
    // As told.
    let saved = fs::read(quarantined(folder.path(), &format!("{run}-from-"))).unwrap();
    fs::OpenOptions::new().append(true).open(&red).unwrap().write_all(&saved).unwrap();
    assert_eq!(fs::read(&red).unwrap(), whole);
    let server = start_on(folder.path()).await.unwrap();
    assert_eq!(server.came_back().on_hold.len(), 2);
    server.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_server_whose_own_records_are_lost_gives_them_back() {
    let bench = Bench::new().await;
    bench.class(&["Red"], true).await;
    let house = archive_of(bench.folder.path(), HOUSE_STREAM.0);
    let Bench { server, folder, .. } = bench;
    server.stop().await;
    let whole = fs::read(&house).unwrap();
    let mut damaged = whole.clone();
    damaged[200] ^= 1;
    fs::write(&house, damaged).unwrap();
    let error = start_on(folder.path()).await.err().unwrap();
    assert!(error.to_string().contains("move that file out of the archive folder"), "{error}");
    fs::remove_file(&house).unwrap();
    let error = start_on(folder.path()).await.err().unwrap();
    assert!(matches!(error, StartError::HouseLost { .. }), "{error}");
    fs::copy(quarantined(folder.path(), &HOUSE_STREAM.0.to_string()), &house).unwrap();
    assert_eq!(fs::read(&house).unwrap(), whole);
    let server = start_on(folder.path()).await.unwrap();
    assert!(!server.first_start());
    server.stop().await;
}

/// A log file on a full disk, or one that nobody reads: the server has something to complain about and serves.
#[cfg(target_os = "linux")]
#[test]
fn a_server_whose_log_cannot_be_written_serves() {
    let folder = tempfile::tempdir().unwrap();
    let server = || {
        let mut command = Command::new(env!("CARGO_BIN_EXE_deadship-server"));
        command.args(["--listen", "127.0.0.1:0", "--data"]).arg(folder.path()).stdout(Stdio::piped());
        command
    };
    let damaged = archive_of(folder.path(), Uuid::new_v4());
    fs::create_dir_all(damaged.parent().unwrap()).unwrap();
    fs::write(damaged, "no archive\n").unwrap();
    let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let mut child = server().stderr(full).spawn().unwrap();
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let served = lines.map_while(Result::ok).any(|line| line.contains("serving on"));
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(served);
}

//! What people try who mean no good, and what disks do.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod common;

use common::{Bench, Client, PATIENCE, start_on};
use deadship_protocol::{ByeCode, ClientMessage, ErrorCode, Identity, ServerMessage, VERSION};
use deadship_server::{HOUSE_STREAM, StartError};
use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;
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

/// A link that said hello and can take orders, to see that others are served.
async fn served(bench: &Bench, run: Uuid) {
    let mut other = bench.teach(Some(run)).await;
    other.order("note others are served").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn deep_nesting_is_a_wrong_frame_and_no_more() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red"], true).await;
    let (open, id) = ("[".repeat(15_000), Uuid::new_v4());
    let objects = "{\"a\":".repeat(3_000);
    let in_field = format!("{{\"type\":\"line\",\"id\":\"{id}\",\"text\":{}", "[".repeat(15_000));
    for frame in [open, objects, in_field, format!("{}{}", "[".repeat(8_000), "]".repeat(8_000))] {
        teacher.send_text(&frame).await;
        let error = teacher.until(|message| matches!(message, ServerMessage::Error { .. })).await;
        assert!(matches!(error, ServerMessage::Error { code: ErrorCode::BadFrame, .. }), "{error:?}");
    }
    teacher.order("note still here").await;
    served(&bench, runs[0].run).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_frame_of_ten_mebibytes_ends_the_link_and_no_other() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red"], true).await;
    // The server may close before all of it was sent.
    let _ = teacher.try_send_text(&"x".repeat(10 << 20)).await;
    while teacher.next_or_closed().await.is_some() {}
    served(&bench, runs[0].run).await;
}

/// The beginning of a WebSocket by hand, as far as the server's answer.
async fn upgraded(address: SocketAddr) -> TcpStream {
    let mut stream = TcpStream::connect(address).await.unwrap();
    let ask = format!(
        "GET /link HTTP/1.1\r\nHost: {address}\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n\
         Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
    );
    stream.write_all(ask.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    while !answer.ends_with(b"\r\n\r\n") {
        let byte = stream.read_u8().await.unwrap();
        answer.push(byte);
    }
    assert!(answer.starts_with(b"HTTP/1.1 101"), "{}", String::from_utf8_lossy(&answer));
    stream
}

/// Everything until the server closes.
async fn rest_of(stream: &mut TcpStream) -> Vec<u8> {
    let mut rest = Vec::new();
    // A reset is a close as well.
    let _ = tokio::time::timeout(PATIENCE, stream.read_to_end(&mut rest)).await.expect("closed in time");
    rest
}

#[tokio::test(flavor = "multi_thread")]
async fn half_closed_sockets_are_let_go() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], true).await;
    // Before hello, with half a frame, and with half a request.
    let mut silent = upgraded(bench.address()).await;
    silent.shutdown().await.unwrap();
    let mut torn = upgraded(bench.address()).await;
    torn.write_all(&[0x81, 0xfe, 0x10]).await.unwrap();
    torn.shutdown().await.unwrap();
    let mut request = TcpStream::connect(bench.address()).await.unwrap();
    request
        .write_all(b"POST /api/runs HTTP/1.1\r\nHost: test\r\nContent-Length: 500\r\n\r\n{\"dr")
        .await
        .unwrap();
    request.shutdown().await.unwrap();
    for stream in [&mut silent, &mut torn, &mut request] {
        rest_of(stream).await;
    }
    served(&bench, runs[0].run).await;
}

/// As many as the system lets one process have both ends of.
fn thousand() -> usize {
    let limits = fs::read_to_string("/proc/self/limits").unwrap_or_default();
    let files = limits.lines().find(|line| line.starts_with("Max open files"));
    let soft = files.and_then(|line| line.split_whitespace().nth(3)).and_then(|soft| soft.parse().ok());
    soft.map_or(300, |soft: usize| (soft.saturating_sub(200) / 2).min(1_000))
}

#[tokio::test(flavor = "multi_thread")]
async fn a_thousand_links_without_a_hello_are_closed_and_keep_nobody_out() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], true).await;
    let mut silent = Vec::new();
    for _ in 0..thousand() {
        silent.push(upgraded(bench.address()).await);
    }
    served(&bench, runs[0].run).await;
    bench.join(&runs[0], "Ada", "pumps").await;
    for stream in &mut silent {
        let rest = String::from_utf8_lossy(&rest_of(stream).await).into_owned();
        assert!(rest.contains("\"bye\"") && rest.contains("idle"), "{rest}");
    }
    served(&bench, runs[0].run).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_token_is_good_for_one_link_on_its_own_server_until_it_is_freed() {
    let (bench, elsewhere) = (Bench::new().await, Bench::new().await);
    let (mut teacher, runs) = bench.class(&["Red"], true).await;
    elsewhere.class(&["Red"], true).await;
    let (mut ada, welcome) = bench.join(&runs[0], "Ada", "pumps").await;
    let token = || Identity::Token { token: welcome.token.clone().unwrap() };
    assert_eq!(refused(&elsewhere, token()).await, ErrorCode::WrongToken);
    // Replayed: whoever has it sits there, and the one before is told so.
    let (mut again, _) = Client::hello(bench.address(), token(), None, None).await;
    let bye = ada.until(|message| matches!(message, ServerMessage::Bye { .. })).await;
    assert!(matches!(bye, ServerMessage::Bye { code: ByeCode::Replaced, .. }), "{bye:?}");
    assert!(matches!(again.line("who").await, ServerMessage::Answer { .. }));
    // A token is no code and no key, and one that is nearly right is wrong.
    let text = welcome.token.clone().unwrap();
    assert_eq!(refused(&bench, join(&text, "Bob")).await, ErrorCode::WrongCode);
    assert_eq!(refused(&bench, Identity::Teach { key: text.clone(), name: None }).await, ErrorCode::WrongKey);
    for wrong in [text.to_uppercase(), text[1..].to_owned(), format!("{text}0"), String::new()] {
        assert_eq!(refused(&bench, Identity::Token { token: wrong }).await, ErrorCode::WrongToken);
    }
    assert!(matches!(teacher.line("free Ada").await, ServerMessage::Answer { .. }));
    assert_eq!(refused(&bench, token()).await, ErrorCode::WrongToken);
}

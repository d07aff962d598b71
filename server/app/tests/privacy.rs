//! Removing a person, and runs that were kept for long enough; what is left still serves.

mod common;

use common::{Bench, start_on};
use deadship_protocol::ServerMessage;
use deadship_server::{Config, start};
use deadship_store::archive::ArchiveWriter;
use deadship_store::{NewRecord, appends_of};
use std::fs;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Runs the program on a data folder; gives its exit status and what it said.
fn program(data: &Path, words: &[&str]) -> (i32, String) {
    let run =
        Command::new(env!("CARGO_BIN_EXE_deadship-server")).args(words).arg("--data").arg(data).output();
    let output = run.expect("the program runs");
    let said =
        String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    (output.status.code().unwrap_or(-1), said)
}

/// Files of a folder, at any depth, that hold these bytes.
fn holding(folder: &Path, bytes: &[u8]) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.extend(holding(&path, bytes));
        } else if fs::read(&path).expect("a file").windows(bytes.len()).any(|window| window == bytes) {
            found.push(path);
        }
    }
    found
}

fn archive(data: &Path, run: uuid::Uuid) -> PathBuf {
    data.join("archive").join(format!("{run}.jsonl"))
}

#[tokio::test(flavor = "multi_thread")]
async fn a_forgotten_person_is_nowhere_and_the_rest_goes_on() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red", "Blue"], false).await;
    let (mut bella, welcome) = bench.join(&runs[0], "Bella Quorn", "pumps").await;
    bella.order("open header.valve").await;
    bella.order("say Quorn here").await;
    teacher.order("note Bella Quorn was quick").await;
    let (mut cy, _) = bench.join(&runs[1], "Cy", "pumps").await;
    cy.order("say all well").await;
    let Bench { server, folder, key } = bench;
    let data = folder.path();
    let (status, said) = program(data, &["forget", "Bella Quorn"]);
    assert!(status == 2 && said.contains("in use"), "a server that serves keeps its folder: {said}");
    server.stop().await;

    fs::create_dir_all(data.join("quarantine")).unwrap();
    fs::write(data.join("quarantine/cut.jsonl"), "what Bella Quorn did").unwrap();
    let blue = fs::read(archive(data, runs[1].run)).unwrap();
    let (status, said) = program(data, &["forget", "bella quorn"]);
    assert!(status == 0 && said.contains("Red (tank)") && said.contains("Nothing was changed"), "{said}");
    assert!(!holding(&data.join("archive"), b"Quorn").is_empty(), "it was only shown");
    let (status, said) = program(data, &["forget", "Bella Quorn", "--yes"]);
    assert!(status == 0 && said.contains("anonymous-1") && said.contains("all else is the same"), "{said}");
    assert!(said.contains("cut.jsonl") && said.contains("Backups"), "{said}");
    assert_eq!((holding(data, b"Quorn"), holding(data, b"Bella")), (vec![], vec![]));
    assert_eq!(
        fs::read(archive(data, runs[1].run)).unwrap(),
        blue,
        "the other run is as it was, to the byte"
    );
    let (status, said) = program(data, &["verify", "--replay"]);
    assert!(status == 0 && said.contains("digests are the same"), "{said}");
    let (status, said) = program(data, &["forget", "Bella Quorn", "--yes"]);
    assert!(status == 0 && said.contains("No record"), "{said}");

    // The runs come back, the seat is gone with its token, and the record says that something was removed.
    let server = start_on(data).await.unwrap();
    assert_eq!(server.came_back().failed, []);
    let bench = Bench { server, folder, key };
    let token = deadship_protocol::Identity::Token { token: welcome.token.unwrap() };
    let (_, answer) = common::Client::ask_in(bench.address(), token, None, None).await;
    assert!(!matches!(answer, ServerMessage::Welcome(_)), "her token is no longer good");
    let log = bench.http("GET", &format!("/api/runs/{}/archive", runs[0].run), Some(&bench.key), "").await.1;
    assert!(log.contains("person-removed") && !log.contains("Quorn"), "{log}");
}

/// The same archive with every instant in an earlier year, by hand: the chain is computed again.
fn backdate(file: &Path) {
    let (stream, appends) = appends_of(file).expect("an archive");
    fs::remove_file(file).expect("an archive");
    let mut writer = ArchiveWriter::create(file, stream).expect("an archive");
    let year = chrono::Utc::now().format("\"at\":\"%Y-").to_string();
    for append in appends {
        let old = |record: deadship_store::Record| NewRecord {
            event_id: record.event_id,
            payload: record.payload.replace(&year, "\"at\":\"2001-"),
        };
        writer.append(&append.into_iter().map(old).collect::<Vec<_>>()).expect("an archive");
    }
    writer.finish().expect("an archive");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_kept_for_long_enough_goes_at_the_start_unless_all_would() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red", "Blue"], false).await;
    let (mut bella, _) = bench.join(&runs[0], "Bella Quorn", "pumps").await;
    bella.order("open header.valve").await;
    let Bench { server, folder, .. } = bench;
    server.stop().await;
    let data = folder.path();
    backdate(&archive(data, runs[0].run));
    // What was copied for reading is not the archive any more.
    fs::remove_dir_all(data.join("reads")).unwrap();
    let (status, said) = program(data, &["expire", "100000"]);
    assert!(status == 0 && said.contains("none is older"), "{said}");
    let (status, said) = program(data, &["expire", "30"]);
    assert!(status == 0 && said.contains("Red (tank)") && said.contains("1 of 2 runs would"), "{said}");

    let listen = SocketAddr::from(([127, 0, 0, 1], 0));
    let config = Config {
        listen,
        data: data.to_owned(),
        library: common::library(),
        new_key: false,
        tls: false,
        keep_days: Some(30),
        team_sees_ratings: None,
    };
    let server = start(config.clone()).await.unwrap();
    let left: Vec<String> = server.runs().into_iter().map(|run| run.team).collect();
    assert_eq!(left, ["Blue"]);
    server.stop().await;
    assert_eq!((holding(data, b"Quorn"), archive(data, runs[0].run).exists()), (vec![], false));

    // All at once: that is how a wrong clock looks.
    backdate(&archive(data, runs[1].run));
    fs::remove_dir_all(data.join("reads")).unwrap();
    let server = start(config).await.unwrap();
    assert_eq!(server.runs().len(), 1);
    server.stop().await;
    let (status, said) = program(data, &["expire", "30", "--yes"]);
    assert!(status == 0 && said.contains("1 of 1 runs are removed"), "{said}");
    let (status, said) = program(data, &["verify"]);
    assert!(status == 0 && said.contains("the server's own records") && !said.contains("Blue"), "{said}");
}

#[test]
fn archives_elsewhere_can_be_rid_of_a_name_and_damaged_ones_are_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("run.jsonl");
    fs::write(&file, "{\"deadship\":\"no archive\"}\n").unwrap();
    let words = ["forget", "Bella", file.to_str().unwrap(), "--yes"];
    let (status, said) = program(folder.path(), &words);
    assert!(status == 1 && said.contains("NOT LOOKED AT") && said.contains("docs/privacy.md"), "{said}");
    assert_eq!(fs::read_to_string(&file).unwrap(), "{\"deadship\":\"no archive\"}\n");
    let (status, said) = program(&folder.path().join("none"), &["forget", "Bella"]);
    assert!(status == 2 && said.contains("FORMAT"), "{said}");
}

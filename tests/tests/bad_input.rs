//! Bad input from the outside: a clear word that names the thing and the remedy, exit status 2, and nothing lost.

use deadship_protocol::{ClientMessage, Identity, ServerMessage, VERSION};
use deadship_tests::server::ServerProcess;
use deadship_tests::{Said, run};
use serde_json::json;
use std::net::TcpListener;

fn client(args: &[&str]) -> Said {
    run(env!("CARGO_BIN_EXE_deadship-under-test"), args)
}

fn server(args: &[&str]) -> Said {
    run(env!("CARGO_BIN_EXE_deadship-server-under-test"), args)
}

fn says(said: &Said, status: i32, words: &[&str]) {
    assert_eq!(said.status, status, "{}{}", said.out, said.err);
    let all = format!("{}{}", said.out, said.err);
    for word in words {
        assert!(all.contains(word), "'{word}' is not in: {all}");
    }
}

#[test]
fn unknown_names_are_answered_with_the_nearest() {
    says(&client(&["rehearse", "first-lihgt"]), 2, &["first-lihgt", "first-light"]);
    says(&client(&["rehearse", "first-light", "--crew", "nobody"]), 2, &["nobody"]);
    says(
        &client(&["trial", "quilmere", "--for", "1s", "--every", "1s", "--readings", "x.y"]),
        2,
        &["quillmere"],
    );
    let args = ["trial", "quillmere", "--for", "1s", "--every", "1s", "--readings", "dg1.engin.speed"];
    says(&client(&args), 2, &["dg1.engin.speed", "dg1.engine.speed"]);
    says(
        &client(&["trial", "quillmere", "--for", "eternity", "--every", "1s", "--readings", "*"]),
        2,
        &["eternity"],
    );
}

#[test]
fn all_mistakes_of_a_file_are_named_at_once_with_their_place() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("bad.toml");
    let text = "format = 1\n[rig]\ntitle = \"bad\"\n\n[[node]]\nname = \"a\"\nnet = \"fresh wather\"\n\n[[tank]]\nname = \"t\"\nliquid = \"b\"\ncapacity = \"3 bar\"\nheigth = \"1 m\"\n";
    std::fs::write(&file, text).expect("written");
    let said = client(&["check", &file.display().to_string()]);
    says(&said, 1, &["bad.toml:7:", "fresh water", "bad.toml:12:", "bad.toml:13:", "height"]);
}

#[test]
fn a_damaged_archive_is_named_with_its_line() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("run.jsonl").display().to_string();
    says(
        &client(&["rehearse", "first-light", "--crew", "idle", "--record", &file, "--quiet"]),
        1,
        &["digest"],
    );
    let whole = std::fs::read_to_string(&file).expect("the archive");
    let damaged = whole.replacen("quillmere", "quillmore", 1);
    assert_ne!(whole, damaged);
    std::fs::write(&file, damaged).expect("written");
    says(&client(&["timeline", &file]), 2, &["run.jsonl", "line"]);
    std::fs::write(&file, &whole[..whole.len() / 2]).expect("written");
    says(&client(&["replay", &file, "--verify"]), 2, &["run.jsonl"]);
    std::fs::write(&file, "nonsense\n").expect("written");
    says(&client(&["replay", &file, "--at", "1m"]), 2, &["run.jsonl"]);
    says(&client(&["timeline", "/nowhere/run.jsonl"]), 2, &["/nowhere/run.jsonl"]);
}

#[test]
fn a_server_that_cannot_start_says_why() {
    let taken = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = taken.local_addr().expect("an address").to_string();
    let folder = tempfile::tempdir().expect("a folder");
    let data = folder.path().join("data").display().to_string();
    says(&server(&["--listen", &address, "--data", &data]), 2, &[&address, "in use", "--listen"]);
    // A data folder that a newer version wrote.
    std::fs::create_dir_all(&data).expect("made");
    drop(ServerProcess::start(env!("CARGO_BIN_EXE_deadship-server-under-test"), data.as_ref()));
    let format = folder.path().join("data/FORMAT");
    let text = std::fs::read_to_string(&format).expect("the format");
    let newer: String = text.chars().map(|c| if c.is_ascii_digit() { '9' } else { c }).collect();
    assert_ne!(text, newer);
    std::fs::write(&format, newer).expect("written");
    says(&server(&["--listen", "127.0.0.1:0", "--data", &data]), 2, &["newer", "data"]);
    // A folder that cannot be one.
    says(&server(&["--listen", "127.0.0.1:0", "--data", "/dev/null/x"]), 2, &["/dev/null"]);
}

#[tokio::test]
async fn nonsense_on_a_link_harms_nobody_else() {
    let folder = tempfile::tempdir().expect("a folder");
    let server = ServerProcess::start(env!("CARGO_BIN_EXE_deadship-server-under-test"), folder.path());
    let key = server.key();
    let (status, text) =
        server.rest("POST", "/api/runs", &key, Some(&json!({ "drill": "first-light", "teams": ["Green"] })));
    assert_eq!(status, 201, "{text}");
    let opened: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let code = opened["runs"][0]["code"].as_str().expect("a code").to_owned();
    let join =
        |name: &str| Identity::Join { code: code.clone(), name: name.into(), station: Some("engine".into()) };
    let mut good = server.link(join("Ada"), None, None).await;
    good.wait("welcome", |message| matches!(message, ServerMessage::Welcome(_)).then_some(())).await;

    for frame in ["", "{", "[]", "{\"type\":\"hello\"}", "{\"type\":\"fly\"}", "null", "\u{0}\u{1}"] {
        let mut bad = server.link(join("Bob"), None, None).await;
        bad.send_text(frame.into()).await;
        // An error, or a goodbye; never silence, never a fall.
        bad.wait("an answer to nonsense", |message| {
            matches!(message, ServerMessage::Error { .. } | ServerMessage::Bye { .. }).then_some(())
        })
        .await;
    }
    let mut huge = server.link(join("Hugo"), None, None).await;
    huge.send_text("x".repeat(10 * 1024 * 1024)).await;
    while huge.next().await.is_some() {}

    let mut wrong = server.link(Identity::Teach { key: "AAAA-BBBB".into(), name: None }, None, None).await;
    wrong.wait("a refusal", |message| matches!(message, ServerMessage::Error { .. }).then_some(())).await;
    let mut old = server.link(join("Old"), None, None).await;
    old.send(&ClientMessage::Hello {
        version: VERSION + 1,
        identity: join("Old"),
        run: None,
        last_seq: None,
    })
    .await;

    // A trainee orders what is the instructor's, and what does not exist: refused or told, and the run goes on.
    for (line, word) in [
        ("fault dg1.engine.governor-sticks", "not-your-role"),
        ("open sea.chest.low.valv", "sea.chest.low.valve"),
        ("open sea.chest.low.valve", "on-hold"),
        ("set dg1.generator voltage 440 bar", "V"),
    ] {
        let reply = good.line(line).await;
        let text = format!("{reply:?}");
        assert!(!matches!(reply, ServerMessage::Accepted { .. }) && text.contains(word), "{line}: {text}");
    }
    let reply = good.line("say still here").await;
    assert!(matches!(reply, ServerMessage::Accepted { .. }), "{reply:?}");
    let (status, health) = server.rest("GET", "/api/healthz", &key, None);
    assert!(status == 200 && health.contains("\"failed\":0"), "{health}");
}

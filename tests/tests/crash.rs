//! The server is killed with SIGKILL at twenty seeded moments while a team works: no acknowledged command is lost, the
//! log has no gap, the run comes back on hold, and the log replays to the same digests.

use deadship_protocol::{ClientMessage, Identity, ServerMessage};
use deadship_tests::run;
use deadship_tests::server::{Link, ServerProcess};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use uuid::Uuid;

const KILLS: u64 = 20;
/// Lines that may wait for their acknowledgement at a time.
const IN_FLIGHT: usize = 6;
/// The plant goes on for at least so long between two kills: a digest is recorded every hundred ticks.
const TICKS_A_ROUND: u64 = 150;

/// A small generator (SplitMix64, public domain), so that a failure names its seed.
struct Seeded(u64);

impl Seeded {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) % n
    }
}

fn json_of(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|error| panic!("{error} in {text}"))
}

fn open_run(server: &ServerProcess, key: &str) -> (Uuid, String) {
    let body = json!({ "drill": "first-light", "teams": ["Red"], "hold": false });
    let (status, text) = server.rest("POST", "/api/runs", key, Some(&body));
    assert_eq!(status, 201, "{text}");
    let opened = json_of(&text);
    let run = &opened["runs"][0];
    let id = run["run"].as_str().and_then(|id| id.parse().ok()).expect("an id");
    (id, run["code"].as_str().expect("a code").to_owned())
}

/// Sends unique lines until so many are acknowledged and the plant has gone on for so many ticks; what was
/// acknowledged goes into `acked` as seq -> text.
async fn work(link: &mut Link, round: u64, wanted: usize, acked: &mut BTreeMap<u64, String>) {
    let mut waiting: BTreeMap<Uuid, String> = BTreeMap::new();
    let (mut sent, mut done) = (0, 0);
    let mut ticks: Option<(u64, u64)> = None;
    let _ = link.line("watch eg.engine.speed").await;
    while done < wanted || ticks.is_none_or(|(first, last)| last < first + TICKS_A_ROUND) {
        while done < wanted && waiting.len() < IN_FLIGHT {
            let text = format!("round {round} word {sent}");
            let id = Uuid::new_v4();
            link.send(&ClientMessage::Line { id, text: format!("say {text}") }).await;
            waiting.insert(id, text);
            sent += 1;
        }
        match link.next().await.expect("the link stands until the server is killed") {
            ServerMessage::Accepted { id, seq } => {
                let text = waiting.remove(&id).expect("one acknowledgement a line");
                assert!(acked.insert(seq, text).is_none(), "seq {seq} was acknowledged twice");
                done += 1;
            }
            ServerMessage::Gauges(gauges) => {
                let first = ticks.map_or(gauges.tick, |(first, _)| first);
                ticks = Some((first, gauges.tick));
            }
            ServerMessage::Refused { reasons, .. } => panic!("refused: {reasons:?}"),
            ServerMessage::Error { text, .. } => panic!("error: {text}"),
            _ => {}
        }
    }
}

fn check_log(server: &ServerProcess, key: &str, run: Uuid, acked: &BTreeMap<u64, String>) -> u64 {
    let (status, text) = server.rest("GET", &format!("/api/runs/{run}/events?from=1&limit=10000"), key, None);
    assert_eq!(status, 200, "{text}");
    let mut last = 0;
    let mut said: BTreeMap<u64, String> = BTreeMap::new();
    for line in text.lines() {
        let event = json_of(line);
        let seq = event["seq"].as_u64().expect("a seq");
        assert_eq!(seq, last + 1, "the log has a gap");
        last = seq;
        said.insert(seq, line.to_owned());
    }
    for (seq, text) in acked {
        let event = said.get(seq).unwrap_or_else(|| panic!("acknowledged event {seq} ('{text}') is lost"));
        assert!(event.contains(text.as_str()), "event {seq} is not '{text}' but {event}");
    }
    last
}

#[tokio::test]
async fn nothing_acknowledged_is_lost_by_twenty_kills() {
    let folder = tempfile::tempdir().expect("a folder");
    let data = folder.path().join("data");
    let program = env!("CARGO_BIN_EXE_deadship-server-under-test");
    let server = ServerProcess::start(program, &data);
    let key = server.key();
    let (run_id, code) = open_run(&server, &key);
    let mut acked = BTreeMap::new();
    let mut link = server
        .link(Identity::Join { code, name: "Ada".into(), station: Some("engine".into()) }, None, None)
        .await;
    let token = link
        .wait("a token", |message| match message {
            ServerMessage::Welcome(welcome) => welcome.token.clone(),
            _ => None,
        })
        .await;
    let mut server = Some(server);
    for round in 0..KILLS {
        let mut seeded = Seeded(round);
        let wanted = 1 + seeded.below(12) as usize;
        work(&mut link, round, wanted, &mut acked).await;
        // Killed right after an acknowledgement, with others under way.
        server.take().expect("it runs").kill();
        let next = ServerProcess::start(program, &data);
        assert!(next.printed.contains("on hold"), "{}", next.printed);
        let last = check_log(&next, &key, run_id, &acked);
        let (_, state) = next.rest("GET", &format!("/api/runs/{run_id}"), &key, None);
        assert!(state.contains("\"hold\""), "round {round}: {state}");
        for text in ["resume", "speed 20"] {
            let body = json!({ "text": text });
            let (status, answer) = next.rest("POST", &format!("/api/runs/{run_id}/line"), &key, Some(&body));
            assert!(
                status == 200 && (text != "resume" || answer.contains("accepted")),
                "round {round}: {answer}"
            );
        }
        link = next.link(Identity::Token { token: token.clone() }, None, Some(last)).await;
        link.wait("welcome", |message| matches!(message, ServerMessage::Welcome(_)).then_some(())).await;
        server = Some(next);
    }
    let server = server.expect("it runs");
    let (status, archive) = server.rest("GET", &format!("/api/runs/{run_id}/archive"), &key, None);
    assert_eq!(status, 200);
    let file = folder.path().join("run.jsonl");
    std::fs::write(&file, archive).expect("written");
    let client = env!("CARGO_BIN_EXE_deadship-under-test");
    let said = run(client, &["replay", &file.display().to_string(), "--verify"]);
    assert_eq!(said.status, 0, "{}{}", said.out, said.err);
    println!("{} acknowledged over {KILLS} kills; {}", acked.len(), said.out.trim());
}

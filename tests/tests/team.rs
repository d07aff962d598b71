//! Three people and an instructor do the first drill by hand, over real sockets, on a real server: with the drill's
//! three faults and one more that the instructor sets and lifts. Then the log is read, replayed and verified.

use deadship_protocol::{ClientMessage, Identity, ServerMessage};
use deadship_tests::first_light::{PASSING, Step, boards, emergency, engine};
use deadship_tests::run;
use deadship_tests::server::{Link, ServerProcess, reply_to};
use serde_json::{Value, json};
use std::collections::{BTreeMap, VecDeque};
use uuid::Uuid;

use Step::Do;

struct Person {
    link: Link,
    steps: VecDeque<Step>,
    waiting: Option<Uuid>,
    gauges: BTreeMap<String, String>,
    ended: Option<String>,
}

impl Person {
    async fn join(server: &ServerProcess, code: &str, name: &str, station: &str, steps: Vec<Step>) -> Person {
        let identity = Identity::Join { code: code.into(), name: name.into(), station: Some(station.into()) };
        let mut link = server.link(identity, None, None).await;
        link.wait("welcome", |message| matches!(message, ServerMessage::Welcome(_)).then_some(())).await;
        let watched: Vec<&str> = steps.iter().filter_map(Step::reading).collect();
        let reply = link.line(&format!("watch eg.engine.speed {}", watched.join(" "))).await;
        assert!(matches!(reply, ServerMessage::Answer { .. }), "{reply:?}");
        Person { link, steps: steps.into(), waiting: None, gauges: BTreeMap::new(), ended: None }
    }

    /// Goes on until the run is over.
    async fn work(mut self) -> String {
        while self.ended.is_none() {
            self.next_step().await;
            let Some(message) = self.link.next().await else { return "the link ended".into() };
            self.hear(message);
        }
        self.ended.unwrap_or_default()
    }

    async fn next_step(&mut self) {
        while self.waiting.is_none() {
            let passed = match self.steps.front() {
                None => return,
                Some(Do(order)) => {
                    let id = Uuid::new_v4();
                    self.waiting = Some(id);
                    self.link.send(&ClientMessage::Line { id, text: (*order).into() }).await;
                    false
                }
                Some(step) => step.is_seen(|name| self.gauges.get(name).cloned()),
            };
            if !passed {
                return;
            }
            self.steps.pop_front();
        }
    }

    fn hear(&mut self, message: ServerMessage) {
        let mine = self.waiting.is_some() && reply_to(&message) == self.waiting;
        match message {
            ServerMessage::Gauges(gauges) => {
                // A refused order is tried again with the next readings, so that nothing is flooded.
                for gauge in gauges.readings {
                    self.gauges.insert(gauge.name, gauge.text);
                }
                if self.waiting == Some(Uuid::nil()) {
                    self.waiting = None;
                }
            }
            ServerMessage::Accepted { .. } if mine => {
                self.steps.pop_front();
                self.waiting = None;
            }
            ServerMessage::Refused { reasons, .. } if mine => {
                let already =
                    reasons.iter().all(|r| r.code.starts_with("already-") || r.code.starts_with("nothing-"));
                let passing = reasons.iter().all(|r| PASSING.contains(&r.code.as_str()));
                assert!(already || passing, "refused for good: {reasons:?}");
                if already {
                    self.steps.pop_front();
                }
                self.waiting = if already { None } else { Some(Uuid::nil()) };
            }
            ServerMessage::Busy { .. } if mine => self.waiting = Some(Uuid::nil()),
            ServerMessage::Error { code, text, .. } if mine => {
                assert_eq!(format!("{code:?}"), "TooFast", "{text}");
                self.waiting = Some(Uuid::nil());
            }
            ServerMessage::Event(event) if event.kind == "run-ended" => self.ended = Some(event.text),
            _ => {}
        }
    }
}

fn open(server: &ServerProcess, key: &str) -> (Uuid, String) {
    let body = json!({ "drill": "first-light", "teams": ["Blue"], "hold": true });
    let (status, text) = server.rest("POST", "/api/runs", key, Some(&body));
    assert_eq!(status, 201, "{text}");
    let opened: Value = serde_json::from_str(&text).expect("JSON");
    let run = &opened["runs"][0];
    (
        run["run"].as_str().and_then(|id| id.parse().ok()).expect("an id"),
        run["code"].as_str().expect("a code").into(),
    )
}

async fn must(link: &mut Link, line: &str) {
    let reply = link.line(line).await;
    assert!(matches!(reply, ServerMessage::Accepted { .. }), "{line}: {reply:?}");
}

#[tokio::test]
async fn a_team_brings_a_dead_ship_back_by_hand() {
    let folder = tempfile::tempdir().expect("a folder");
    let server =
        ServerProcess::start(env!("CARGO_BIN_EXE_deadship-server-under-test"), &folder.path().join("data"));
    let key = server.key();
    let (run_id, code) = open(&server, &key);
    let teach = Identity::Teach { key: key.clone(), name: None };
    let mut instructor = server.link(teach, Some(run_id), None).await;
    instructor.wait("welcome", |message| matches!(message, ServerMessage::Welcome(_)).then_some(())).await;
    let people = [
        Person::join(&server, &code, "Ada", "engine", engine()).await,
        Person::join(&server, &code, "Ben", "boards", boards()).await,
        Person::join(&server, &code, "Cleo", "emergency", emergency()).await,
    ];
    must(&mut instructor, "speed 60").await;
    must(&mut instructor, "resume").await;
    // Besides the drill's three: weed on the low sea chest, lifted again.
    must(&mut instructor, "fault sea.chest.low.weed 30 % over 10 s").await;
    must(&mut instructor, "note weed on the chest while they make air").await;
    must(&mut instructor, "lift sea.chest.low.weed").await;
    let mut working: Vec<_> = people.into_iter().map(|person| tokio::spawn(person.work())).collect();
    for person in &mut working {
        let ended = person.await.expect("nobody gives up");
        assert!(ended.contains("the aim is reached"), "{ended}");
    }
    let (status, archive) = server.rest("GET", &format!("/api/runs/{run_id}/archive"), &key, None);
    assert_eq!(status, 200);
    let file = folder.path().join("run.jsonl");
    std::fs::write(&file, archive).expect("written");
    read_the_log(&file.display().to_string());
    read_from_the_server(&server, &key, run_id);
}

fn read_the_log(file: &str) {
    let client = env!("CARGO_BIN_EXE_deadship-under-test");
    let timeline = run(client, &["timeline", file, "--all"]);
    assert_eq!(timeline.status, 0, "{}", timeline.err);
    for words in [
        "sets the fault dg1.sump.drain.works-loose",
        "sets the fault air.compressor.emergency.overload-relay-trips",
        "sea.pump.harbour",
        "sets the fault sea.chest.low.weed",
        "the aim is reached",
    ] {
        assert!(timeline.out.contains(words), "'{words}' is not in the timeline:\n{}", timeline.out);
    }
    let verified = run(client, &["replay", file, "--verify"]);
    assert_eq!(verified.status, 0, "{}{}", verified.out, verified.err);
    println!("{}", verified.out.trim());
    let dead = run(client, &["replay", file, "--at", "30s", "--readings", "dg1.engine.speed"]);
    assert!(dead.status == 0 && dead.out.contains("0 rpm"), "{}{}", dead.out, dead.err);
}

/// The same log, named on the server.
fn read_from_the_server(server: &ServerProcess, key: &str, run_id: Uuid) {
    let client = env!("CARGO_BIN_EXE_deadship-under-test");
    let id = run_id.to_string();
    let args = ["timeline", &id, "--server", &server.address, "--key", key];
    let said = run(client, &args);
    assert!(said.status == 0 && said.out.contains("the aim is reached"), "{}{}", said.out, said.err);
    let args = ["replay", &id, "--verify", "--server", &server.address, "--key", key];
    let said = run(client, &args);
    assert_eq!(said.status, 0, "{}{}", said.out, said.err);
}

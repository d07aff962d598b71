//! Three people and an instructor do the first drill by hand, over real sockets, on a real server: with the drill's
//! three faults and one more that the instructor sets and lifts. Then the log is read, replayed and verified.

use deadship_protocol::{ClientMessage, Identity, ServerMessage};
use deadship_tests::run;
use deadship_tests::server::{Link, ServerProcess, reply_to};
use serde_json::{Value, json};
use std::collections::{BTreeMap, VecDeque};
use uuid::Uuid;

/// What one of the team does next.
enum Step {
    /// Give this order, again and again while hands are busy or something is not ready yet.
    Do(&'static str),
    /// Wait until a reading is above a number.
    Above(&'static str, f64),
    /// Wait until a reading shows a word.
    Shows(&'static str, &'static str),
}
use Step::{Above, Do, Shows};

fn engine() -> Vec<Step> {
    vec![
        Do("go generator-flat"),
        Do("close air.receiver.emergency.drain"),
        Do("start air.compressor.emergency"),
        Do("start dg1.priming"),
        Shows("dg1.sump.tank.volume", "399 L"),
        Do("stop dg1.priming"),
        Do("close dg1.sump.drain"),
        Do("open dg1.sump.filling"),
        Do("open fw.expansion.filling"),
        Do("open dg1.ht.valve"),
        Do("open dg1.lt.valve"),
        Shows("air.compressor.emergency.overload-tripped", "yes"),
        Do("reset air.compressor.emergency"),
        Do("start air.compressor.emergency"),
        Above("dg1.sump.tank.volume", 505.0),
        Do("close dg1.sump.filling"),
        Do("start dg1.priming"),
        Do("go purifier-flat"),
        Do("reset fuel.diesel.quick-closing"),
        Do("open fuel.diesel.quick-closing"),
        Do("go generator-flat"),
        Do("set fuel.changeover diesel"),
        Do("open dg1.fuel.valve"),
        Do("open dg1.fuel.standby"),
        Do("start fuel.pump.standby"),
        Do("close fw.expansion.filling"),
        Do("go floor-plates"),
        Do("open sea.chest.low.valve"),
        Do("open dg1.sea.inlet"),
        Do("open dg1.sea.outlet"),
        Do("open sea.overboard.valve"),
        Do("close sea.me.valve"),
        Do("start sea.pump.harbour"),
        Do("go generator-flat"),
        Do("open air.receiver.emergency.valve"),
        Do("open dg1.air.valve"),
        Do("set dg1.controls turning-gear out"),
        Do("reset dg1.controls"),
        Above("dg1.engine.start-air-pressure", 18.0),
        Shows("dg1.controls.primed", "yes"),
        Do("start dg1.controls"),
        Shows("dg1.controls.phase", "running"),
        Do("set dg1.controls remote"),
        Do("set dg1.priming.switch automatic"),
        Do("say DG 1 runs, control is remote"),
    ]
}

fn boards() -> Vec<Step> {
    vec![
        Shows("dg1.controls.phase", "running"),
        Shows("dg1.controls.control", "remote"),
        Do("set dg1.generator excitation on"),
        Above("dg1.generator.voltage", 430.0),
        Do("start msb.insulation"),
        Do("close dg1.breaker"),
        Do("set esb.transfer normal"),
        Shows("esb.transfer.supply", "normal"),
        Do("close panel.1.breaker"),
        Do("close panel.2.breaker"),
        Do("start sea.pump.1"),
        Do("start sea.pump.harbour"),
        Do("close transformer.1"),
        Do("close board.1.breaker"),
        Do("close board.2.breaker"),
        Do("start fan.engine-room.1"),
        Do("start fan.engine-room.2"),
        Do("start fan.purifier-room"),
        Do("start fan.accommodation"),
        Do("start fan.control-rooms"),
        Do("ack all"),
        Do("set dg1.standby automatic"),
    ]
}

fn emergency() -> Vec<Step> {
    vec![
        Do("go emergency-room"),
        Shows("esb.transfer.supply", "normal"),
        Do("set eg.controls local"),
        Above("eg.controls.unloaded-for", 180.0),
        Do("stop eg.controls"),
        Shows("eg.controls.phase", "stopped"),
        Do("set eg.controls remote"),
    ]
}

/// Refusals that pass by themselves.
const PASSING: &[&str] = &[
    "busy",
    "walking",
    "not-here",
    "normal-not-steady",
    "normal-not-available",
    "blocking-alert",
    "not-primed",
];

struct Person {
    link: Link,
    steps: VecDeque<Step>,
    waiting: Option<Uuid>,
    gauges: BTreeMap<String, String>,
    ended: Option<String>,
}

fn number(text: &str) -> f64 {
    text.split(' ').next().and_then(|number| number.parse().ok()).unwrap_or(f64::NAN)
}

impl Person {
    async fn join(server: &ServerProcess, code: &str, name: &str, station: &str, steps: Vec<Step>) -> Person {
        let identity = Identity::Join { code: code.into(), name: name.into(), station: Some(station.into()) };
        let mut link = server.link(identity, None, None).await;
        link.wait("welcome", |message| matches!(message, ServerMessage::Welcome(_)).then_some(())).await;
        let watched: Vec<&str> = steps
            .iter()
            .filter_map(|step| match step {
                Above(reading, _) | Shows(reading, _) => Some(*reading),
                Do(_) => None,
            })
            .collect();
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
                Some(Above(reading, limit)) => {
                    self.gauges.get(*reading).is_some_and(|text| number(text) > *limit)
                }
                // The level at the alarm is passed, not hit.
                Some(Shows("dg1.sump.tank.volume", limit)) => {
                    self.gauges.get("dg1.sump.tank.volume").is_some_and(|text| number(text) <= number(limit))
                }
                Some(Shows(reading, word)) => self.gauges.get(*reading).is_some_and(|text| text == word),
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

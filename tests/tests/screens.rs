//! A team of three and an instructor complete the first drill at the client itself: by keys on real terminals, and line
//! by line as a script does it. A link of the test's own tells when a step can be done; every act goes through hands.

use deadship_protocol::{Identity, ServerMessage};
use deadship_tests::album::{Album, Part};
use deadship_tests::first_light::{PASSING, Step, boards, emergency, engine};
use deadship_tests::hands::{Hands, Pane, Plain, Tmux};
use deadship_tests::server::{Link, ServerProcess};
use serde_json::Value;
use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;
use uuid::Uuid;

const CLIENT: &str = env!("CARGO_BIN_EXE_deadship-under-test");
const SERVER: &str = env!("CARGO_BIN_EXE_deadship-server-under-test");

/// Somebody of the team.
struct Person<H: Hands> {
    hands: H,
    who: String,
    steps: VecDeque<Step>,
    /// The line that was typed and has not come to anything yet.
    typed: Option<&'static str>,
}

impl<H: Hands> Person<H> {
    fn new(hands: H, name: &str, station: &str, steps: Vec<Step>) -> Person<H> {
        Person { hands, who: format!("{name} ({station})"), steps: steps.into(), typed: None }
    }

    /// Goes as far as it can be gone now.
    fn go_on(&mut self, gauges: &BTreeMap<String, String>) {
        while self.typed.is_none() {
            match self.steps.front() {
                None => return,
                Some(Step::Do(line)) => {
                    self.hands.line(line);
                    self.typed = Some(line);
                }
                Some(step) if step.is_seen(|name| gauges.get(name).cloned()) => drop(self.steps.pop_front()),
                Some(_) => return,
            }
        }
    }

    /// What became of the line that was typed.
    fn hear(&mut self, kind: &str, data: &Value) {
        // That the station was taken may be told only now: no line brought it.
        if self.typed.is_none() || kind == "station-taken" {
            return;
        }
        if kind != "act-refused" {
            self.steps.pop_front();
        } else {
            let reasons = data["reasons"].as_array().cloned().unwrap_or_default();
            let codes: Vec<&str> = reasons.iter().filter_map(|reason| reason["code"].as_str()).collect();
            let already =
                codes.iter().all(|code| code.starts_with("already-") || code.starts_with("nothing-"));
            assert!(already || codes.iter().all(|code| PASSING.contains(code)), "{}: {data}", self.who);
            if already {
                self.steps.pop_front();
            }
        }
        self.typed = None;
    }
}

/// Where everyone stands: what is next, and the last lines that were seen.
fn stand<H: Hands>(people: &[Person<H>]) -> String {
    let lines = people.iter().map(|person| {
        let seen = person.hands.seen();
        let lines: Vec<&str> = seen.lines().collect();
        let last = lines[lines.len().saturating_sub(60)..].join("\n");
        format!("{}: typed {:?}, next {:?}\n{last}\n", person.who, person.typed, person.steps.front())
    });
    lines.collect()
}

/// Works until the run is over; `look` is called as it goes, to look at screens.
async fn work<H: Hands>(link: &mut Link, people: &mut [Person<H>], mut look: impl FnMut(&str, &[Person<H>])) {
    let mut gauges = BTreeMap::new();
    loop {
        let Some(message) = link.next().await else { panic!("the link ended") };
        match message {
            ServerMessage::Gauges(message) => {
                gauges.extend(message.readings.into_iter().map(|gauge| (gauge.name, gauge.text)));
                people.iter_mut().for_each(|person| person.go_on(&gauges));
            }
            ServerMessage::Event(event) if event.kind == "run-ended" => {
                assert!(event.text.contains("the aim is reached"), "{}\n{}", event.text, stand(people));
                return;
            }
            ServerMessage::Event(event) => {
                for person in people.iter_mut().filter(|person| person.who == event.who) {
                    person.hear(&event.kind, &event.data);
                }
                look(&event.text, people);
            }
            _ => {}
        }
    }
}

/// The test's own eyes: they see all, and work nothing.
async fn eyes(server: &ServerProcess, key: &str) -> (Link, String) {
    let (_, text) = server.rest("GET", "/api/runs", key, None);
    let runs: Value = serde_json::from_str(&text).expect("a list");
    let run = &runs[0];
    let id = run["state"]["run"].as_str().and_then(|id| id.parse::<Uuid>().ok()).expect("a run");
    let code = run["code"].as_str().expect("a code").to_owned();
    let watch = Identity::Watch { key: key.to_owned(), name: None };
    let mut link = server.link(watch, Some(id), None).await;
    link.wait("welcome", |message| matches!(message, ServerMessage::Welcome(_)).then_some(())).await;
    let steps = [engine(), boards(), emergency()].concat();
    let watched: Vec<&str> = steps.iter().filter_map(Step::reading).collect();
    link.line(&format!("watch eg.engine.speed {}", watched.join(" "))).await;
    (link, code)
}

/// The instructor opens the class, lets it go on at speed, sets and lifts a fault, and marks; all by keys.
fn open_by_keys(instructor: &mut Pane, album: &mut Album) {
    instructor.wait("no class is open");
    album.take("The instructor, before a class", instructor);
    instructor.line("open first-light Blue");
    instructor.wait("code ");
    instructor.wait("Quillmere");
}

fn direct_by_keys(instructor: &mut Pane, album: &mut Album) {
    instructor.keys(&["="]);
    instructor.wait("goes on");
    for speed in ["2", "4", "8", "16", "30"] {
        instructor.keys(&["+"]);
        instructor.wait(&format!("×{speed}  ● link"));
    }
    instructor.keys(&["6", "/"]);
    instructor.line("sea.chest.low.weed");
    instructor.keys(&["Down", "Enter"]);
    instructor.wait("Enter again: now");
    album.take("The instructor looks at a fault before setting it", instructor);
    instructor.keys(&["Enter"]);
    instructor.wait("✖ sea.chest.low.weed");
    instructor.keys(&["F3"]);
    instructor.wait("mark slip 10 s ago");
    instructor.keys(&["Home", "Enter"]);
    instructor.wait("lifts it for every team");
    instructor.keys(&["Enter"]);
    instructor.wait("lifts the fault sea.chest.low.weed");
    instructor.keys(&["Escape", "1"]);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_team_and_an_instructor_complete_the_drill_by_keys() {
    let folder = tempfile::tempdir().expect("a folder");
    let server = ServerProcess::start(SERVER, &folder.path().join("data"));
    let key = server.key();
    let tmux = Arc::new(Tmux::new("keys"));
    let mut album = Album::default();
    let command = |name: &str, words: &str| {
        let state = folder.path().join(name).display().to_string();
        format!("env XDG_STATE_HOME={state} {CLIENT} {words}")
    };
    let teach = command("iris", &format!("teach {} --key {key}", server.address));
    let mut instructor = tmux.open("iris", (160, 50), &teach);
    open_by_keys(&mut instructor, &mut album);
    let (mut link, code) = eyes(&server, &key).await;
    let mut people = Vec::new();
    for (name, station, steps) in
        [("Ada", "engine", engine()), ("Ben", "boards", boards()), ("Cleo", "emergency", emergency())]
    {
        let join = command(name, &format!("join {} {code} {name} --station {station}", server.address));
        let pane = tmux.open(name, (80, 24), &join);
        pane.wait("lost all main power");
        album.take("Who comes for the first time reads the brief", &pane);
        pane.wait(&format!("{name} ({station})"));
        pane.keys(&["1"]);
        pane.wait("[1Here]");
        people.push(Person::new(pane, name, station, steps));
    }
    direct_by_keys(&mut instructor, &mut album);
    work(&mut link, &mut people, |event, people| {
        look_around(event, people, &instructor, &mut album);
    })
    .await;
    for person in &people {
        let seen = person.hands.wait("OVER: the aim is reached");
        assert!(seen.contains(&person.who), "{seen}");
    }
    instructor.wait("the aim is reached");
    album.take("The instructor, when the aim is reached", &instructor);
    album.keep(Part::Class);
}

/// Screens at moments that count.
fn look_around(event: &str, people: &[Person<Pane>], instructor: &Pane, album: &mut Album) {
    let [ada, ben, _] = people else { return };
    if event.contains("start air.compressor.emergency") {
        ada.hands.keys(&["1"]);
        ada.hands.wait("air.compressor.emergency");
        album.take("The engine room: what is at the generator flat", &ada.hands);
    }
    if event.contains("Sump") || event.contains("sump") {
        ada.hands.keys(&["2"]);
        ada.hands.wait("[2Alerts");
        album.take("Alerts", &ada.hands);
        album.take("The instructor, while the team works", instructor);
    }
    if event.contains("close dg1.breaker") {
        ben.hands.keys(&["1"]);
        album.take("The control room: what its panels show", &ben.hands);
        ben.hands.keys(&["4"]);
        ben.hands.wait("PLACES");
        album.take("Crew and places", &ben.hands);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_same_drill_is_completed_by_lines_in_every_role() {
    let folder = tempfile::tempdir().expect("a folder");
    let server = ServerProcess::start(SERVER, &folder.path().join("data"));
    let key = server.key();
    let state = |name: &str| folder.path().join(name);
    let teach = ["teach", &server.address, "--key", &key, "--plain"];
    let mut instructor = Plain::start(CLIENT, &teach, &state("iris"));
    instructor.line("open first-light Blue");
    instructor.wait("join code");
    let (mut link, code) = eyes(&server, &key).await;
    let look_on =
        Plain::start(CLIENT, &["join", &server.address, &code, "--look-on", "--plain"], &state("kit"));
    let mut people = Vec::new();
    for (name, station, steps) in
        [("Ada", "engine", engine()), ("Ben", "boards", boards()), ("Cleo", "emergency", emergency())]
    {
        let words = ["join", &server.address, &code, name, "--station", station, "--plain"];
        let hands = Plain::start(CLIENT, &words, &state(name));
        hands.wait(&format!("you are {name}, station {station}"));
        people.push(Person::new(hands, name, station, steps));
    }
    for line in ["speed 30", "fault sea.chest.low.weed 30 % over 10 s", "mark slip 10 s ago", "resume"] {
        instructor.line(line);
    }
    instructor.wait("goes on");
    instructor.line("lift sea.chest.low.weed");
    work(&mut link, &mut people, |_, _| {}).await;
    look_on.wait("the aim is reached");
    instructor.wait("the aim is reached");
    for person in people {
        person.hands.wait("the aim is reached");
        // Some lines were refused on the way, as hands were busy: the status of a script tells it.
        assert!([0, 1].contains(&person.hands.end()));
    }
    assert_eq!(look_on.end(), 0);
    assert_eq!(instructor.end(), 0);
}

//! Who may do what: every word and every message as everybody, over real sockets, against a table written by hand
//! (`tests/fixtures/rights/table.md`).

use deadship_protocol::{ClientMessage, Identity, OpenedRun, ServerMessage};
use deadship_tests::server::{Link, ServerProcess, reply_to};
use deadship_tests::top;
use std::collections::BTreeSet;
use uuid::Uuid;

const SERVER: &str = env!("CARGO_BIN_EXE_deadship-server-under-test");

/// Ticks after which every hand of this ship is free again and every walk is over.
const FREE_TICKS: u64 = 440;

/// Ticks after which what was done is seen in the plant.
const SEEN_TICKS: u64 = 60;

/// One line of the table.
struct Row {
    line: String,
    before: Vec<String>,
    after: Vec<String>,
    /// What is expected for everybody, in the order of the columns.
    expected: Vec<String>,
}

struct Matrix {
    people: Vec<String>,
    rows: Vec<Row>,
}

fn matrix() -> Matrix {
    let path = top().join("tests/fixtures/rights/table.md");
    let text = match std::fs::read_to_string(&path) {
        Ok(text) => text,
        Err(error) => panic!("{}: {error}", path.display()),
    };
    let mut lines = text.lines().filter(|line| line.starts_with('|')).map(|line| {
        let cells = line.trim().trim_matches('|').split('|');
        cells.map(|cell| cell.trim().to_owned()).collect::<Vec<String>>()
    });
    let head = lines.next().unwrap_or_default();
    let parts = |cell: &str| {
        cell.split(';').map(|part| part.trim().to_owned()).filter(|part| !part.is_empty()).collect()
    };
    let row = |cells: Vec<String>| {
        assert_eq!(cells.len(), head.len(), "{cells:?}");
        Row {
            line: cells[0].clone(),
            before: parts(&cells[1]),
            after: parts(&cells[2]),
            expected: cells[3..].to_vec(),
        }
    };
    let rows = lines.skip(1).map(row).collect();
    Matrix { people: head[3..].to_vec(), rows }
}

/// A run in which one person tries everything, and the instructor who holds its class.
struct Trial<'a> {
    run: &'a OpenedRun,
    class: Uuid,
    holder: Link,
    person: Link,
    /// Does ship's time pass fast, so that it can be waited for?
    goes: bool,
}

fn teach(server: &ServerProcess, name: &str) -> Identity {
    Identity::Teach { key: server.key(), name: Some(name.to_owned()) }
}

impl Trial<'_> {
    /// The outcome of a line or a message in a word.
    async fn outcome(&mut self, text: &str) -> String {
        let id = Uuid::new_v4();
        let message = match text.strip_prefix("message: ") {
            None => ClientMessage::Line { id, text: text.to_owned() },
            Some(kind) => self.message(kind, id),
        };
        self.person.send(&message).await;
        let answers = |came: &ServerMessage| reply_to(came) == Some(id) || is_answer(&message, came);
        let reply = self.person.wait(text, |came| answers(came).then(|| came.clone())).await;
        match reply {
            ServerMessage::Accepted { .. } => "ok".to_owned(),
            ServerMessage::Refused { reasons, .. } => reasons[0].code.clone(),
            ServerMessage::Error { code, .. } => code.to_string(),
            _ => "answer".to_owned(),
        }
    }

    fn message(&self, kind: &str, id: Uuid) -> ClientMessage {
        let (run, class) = (self.run.run, self.class);
        match kind {
            "drills" => ClientMessage::Drills {},
            "runs" => ClientMessage::Runs {},
            "use" => ClientMessage::Use { run, last_seq: None },
            "board" => ClientMessage::Board { on: true },
            "chart" => ClientMessage::Chart {},
            "screen" => ClientMessage::Screen { on: true },
            "archive" => ClientMessage::Archive { run },
            "open" => open_class(id, vec!["More".to_owned()]),
            "class-line" => {
                ClientMessage::ClassLine { id, class, teams: vec![self.run.team.clone()], text: "who".into() }
            }
            "hand" => ClientMessage::Hand { id, class, to: "Hella".to_owned() },
            other => panic!("no message is called {other}"),
        }
    }

    async fn by_holder(&mut self, text: &str) {
        let reply = self.holder.line(text).await;
        assert!(matches!(reply, ServerMessage::Accepted { .. }), "{}: {text}: {reply:?}", self.run.team);
    }

    /// The ship's tick; `None` while her time stands still.
    async fn tick(&mut self) -> Option<u64> {
        let run = self.run.run;
        self.holder.send(&ClientMessage::Use { run, last_seq: None }).await;
        let state = |came: &ServerMessage| match came {
            ServerMessage::State(state) if state.run == run => Some(state.clone()),
            _ => None,
        };
        let state = self.holder.wait("state", state).await;
        (state.hold.is_none() && state.ended.is_none()).then_some(state.tick)
    }

    /// Asks for the ship's time until so much of it has passed.
    async fn pass(&mut self, ticks: u64) {
        let Some(now) = self.tick().await.filter(|_| self.goes) else { return };
        while self.tick().await.is_some_and(|tick| tick < now + ticks) {}
    }

    /// Tries one row; gives what came if it is not what is expected.
    async fn try_row(&mut self, row: &Row, expected: &str) -> Option<String> {
        if self.goes {
            for line in &row.before {
                self.by_holder(line).await;
            }
            self.pass(if row.before.is_empty() { 1 } else { SEEN_TICKS }).await;
        } else {
            for line in &row.before {
                drop(self.holder.line(line).await);
            }
        }
        let mut came = self.outcome(&row.line).await;
        // Where ship's time is not waited for, lines come faster than people type.
        while came == "too-fast" {
            self.tick().await;
            came = self.outcome(&row.line).await;
        }
        if std::env::var_os("RIGHTS_TALK").is_some() {
            println!("{}: {}: {came}", self.run.team, row.line);
        }
        if self.goes {
            if came == "ok" {
                self.pass(FREE_TICKS).await;
            }
            for line in &row.after {
                match line.strip_prefix("self: ") {
                    Some(line) if came == "ok" => {
                        self.outcome(line).await;
                        self.pass(FREE_TICKS).await;
                    }
                    Some(_) => {}
                    // Puts back what was done, if it was; that it was not is no matter.
                    None => drop(self.holder.line(line).await),
                }
            }
            self.pass(SEEN_TICKS).await;
        } else if came == "ok" {
            for line in row.after.iter().filter(|line| !line.starts_with("self: ")) {
                drop(self.holder.line(line).await);
            }
        }
        (came != expected)
            .then(|| format!("| {} | {}: expected {expected}, came {came}", row.line, self.run.team))
    }
}

fn is_answer(asked: &ClientMessage, came: &ServerMessage) -> bool {
    matches!(
        (asked, came),
        (ClientMessage::Drills {}, ServerMessage::Drills { .. })
            | (ClientMessage::Runs {}, ServerMessage::Runs { .. })
            | (ClientMessage::Use { .. }, ServerMessage::State(_))
            | (ClientMessage::Board { .. }, ServerMessage::Board { .. })
            | (ClientMessage::Chart {}, ServerMessage::Chart { .. })
            | (ClientMessage::Screen { .. }, ServerMessage::Situation { .. })
            | (ClientMessage::Archive { .. }, ServerMessage::Archive { last: true, .. })
            | (ClientMessage::Open { .. }, ServerMessage::Opened { .. })
            | (ClientMessage::ClassLine { .. }, ServerMessage::ClassAnswer { .. })
            | (ClientMessage::Hand { .. }, ServerMessage::Handed { .. })
    ) || (!matches!(asked, ClientMessage::Line { .. })
        && matches!(came, ServerMessage::Error { id: None, .. }))
}

/// The person of a column, in the situation that the column is about.
async fn situation<'a>(server: &ServerProcess, run: &'a OpenedRun, class: Uuid) -> Trial<'a> {
    let holder = server.link(teach(server, "Hella"), Some(run.run), None).await;
    let join = |station: Option<&str>| Identity::Join {
        code: run.code.clone(),
        name: "Pat".to_owned(),
        station: station.map(str::to_owned),
    };
    let (identity, own) = match run.team.as_str() {
        "holder" => (teach(server, "Hella"), Some(run.run)),
        "other" => (teach(server, "Otto"), Some(run.run)),
        "facil" => (Identity::Watch { key: server.key(), name: None }, Some(run.run)),
        "looks" => (Identity::LookOn { code: run.code.clone() }, None),
        "none" => (join(None), None),
        "at boards" | "boards away" => (join(Some("boards")), None),
        _ => (join(Some("wheels")), None),
    };
    let person = server.link(identity, own, None).await;
    let mut trial = Trial { run, class, holder, person, goes: true };
    trial.person.wait("welcome", |came| matches!(came, ServerMessage::Welcome(_)).then_some(())).await;
    trial.by_holder("speed 60").await;
    trial.by_holder("resume").await;
    trial.pass(SEEN_TICKS).await;
    match run.team.as_str() {
        "wheels away" => assert_eq!(trial.outcome("go control-room").await, "ok"),
        "boards away" => assert_eq!(trial.outcome("go pump-room").await, "ok"),
        "walks" => {
            // At this speed the way takes minutes of the clock.
            trial.by_holder("speed 0.1").await;
            trial.goes = false;
            assert_eq!(trial.outcome("go control-room").await, "ok");
        }
        "on hold" => {
            trial.by_holder("hold").await;
            trial.goes = false;
        }
        "over" => {
            trial.by_holder("end").await;
            trial.goes = false;
        }
        _ => {}
    }
    trial.pass(FREE_TICKS).await;
    trial
}

#[test]
fn everybody_may_do_what_the_table_says_and_nothing_else() {
    let matrix = matrix();
    let data = match tempfile::tempdir() {
        Ok(data) => data,
        Err(error) => panic!("no folder: {error}"),
    };
    let drills = top().join("tests/fixtures/rights").display().to_string();
    let server = ServerProcess::start_with(SERVER, &["--drills", &drills], data.path());
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
    let Ok(runtime) = runtime else { panic!("no threads") };
    let wrong = runtime.block_on(try_all(&server, &matrix));
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

fn open_class(id: Uuid, teams: Vec<String>) -> ClientMessage {
    let drill = "rights".to_owned();
    ClientMessage::Open {
        id,
        drill,
        teams,
        title: None,
        seed: None,
        difficulty: None,
        stress: None,
        hold: true,
        crew: None,
        from: None,
    }
}

async fn try_all(server: &ServerProcess, matrix: &Matrix) -> Vec<String> {
    let mut opener = server.link(teach(server, "Hella"), None, None).await;
    opener.send(&open_class(Uuid::new_v4(), matrix.people.clone())).await;
    let opened = |came: &ServerMessage| match came {
        ServerMessage::Opened { class, runs, .. } => Some((*class, runs.clone())),
        ServerMessage::Error { text, .. } => panic!("{text}"),
        _ => None,
    };
    let (class, runs) = opener.wait("opened", opened).await;
    every_word_is_in(&mut opener, &runs[0], matrix).await;
    let tried = runs.iter().enumerate().map(|(column, run)| async move {
        let mut trial = situation(server, run, class).await;
        let mut wrong = Vec::new();
        for row in &matrix.rows {
            wrong.extend(trial.try_row(row, &row.expected[column]).await);
        }
        wrong
    });
    futures_util::future::join_all(tried).await.into_iter().flatten().collect()
}

/// No word and no message may be missing from the table.
async fn every_word_is_in(link: &mut Link, run: &OpenedRun, matrix: &Matrix) {
    link.send(&ClientMessage::Use { run: run.run, last_seq: None }).await;
    link.wait("state", |came| matches!(came, ServerMessage::State(_)).then_some(())).await;
    let ServerMessage::Answer { lines, .. } = link.line("help").await else { panic!("no help") };
    let first = |text: &str| text.split_whitespace().next().unwrap_or_default().to_owned();
    let known: BTreeSet<String> = matrix.rows.iter().map(|row| first(&row.line)).collect();
    let words = lines.iter().filter(|line| line.starts_with(char::is_alphabetic)).map(|line| first(line));
    let missing: Vec<String> = words.filter(|word| !known.contains(word)).collect();
    assert!(missing.is_empty(), "not in the table: {missing:?}");
    let tried: BTreeSet<&str> =
        matrix.rows.iter().filter_map(|row| row.line.strip_prefix("message: ")).collect();
    let others = ["hello", "line", "ping"];
    let missing: Vec<&&str> = ClientMessage::TYPES
        .iter()
        .filter(|kind| !tried.contains(**kind) && !others.contains(kind))
        .collect();
    assert!(missing.is_empty(), "not in the table: {missing:?}");
}

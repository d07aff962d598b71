//! Teams that work while their server is ended under them, and what must be true of it afterwards.

use crate::server::{Link, ServerProcess};
use deadship_protocol::{ClientMessage, Identity, LINES_PER_SECOND, ServerMessage};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;
use tokio::sync::Notify;
use uuid::Uuid;

/// Lines that may wait for their acknowledgement at a time, for each team.
const IN_FLIGHT: usize = 6;

/// The plant goes on for at least so long between two ends: a digest is recorded every hundred ticks.
const TICKS_A_ROUND: u64 = 150;

/// A small generator (SplitMix64, public domain), so that a failure names its seed.
#[derive(Debug)]
pub struct Seeded(pub u64);

impl Seeded {
    /// A number below `n`.
    pub fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) % n
    }
}

/// A team, and all that was ever acknowledged to it: text by seq.
#[derive(Clone, Debug)]
struct Team {
    run: Uuid,
    token: String,
    last_seq: u64,
    acked: BTreeMap<u64, String>,
}

/// Teams of one class.
#[derive(Debug)]
pub struct Teams {
    key: String,
    teams: Vec<Team>,
}

/// What the teams have reached since the server was started.
#[derive(Debug, Default)]
struct Reached {
    acknowledged: AtomicU64,
    /// Teams whose plant has gone on for long enough.
    gone_on: AtomicU64,
    news: Notify,
}

impl Teams {
    /// Opens a class of so many teams on a new server, each with somebody at a station.
    ///
    /// # Panics
    /// When the server does not let them in.
    pub async fn open(server: &ServerProcess, count: usize) -> Teams {
        let key = server.key();
        let names: Vec<String> = (0..count).map(|n| format!("Team {n}")).collect();
        let body = json!({ "drill": "first-light", "teams": names, "hold": false });
        let (status, text) = server.rest("POST", "/api/runs", &key, Some(&body));
        assert_eq!(status, 201, "{text}");
        let opened = json_of(&text);
        let mut teams = Vec::new();
        for run in opened["runs"].as_array().into_iter().flatten() {
            let text = |name: &str| run[name].as_str().unwrap_or_default().to_owned();
            let (code, name) = (text("code"), "Ada".to_owned());
            let identity = Identity::Join { code, name, station: Some("engine".into()) };
            let mut link = server.link(identity, None, None).await;
            let token = link.wait("a token", token_of).await;
            let id: Uuid = match text("run").parse() {
                Ok(id) => id,
                Err(error) => panic!("{error} in {run}"),
            };
            teams.push(Team { run: id, token, last_seq: 0, acked: BTreeMap::new() });
        }
        assert_eq!(teams.len(), count);
        Teams { key, teams }
    }

    /// How many commands were acknowledged so far.
    pub fn acknowledged(&self) -> usize {
        self.teams.iter().map(|team| team.acked.len()).sum()
    }

    /// All teams work until so many commands were acknowledged; then `end` ends the server, with others under way.
    ///
    /// # Panics
    /// When the server does not do what it must.
    pub async fn work_until(
        &mut self,
        server: ServerProcess,
        round: u64,
        wanted: u64,
        end: impl FnOnce(ServerProcess),
    ) {
        let reached = Arc::new(Reached::default());
        let mut links = Vec::new();
        for team in &self.teams {
            for text in ["resume", "speed 20"] {
                let path = format!("/api/runs/{}/line", team.run);
                let (status, answer) = server.rest("POST", &path, &self.key, Some(&json!({ "text": text })));
                assert!(status == 200, "round {round}: {answer}");
            }
            let identity = Identity::Token { token: team.token.clone() };
            let mut link = server.link(identity, None, Some(team.last_seq)).await;
            link.wait("welcome", |message| matches!(message, ServerMessage::Welcome(_)).then_some(())).await;
            links.push(link);
        }
        let mut working = Vec::new();
        for (mut team, link) in self.teams.drain(..).zip(links) {
            let reached = Arc::clone(&reached);
            working.push(tokio::spawn(async move {
                work(&mut team, link, round, &reached).await;
                team
            }));
        }
        let all = working.len() as u64;
        loop {
            let news = reached.news.notified();
            let enough = reached.acknowledged.load(Ordering::SeqCst) >= wanted;
            if (enough && reached.gone_on.load(Ordering::SeqCst) == all)
                || working.iter().any(|team| team.is_finished())
            {
                break;
            }
            news.await;
        }
        end(server);
        for team in working {
            match team.await {
                Ok(team) => self.teams.push(team),
                Err(error) => panic!("round {round}: a team failed: {error}"),
            }
        }
    }

    /// What must be true of a server that was started again: every run is on hold, its log has no gap, and every
    /// acknowledged command stands where it was said to stand, once.
    ///
    /// # Panics
    /// When it is not.
    pub fn check(&mut self, server: &ServerProcess, round: u64) {
        for team in &mut self.teams {
            let (_, state) = server.rest("GET", &format!("/api/runs/{}", team.run), &self.key, None);
            assert!(state.contains("\"hold\"") && !state.contains("\"failed\""), "round {round}: {state}");
            let mut said: BTreeMap<String, u64> = BTreeMap::new();
            let mut last = 0;
            loop {
                let path = format!("/api/runs/{}/events?from={}&limit=10000", team.run, last + 1);
                let (status, text) = server.rest("GET", &path, &self.key, None);
                assert_eq!(status, 200, "round {round}: {text}");
                if text.trim().is_empty() {
                    break;
                }
                for line in text.lines() {
                    let event = json_of(line);
                    last += 1;
                    assert_eq!(event["seq"].as_u64(), Some(last), "round {round}: a gap before {line}");
                    if let Some((_, word)) = line.split_once("word ") {
                        let word = word.split('"').next().unwrap_or_default().to_owned();
                        assert!(
                            said.insert(word.clone(), last).is_none(),
                            "round {round}: '{word}' is there twice"
                        );
                    }
                }
            }
            for (seq, word) in &team.acked {
                assert_eq!(said.get(word), Some(seq), "round {round}: '{word}' was acknowledged at {seq}");
            }
            team.last_seq = last;
        }
    }
}

fn json_of(text: &str) -> Value {
    match serde_json::from_str(text) {
        Ok(value) => value,
        Err(error) => panic!("{error} in {text}"),
    }
}

fn token_of(message: &ServerMessage) -> Option<String> {
    match message {
        ServerMessage::Welcome(welcome) => welcome.token.clone(),
        _ => None,
    }
}

/// Sends unique lines for as long as the link stands, and notes what is acknowledged.
async fn work(team: &mut Team, mut link: Link, round: u64, reached: &Reached) {
    let mut waiting: BTreeMap<Uuid, String> = BTreeMap::new();
    let mut sent = 0;
    let mut first_tick = None;
    let mut gone_on = false;
    // As fast as lines may come.
    let mut pace = tokio::time::interval(Duration::from_secs_f64(1.0 / f64::from(LINES_PER_SECOND)));
    loop {
        let message = tokio::select! {
            message = link.next() => message,
            _ = pace.tick(), if waiting.len() < IN_FLIGHT => {
                let (id, word) = (Uuid::new_v4(), format!("{round}-{sent}"));
                let line = ClientMessage::Line { id, text: format!("say word {word}") };
                if !link.send(&line).await {
                    return;
                }
                waiting.insert(id, word);
                sent += 1;
                continue;
            }
        };
        let Some(message) = message else { return };
        match message {
            ServerMessage::Accepted { id, seq } => {
                let Some(word) = waiting.remove(&id) else { panic!("two acknowledgements for one line") };
                assert!(team.acked.insert(seq, word).is_none(), "seq {seq} was acknowledged twice");
                reached.acknowledged.fetch_add(1, Ordering::SeqCst);
            }
            ServerMessage::Event(event) if event.seq > team.last_seq => {
                let first = *first_tick.get_or_insert(event.tick);
                if !gone_on && event.tick >= first + TICKS_A_ROUND {
                    gone_on = true;
                    reached.gone_on.fetch_add(1, Ordering::SeqCst);
                }
            }
            // Lines came faster than they may, or the disk is gone: neither was acknowledged.
            ServerMessage::Error { id: Some(id), .. } | ServerMessage::Busy { id } => {
                waiting.remove(&id);
            }
            ServerMessage::Refused { reasons, .. } => panic!("refused: {reasons:?}"),
            _ => {}
        }
        reached.news.notify_one();
    }
}

//! A deadship server with classes of teams.

use crate::Args;
use crate::client::{Plan, Seat};
use crate::figures::Machine;
use deadship_protocol::{ClientMessage, DrillInfo, Identity, MOST_TEAMS, PATH, VERSION};
use deadship_tests::server::ServerProcess;
use serde_json::{Value, json};
use uuid::Uuid;

/// The server and its runs.
pub(crate) struct School {
    server: ServerProcess,
    key: String,
    codes: Vec<String>,
    _data: tempfile::TempDir,
}

impl School {
    /// Starts a server and opens the runs.
    pub(crate) fn open(args: &Args) -> School {
        let Ok(data) = tempfile::Builder::new().prefix("deadship-load-").tempdir_in(".") else {
            panic!("no folder for the data can be made here")
        };
        let Ok(program) = std::env::current_exe() else { panic!("this program cannot be found") };
        let program = program.display().to_string();
        let server = ServerProcess::start_with(&program, &["--be", "deadship"], data.path());
        let key = server.key();
        let mut codes = Vec::new();
        while codes.len() < args.runs {
            let count = (args.runs - codes.len()).min(MOST_TEAMS);
            let teams: Vec<String> = (0..count).map(|i| format!("Team {}", codes.len() + i + 1)).collect();
            let body = json!({ "drill": args.drill, "teams": teams, "hold": false });
            let (status, answer) = server.rest("POST", "/api/runs", &key, Some(&body));
            assert_eq!(status, 201, "{answer}");
            let opened: Value = serde_json::from_str(&answer).unwrap_or_default();
            let runs = opened["runs"].as_array().cloned().unwrap_or_default();
            codes.extend(runs.iter().filter_map(|run| run["code"].as_str().map(str::to_owned)));
        }
        School { server, key, codes, _data: data }
    }

    /// Where each client goes: the members of a team follow each other.
    pub(crate) fn plan(&self, args: &Args) -> Plan {
        let team_of = |client: usize| client * self.codes.len() / args.clients;
        let stations = self.stations(&args.drill);
        let seat = |client: usize| {
            let team = team_of(client);
            let (code, name) = (self.codes[team].clone(), format!("Member {client}"));
            // The first of each team take the stations that there are, the others look over their shoulders.
            let place = (0..client).rev().take_while(|other| team_of(*other) == team).count();
            let station = stations.get(place).cloned();
            let identity = Identity::Join { code, name, station };
            let hello = ClientMessage::Hello { version: VERSION, identity, run: None, last_seq: Some(0) };
            let watch = ClientMessage::Line { id: Uuid::new_v4(), text: format!("watch {}", args.watch) };
            Seat { path: PATH.to_owned(), first: vec![hello.encode(), watch.encode()], team }
        };
        let mut readers = vec![0; self.codes.len()];
        (args.stalled..args.clients).for_each(|client| readers[team_of(client)] += 1);
        Plan { address: self.server.address.clone(), seats: (0..args.clients).map(seat).collect(), readers }
    }

    /// The stations of the drill, each as often as it has seats.
    fn stations(&self, drill: &str) -> Vec<String> {
        let (status, answer) = self.server.rest("GET", "/api/drills", &self.key, None);
        assert_eq!(status, 200, "{answer}");
        let drills: Vec<DrillInfo> = serde_json::from_str(&answer).unwrap_or_default();
        let opened = drills.into_iter().find(|known| known.name == drill);
        let stations = opened.map_or_else(Vec::new, |opened| opened.stations);
        stations.into_iter().flat_map(|s| std::iter::repeat_n(s.name, s.seats as usize)).collect()
    }

    /// The tick of every run.
    pub(crate) fn ticks(&self) -> Vec<u64> {
        let (status, answer) = self.server.rest("GET", "/api/runs", &self.key, None);
        assert_eq!(status, 200, "{answer}");
        let runs: Value = serde_json::from_str(&answer).unwrap_or_default();
        let runs = runs.as_array().cloned().unwrap_or_default();
        runs.iter().filter_map(|run| run["state"]["tick"].as_u64()).collect()
    }

    pub(crate) fn machine(&self) -> Machine {
        Machine { server: self.server.id() }
    }
}

//! The instructor's screen: every team at a glance, one of them in full.

mod draw;
mod keys;
pub(crate) mod rank;
#[cfg(test)]
mod tests;

use super::browse::{Browse, Browsed};
use super::colours::Palette;
use super::desk::Desk;
use super::model::Sort;
use super::views::{faults, teams};
use super::{Linked, Screen, Todo};
use crate::online::address::Address;
use crate::online::directing::Known;
use crate::online::show;
use deadship_protocol::{
    BoardClass, ClientMessage, DrillInfo, Identity, RunInfo, ServerMessage, VERSION, WelcomeMessage,
};
use ratatui::Frame;
use ratatui::crossterm::event::KeyEvent;
use std::collections::BTreeMap;
use uuid::Uuid;

/// Events of a run's past that are fetched when it is chosen.
const PAST: u64 = 200;

/// The views, in the order of their keys.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum View {
    Teams,
    Plant,
    Alerts,
    Crew,
    Systems,
    Faults,
    Plan,
    Talk,
    Trends,
}

impl View {
    pub(super) const ALL: [(View, &'static str); 9] = [
        (View::Teams, "Teams"),
        (View::Plant, "Plant"),
        (View::Alerts, "Alerts"),
        (View::Crew, "Crew"),
        (View::Systems, "Systems"),
        (View::Faults, "Faults"),
        (View::Plan, "Plan"),
        (View::Talk, "Talk"),
        (View::Trends, "Trends"),
    ];

    fn index(self) -> usize {
        View::ALL.iter().position(|known| known.0 == self).unwrap_or(0)
    }
}

/// The screen.
pub(crate) struct ClassScreen {
    address: Address,
    key: String,
    name: Option<String>,
    pub(super) desk: Desk,
    pub(super) board: Vec<BoardClass>,
    /// Were the runs asked for by `runs`, to be listed?
    pub(super) wants_list: bool,
    /// Runs as last listed, for `use`.
    pub(super) runs: Vec<Known>,
    pub(super) codes: BTreeMap<Uuid, String>,
    pub(super) drills: Vec<DrillInfo>,
    pub(super) used: Option<Uuid>,
    /// The drill whose drawing is there.
    charted: String,
    pub(super) view: View,
    browse: Browse,
    /// The fault that is looked at before it is set.
    pub(super) looked_at: Option<faults::Fault>,
    /// The speed that was asked for and has not come yet: the next key goes on from there.
    pub(super) wanted_speed: Option<f64>,
    /// The last mark, to which words can be added.
    pub(super) marked: Option<u64>,
    last_seq: BTreeMap<Uuid, u64>,
}

impl ClassScreen {
    /// A screen before the first message.
    pub(crate) fn new(address: Address, key: &str, name: Option<&str>, palette: Palette) -> ClassScreen {
        ClassScreen {
            address,
            key: key.to_owned(),
            name: name.map(str::to_owned),
            desk: Desk::new("", true, palette),
            board: Vec::new(),
            wants_list: false,
            runs: Vec::new(),
            codes: BTreeMap::new(),
            drills: Vec::new(),
            used: None,
            charted: String::new(),
            view: View::Teams,
            browse: Browse::default(),
            looked_at: None,
            wanted_speed: None,
            marked: None,
            last_seq: BTreeMap::new(),
        }
    }

    /// The class of the run in use, else the only one.
    pub(super) fn class(&self) -> Option<Uuid> {
        let of_used =
            self.board.iter().find(|class| class.teams.iter().any(|team| Some(team.state.run) == self.used));
        match (of_used, self.board.as_slice()) {
            (Some(class), _) => Some(class.class),
            (None, [one]) => Some(one.class),
            _ => None,
        }
    }

    /// Chooses a run: its events from a little while ago come, too.
    pub(super) fn choose(&self, run: Uuid) -> ClientMessage {
        let team = teams::all_teams(&self.board).into_iter().find(|team| team.state.run == run);
        let last_seq = team.map(|team| team.state.last_seq.saturating_sub(PAST));
        ClientMessage::Use { run, last_seq }
    }

    fn take_runs(&mut self, runs: &[RunInfo]) -> Vec<ClientMessage> {
        self.runs = runs
            .iter()
            .map(|info| Known {
                run: info.state.run,
                class: info.class_id,
                team: info.state.team.clone(),
                over: info.state.ended.is_some() || info.state.failed.is_some(),
            })
            .collect();
        for info in runs {
            if let Some(code) = &info.code {
                self.codes.insert(info.state.run, code.clone());
            }
        }
        if std::mem::take(&mut self.wants_list) {
            self.desk.model.add(Sort::Answer, show::runs(runs));
        }
        self.name_teams();
        let live = self.runs.iter().find(|known| !known.over);
        match (self.used, live) {
            (None, Some(first)) => vec![ClientMessage::Use { run: first.run, last_seq: Some(0) }],
            _ => Vec::new(),
        }
    }

    /// Teams by the order in which their runs are known, each once.
    fn name_teams(&mut self) {
        let mut teams: Vec<String> = Vec::new();
        for known in self.runs.iter().filter(|known| !known.team.is_empty()) {
            if !teams.contains(&known.team) {
                teams.push(known.team.clone());
            }
        }
        self.desk.names.teams = teams;
    }

    /// Another run is in use: everything of the one before is forgotten.
    fn used(&mut self, state: deadship_protocol::RunState) -> Vec<ClientMessage> {
        let again = self.used == Some(state.run);
        self.wanted_speed = None;
        self.used = Some(state.run);
        let drill = state.drill.clone();
        if !again {
            self.desk.model.other_run();
            self.last_seq.remove(&state.run);
        }
        self.desk.model.take_state(state);
        let mut ask = vec![ClientMessage::Screen { on: true }, self.desk.own_line("watch *")];
        if self.charted != drill {
            self.charted = drill.clone();
            ask.insert(0, ClientMessage::Chart {});
            let known = self.drills.iter().find(|known| known.name == drill);
            self.desk.names.stations = known
                .map(|known| known.stations.iter().map(|station| station.name.clone()).collect())
                .unwrap_or_default();
        }
        ask
    }

    fn opened(&mut self, message: &ServerMessage) -> Vec<ClientMessage> {
        let ServerMessage::Opened { class, title, runs, .. } = message else { return Vec::new() };
        let codes = runs.iter().map(|run| format!("{}: join code {}", run.team, run.code));
        let lines = [format!("{title} is open")].into_iter().chain(codes).collect::<Vec<_>>();
        self.desk.model.add(Sort::Answer, lines);
        for run in runs {
            self.codes.insert(run.run, run.code.clone());
            self.runs.push(Known { run: run.run, class: Some(*class), team: run.team.clone(), over: false });
        }
        self.name_teams();
        self.view = View::Teams;
        runs.first()
            .map(|first| ClientMessage::Use { run: first.run, last_seq: Some(0) })
            .into_iter()
            .collect()
    }

    fn class_answer(&mut self, message: ServerMessage, asked: Option<&ClientMessage>) {
        let ServerMessage::ClassAnswer { replies, .. } = message else { return };
        for reply in replies {
            let team = reply.team;
            match *reply.reply {
                ServerMessage::Accepted { .. } => {
                    self.desk.model.add(Sort::Answer, [format!("{team}: done")])
                }
                other => {
                    self.desk.model.add(Sort::Answer, [format!("{team}:")]);
                    self.desk.answer(other, asked);
                }
            }
        }
    }
}

impl Screen for ClassScreen {
    fn hello(&self) -> ClientMessage {
        let identity = Identity::Teach { key: self.key.clone(), name: self.name.clone() };
        let last_seq = self.used.and_then(|run| self.last_seq.get(&run).copied());
        ClientMessage::Hello { version: VERSION, identity, run: self.used, last_seq }
    }

    fn welcome(&mut self, welcome: &WelcomeMessage) -> Vec<ClientMessage> {
        self.desk.model.name.clone_from(&welcome.name);
        let mut ask =
            vec![ClientMessage::Drills {}, ClientMessage::Runs {}, ClientMessage::Board { on: true }];
        if let Some(state) = &welcome.run {
            ask.extend(self.used(state.clone()));
        }
        ask
    }

    fn key(&mut self, key: KeyEvent) -> Todo {
        self.pressed(key)
    }

    fn pasted(&mut self, text: &str) {
        self.desk.typed.paste(text);
        self.desk.hint = "pasted; Enter sends it, Esc takes it away".to_owned();
    }

    fn heard(&mut self, message: ServerMessage, asked: Option<&ClientMessage>) -> Vec<ClientMessage> {
        if let (ServerMessage::Accepted { seq, .. }, Some(ClientMessage::Line { text, .. })) =
            (&message, asked)
            && text.starts_with("mark ")
        {
            self.marked = Some(*seq);
            self.desk.hint = "marked; ; adds words to it".to_owned();
        }
        if self.desk.is_own(asked) {
            return Vec::new();
        }
        // What still comes of a run that is no longer in use is passed over.
        let of_another = |run: &Uuid| self.used != Some(*run);
        match &message {
            ServerMessage::Event(event) if of_another(&event.run) => return Vec::new(),
            ServerMessage::Gauges(gauges) if of_another(&gauges.run) => return Vec::new(),
            ServerMessage::Situation { run, .. } if of_another(run) => return Vec::new(),
            ServerMessage::State(state) if matches!(asked, Some(ClientMessage::Use { .. })) => {
                return self.used(state.clone());
            }
            ServerMessage::State(state) if of_another(&state.run) => return Vec::new(),
            ServerMessage::State(state) if self.wanted_speed == Some(state.speed) => self.wanted_speed = None,
            ServerMessage::Refused { .. } => self.wanted_speed = None,
            _ => {}
        }
        match self.desk.take(message) {
            Some(ServerMessage::Event(event)) => {
                let last = self.last_seq.entry(event.run).or_insert(0);
                if event.seq > *last {
                    *last = event.seq;
                    self.desk.model.take_event(&event);
                }
            }
            Some(ServerMessage::Board { classes }) => self.board = classes,
            Some(ServerMessage::Drills { drills }) => {
                self.desk.names.drills = drills.iter().map(|drill| drill.name.clone()).collect();
                self.drills = drills;
            }
            Some(ServerMessage::Runs { runs }) => return self.take_runs(&runs),
            Some(opened @ ServerMessage::Opened { .. }) => return self.opened(&opened),
            Some(answer @ ServerMessage::ClassAnswer { .. }) => self.class_answer(answer, asked),
            Some(ServerMessage::Handed { holder, .. }) => {
                self.desk.model.add(Sort::Answer, [format!("{holder} holds the class now")]);
            }
            Some(other) => {
                let is_long = self.desk.answer(other, asked);
                if is_long {
                    self.show(View::Talk);
                }
            }
            None => {}
        }
        Vec::new()
    }

    fn linked(&mut self, linked: Linked) {
        self.desk.set_linked(linked);
    }

    fn draw(&mut self, frame: &mut Frame<'_>) {
        self.draw_page(frame);
    }

    fn way_back(&self) -> String {
        format!("deadship teach {} --key KEY", self.address)
    }
}

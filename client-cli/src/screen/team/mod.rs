//! The screen of someone in a team, or of someone who looks on.

mod draw;
mod keys;
#[cfg(test)]
mod tests;

use super::colours::Palette;
use super::line::TypedLine;
use super::model::{Model, Sort, Talk};
use super::parts::{At, Row};
use super::text::clean;
use super::{Linked, Screen, Todo};
use crate::online::address::Address;
use crate::online::seat::{self, Seat};
use crate::online::show;
use deadship_protocol::{
    ClientMessage, ErrorCode, EventMessage, Identity, ServerMessage, VERSION, WelcomeMessage,
};
use ratatui::Frame;
use ratatui::crossterm::event::KeyEvent;
use std::path::PathBuf;
use uuid::Uuid;

/// Answers longer than this are shown in the talk, all of it.
const LONG_ANSWER: usize = 3;

/// The views, in the order of their keys.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum View {
    Here,
    Alerts,
    Orders,
    Crew,
    Systems,
    Trends,
    List,
    Talk,
    Brief,
}

impl View {
    pub(super) const ALL: [(View, &'static str); 9] = [
        (View::Here, "Here"),
        (View::Alerts, "Alerts"),
        (View::Orders, "Orders"),
        (View::Crew, "Crew"),
        (View::Systems, "Systems"),
        (View::Trends, "Trends"),
        (View::List, "List"),
        (View::Talk, "Talk"),
        (View::Brief, "Brief"),
    ];

    fn index(self) -> usize {
        View::ALL.iter().position(|known| known.0 == self).unwrap_or(0)
    }
}

/// What remembers the seat.
pub(crate) struct SeatKeeper {
    /// Server.
    pub(crate) address: Address,
    /// Where seats are remembered.
    pub(crate) folder: Option<PathBuf>,
    /// Seat.
    pub(crate) seat: Seat,
    /// Without a seat: nothing is remembered.
    pub(crate) looks_on: bool,
}

impl SeatKeeper {
    fn save(&self) {
        if !self.looks_on {
            // A terminal that cannot remember still works.
            let _ = seat::write_to(self.folder.as_deref(), &self.address, &self.seat);
        }
    }
}

/// The screen.
pub(crate) struct TeamScreen {
    pub(super) keeper: SeatKeeper,
    pub(super) palette: Palette,
    pub(super) model: Model,
    pub(super) linked: Linked,
    pub(super) view: View,
    /// Do keys go to the pane beside the list?
    pub(super) in_pane: bool,
    /// Where one is in each view.
    pub(super) at: [At; View::ALL.len()],
    pub(super) pane_at: At,
    /// What the list is filtered by; being typed while `Some` and `filtering`.
    pub(super) filter: String,
    pub(super) filtering: bool,
    pub(super) list: usize,
    pub(super) system: usize,
    pub(super) typed: TypedLine,
    /// What is to be known now: candidates, what a key did.
    pub(super) hint: String,
    /// Help that lies over the view.
    pub(super) help: Option<(Option<usize>, At)>,
    pub(super) leaving: bool,
    pub(super) stations: Vec<String>,
    /// Lines that the screen sent by itself: their answers are not shown.
    own: Vec<Uuid>,
    /// Room of the main part when it was drawn last.
    pub(super) room: (usize, usize),
}

impl TeamScreen {
    /// A screen before the first message.
    pub(crate) fn new(keeper: SeatKeeper, palette: Palette, back: bool) -> TeamScreen {
        let model = Model::of(&keeper.seat.name, false);
        TeamScreen {
            keeper,
            palette,
            model,
            linked: Linked::Yes,
            // Who comes for the first time reads the brief first.
            view: if back { View::Here } else { View::Brief },
            in_pane: false,
            at: [At::default(); View::ALL.len()],
            pane_at: At::default(),
            filter: String::new(),
            filtering: false,
            list: 0,
            system: 0,
            typed: TypedLine::default(),
            hint: String::new(),
            help: None,
            leaving: false,
            stations: Vec::new(),
            own: Vec::new(),
            room: (78, 14),
        }
    }

    pub(super) fn line_of_own(&mut self, text: &str) -> ClientMessage {
        let id = Uuid::new_v4();
        self.own.push(id);
        ClientMessage::Line { id, text: text.to_owned() }
    }

    /// Where one is in the view that is shown.
    pub(super) fn here(&mut self) -> &mut At {
        &mut self.at[self.view.index()]
    }

    /// Brief, or everything else, as running text.
    pub(super) fn brief_rows(&self, wide: usize) -> Vec<Row> {
        let brief = self.model.chart.as_ref().map_or("", |chart| chart.brief.as_str());
        let mut rows = Vec::new();
        for paragraph in brief.split("\n\n") {
            rows.extend(Row::text(self.palette, super::colours::Ink::Plain, paragraph, wide));
            rows.extend(Row::text(self.palette, super::colours::Ink::Plain, "", wide));
        }
        rows
    }

    fn event(&mut self, event: &EventMessage) {
        if event.seq <= self.keeper.seat.last_seq {
            return;
        }
        self.keeper.seat.last_seq = event.seq;
        // One's own refusals come as answers, too.
        if event.kind != "act-refused" {
            self.model.take_event(event);
        }
    }

    fn answer(&mut self, message: ServerMessage, asked: Option<&ClientMessage>) {
        let text = match asked {
            Some(ClientMessage::Line { text, .. }) => text.as_str(),
            _ => "",
        };
        match message {
            ServerMessage::Answer { lines, .. } => {
                if lines.len() > LONG_ANSWER {
                    self.view = View::Talk;
                    self.here().row = usize::MAX;
                }
                self.model.add(Sort::Answer, lines);
            }
            ServerMessage::Refused { reasons, .. } => {
                self.model.add(Sort::Refused, [show::refused(text, &reasons)]);
            }
            ServerMessage::Error { code, text: what, remedy, .. } => {
                let old = matches!(asked, Some(ClientMessage::Chart {}))
                    || (code == ErrorCode::UnknownMessage && asked.is_none());
                let remedy = match old {
                    true => {
                        "this server is older than this terminal and has no drawing for screens: join with --plain"
                    }
                    false => remedy.as_str(),
                };
                let said = crate::online::link::joined(&what, remedy);
                let said = if text.is_empty() { said } else { format!("{text}: {said}") };
                self.model.add(Sort::Refused, [format!("refused: {said} ({code})")]);
            }
            ServerMessage::Busy { .. } => {
                self.model
                    .add(Sort::Refused, [format!("refused: {text}: the run has too much to do (busy)")]);
            }
            _ => {}
        }
    }
}

impl Screen for TeamScreen {
    fn hello(&self) -> ClientMessage {
        let Seat { code, token, last_seq, .. } = &self.keeper.seat;
        let identity = match self.keeper.looks_on {
            true => Identity::LookOn { code: code.clone() },
            false => Identity::Token { token: token.clone() },
        };
        ClientMessage::Hello { version: VERSION, identity, run: None, last_seq: Some(*last_seq) }
    }

    fn welcome(&mut self, welcome: &WelcomeMessage) -> Vec<ClientMessage> {
        if let Some(token) = &welcome.token {
            self.keeper.seat.token.clone_from(token);
        }
        self.keeper.save();
        self.stations = welcome.stations.iter().map(|station| station.name.clone()).collect();
        if let Some(state) = &welcome.run {
            self.model.take_state(state.clone());
        }
        if welcome.station.is_none() && !self.keeper.looks_on {
            let named: Vec<String> = welcome
                .stations
                .iter()
                .map(|station| format!("{} ({})", station.name, station.title))
                .collect();
            self.hint = format!("take a station: type `station ` and Tab: {}", named.join(", "));
        }
        vec![ClientMessage::Chart {}, ClientMessage::Screen { on: true }, self.line_of_own("watch *")]
    }

    fn key(&mut self, key: KeyEvent) -> Todo {
        self.pressed(key)
    }

    fn pasted(&mut self, text: &str) {
        self.typed.paste(text);
        self.hint = "pasted; Enter sends it, Esc takes it away".to_owned();
    }

    fn heard(&mut self, message: ServerMessage, asked: Option<&ClientMessage>) -> Vec<ClientMessage> {
        if let Some(ClientMessage::Line { id, .. }) = asked
            && let Some(at) = self.own.iter().position(|own| own == id)
        {
            self.own.remove(at);
            return Vec::new();
        }
        match message {
            ServerMessage::Event(event) => self.event(&event),
            ServerMessage::Gauges(gauges) => self.model.take_gauges(&gauges),
            ServerMessage::State(state) => self.model.take_state(state),
            ServerMessage::Chart { chart, .. } => match serde_json::from_value(chart) {
                Ok(chart) => self.model.chart = Some(chart),
                Err(error) => {
                    let text = format!(
                        "the server's drawing cannot be read ({error}): is it newer? the line mode works: --plain"
                    );
                    self.model.add(Sort::Refused, [text]);
                }
            },
            ServerMessage::Situation { tick, situation, .. } => {
                // A newer server may say more; what cannot be read at all leaves the last one.
                if let Ok(situation) = serde_json::from_value(situation) {
                    self.model.at(tick);
                    self.model.situation = situation;
                }
            }
            ServerMessage::Lagging { .. } => {
                self.model.add(Sort::Answer, ["the link is slow; what is missing comes again".to_owned()]);
            }
            other => self.answer(other, asked),
        }
        Vec::new()
    }

    fn linked(&mut self, linked: Linked) {
        if let (Linked::Yes, Linked::Lost(..)) = (&linked, &self.linked) {
            self.model.add(Sort::Answer, ["the link is back; what you missed has come".to_owned()]);
        }
        self.linked = linked;
    }

    fn draw(&mut self, frame: &mut Frame<'_>) {
        draw::draw(self, frame);
    }

    fn left(&mut self) {
        self.keeper.save();
    }

    fn way_back(&self) -> String {
        let SeatKeeper { address, seat, looks_on, .. } = &self.keeper;
        match looks_on {
            true => format!("deadship join {address} {} --look-on", seat.code),
            false => format!("deadship join {address} --back"),
        }
    }
}

impl TeamScreen {
    /// Shows at once what was sent, before anything came back.
    pub(super) fn echo(&mut self, text: &str) {
        let tick = self.model.tick;
        self.model
            .talk
            .push_back(Talk { tick, who: "›".to_owned(), text: clean(text), sort: Sort::Answer });
    }
}

//! The screen of someone in a team, or of someone who looks on.

mod draw;
mod keys;
#[cfg(test)]
mod tests;

use super::browse::{Browse, Browsed};
use super::colours::Palette;
use super::desk::Desk;
use super::parts::Row;
use super::{Linked, Screen, Todo};
use crate::online::address::Address;
use crate::online::seat::{self, Seat};
use deadship_protocol::{ClientMessage, EventMessage, Identity, ServerMessage, VERSION, WelcomeMessage};
use ratatui::Frame;
use ratatui::crossterm::event::KeyEvent;
use std::path::PathBuf;

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
        (View::Crew, "Places"),
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
    pub(super) desk: Desk,
    pub(super) view: View,
    browse: Browse,
    pub(super) list: usize,
}

impl TeamScreen {
    /// A screen before the first message.
    pub(crate) fn new(keeper: SeatKeeper, palette: Palette, back: bool) -> TeamScreen {
        let desk = Desk::new(&keeper.seat.name, false, palette);
        TeamScreen {
            keeper,
            desk,
            // Who comes for the first time reads the brief first.
            view: if back { View::Here } else { View::Brief },
            browse: Browse::default(),
            list: 0,
        }
    }

    /// Brief, or everything else, as running text.
    pub(super) fn brief_rows(&self, wide: usize) -> Vec<Row> {
        let brief = self.desk.model.chart.as_ref().map_or("", |chart| chart.brief.as_str());
        let mut rows = Vec::new();
        for paragraph in brief.split("\n\n") {
            rows.extend(Row::text(self.desk.palette, super::colours::Ink::Plain, paragraph, wide));
            rows.extend(Row::text(self.desk.palette, super::colours::Ink::Plain, "", wide));
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
            self.desk.model.take_event(event);
        }
        // The questions stand at the top of the orders.
        if event.kind == "asked" && self.desk.model.is_asked(event) {
            self.show(View::Orders);
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
        self.desk.names.stations = welcome.stations.iter().map(|station| station.name.clone()).collect();
        if let Some(state) = &welcome.run {
            self.desk.model.take_state(state.clone());
        }
        if welcome.station.is_none() && !self.keeper.looks_on {
            let named: Vec<String> = welcome
                .stations
                .iter()
                .map(|station| format!("{} ({})", station.name, station.title))
                .collect();
            self.desk.hint = format!("take a station: type `station ` and Tab: {}", named.join(", "));
        }
        vec![ClientMessage::Chart {}, ClientMessage::Screen { on: true }, self.desk.own_line("watch *")]
    }

    fn key(&mut self, key: KeyEvent) -> Todo {
        self.pressed(key)
    }

    fn pasted(&mut self, text: &str) {
        self.desk.typed.paste(text);
        self.desk.hint = "pasted; Enter sends it, Esc takes it away".to_owned();
    }

    fn heard(&mut self, message: ServerMessage, asked: Option<&ClientMessage>) -> Vec<ClientMessage> {
        if self.desk.is_own(asked) {
            return Vec::new();
        }
        match self.desk.take(message) {
            Some(ServerMessage::Event(event)) => self.event(&event),
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

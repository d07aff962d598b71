//! Full-screen work: what a person sees and types, drawn with ratatui.
//!
//! A screen is a [`Screen`]: it takes keys and messages and draws itself; it knows no terminal, no clock and no link, so
//! that tests drive it. [`work`] joins it with a terminal and a link. Whatever a screen can do the line mode can do, too.

mod browse;
mod class;
pub(crate) mod colours;
mod complete;
pub(crate) mod debrief;
mod desk;
#[cfg(test)]
pub(crate) mod kit;
mod line;
mod model;
mod parts;
mod state;
mod systems;
mod team;
mod terminal;
mod text;
pub(crate) mod views;
mod work;

pub(crate) use class::ClassScreen;
pub(crate) use colours::Palette;
pub(crate) use desk::Desk;
pub(crate) use parts::Row;
pub(crate) use systems::Systems;
pub(crate) use team::{SeatKeeper, TeamScreen};
pub(crate) use work::work;

use crate::failure::Failure;
use deadship_protocol::{ClientMessage, ServerMessage, WelcomeMessage};
use ratatui::Frame;
use ratatui::crossterm::event::KeyEvent;
use std::io::IsTerminal;

/// The smallest terminal on which a screen is drawn.
pub(crate) const SMALLEST: (u16, u16) = (60, 16);

/// What becomes of a key or a message.
#[derive(Debug, Default)]
pub(crate) struct Todo {
    /// To be sent.
    pub(crate) send: Vec<ClientMessage>,
    /// The person leaves.
    pub(crate) leave: bool,
}

impl Todo {
    /// Nothing to do.
    pub(crate) fn nothing() -> Todo {
        Todo::default()
    }

    /// Something to be sent.
    pub(crate) fn send(messages: Vec<ClientMessage>) -> Todo {
        Todo { send: messages, leave: false }
    }
}

/// How the link is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) enum Linked {
    /// Up.
    #[default]
    Yes,
    /// Lost: why, and how often it was tried to take it back.
    Lost(String, u32),
}

/// A screen.
pub(crate) trait Screen {
    /// What is said at the beginning, also when a link is taken back.
    fn hello(&self) -> ClientMessage;
    /// The server took us; what is to be asked first.
    fn welcome(&mut self, welcome: &WelcomeMessage) -> Vec<ClientMessage>;
    /// A key was pressed.
    fn key(&mut self, key: KeyEvent) -> Todo;
    /// Text was pasted: it is put in, never done.
    fn pasted(&mut self, text: &str);
    /// The server sent something; `asked`: the message that it answers.
    fn heard(&mut self, message: ServerMessage, asked: Option<&ClientMessage>) -> Vec<ClientMessage>;
    /// The link is lost, or is back.
    fn linked(&mut self, linked: Linked);
    /// Draws all of it.
    fn draw(&mut self, frame: &mut Frame<'_>);
    /// The person leaves, or the link is gone for good: what is to be remembered.
    fn left(&mut self) {}
    /// How the seat is taken back later, for people.
    fn way_back(&self) -> String;
}

/// Is there a terminal that a screen can be drawn on, and is one wanted?
pub(crate) fn wanted(plain: bool) -> bool {
    let dumb = std::env::var_os("TERM").is_none_or(|term| term.is_empty() || term == "dumb");
    !plain && !dumb && std::io::stdin().is_terminal() && std::io::stdout().is_terminal()
}

/// As the end of a command.
pub(crate) fn failed(error: &std::io::Error) -> Failure {
    Failure::Asked(format!(
        "the terminal cannot be drawn on: {error}; the line mode works everywhere: --plain"
    ))
}

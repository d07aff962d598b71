//! What keys do on the facilitator's screen.

use super::question::Ask;
use super::{DebriefScreen, Input, SPEEDS, View};
use crate::clock::parse_time;
use crate::screen::line::TypedLine;
use crate::screen::parts::{About, At, round};
use crate::screen::text::clock;
use deadship_run::setup::ticks;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

impl DebriefScreen {
    /// A key was pressed; `true`: the person leaves.
    pub(crate) fn key(&mut self, key: KeyEvent) -> bool {
        self.hint.clear();
        if key.modifiers.contains(KeyModifiers::CONTROL) {
            return matches!(key.code, KeyCode::Char('c' | 'd'));
        }
        if self.typed.is_some() {
            self.key_on_line(key.code);
            return false;
        }
        if self.help.is_some() {
            self.key_on_help(key.code);
            return false;
        }
        if key.code == KeyCode::Char('q') {
            return true;
        }
        if !self.key_on_page(key.code) && !self.key_on_time(key.code) {
            self.key_on_view(key.code);
        }
        false
    }

    /// Text was pasted: it is put in where something is typed.
    pub(crate) fn pasted(&mut self, text: &str) {
        if let Some((_, typed)) = &mut self.typed {
            typed.paste(text);
        }
    }

    fn key_on_line(&mut self, code: KeyCode) {
        let Some((input, typed)) = &mut self.typed else { return };
        match code {
            KeyCode::Esc => self.typed = None,
            KeyCode::Enter => match (*input, typed.text()) {
                (Input::Time, text) => self.go_to_typed(&text),
                (Input::Find, text) => self.find(&text),
            },
            KeyCode::Backspace if typed.is_empty() => self.typed = None,
            KeyCode::Backspace => typed.rub(),
            KeyCode::Delete => typed.delete(),
            KeyCode::Left => typed.go(-1),
            KeyCode::Right => typed.go(1),
            KeyCode::Home => typed.go_end(false),
            KeyCode::End => typed.go_end(true),
            KeyCode::Char(letter) => typed.put(letter),
            _ => {}
        }
    }

    fn go_to_typed(&mut self, text: &str) {
        match parse_time(text) {
            Ok(seconds) => {
                self.typed = None;
                let tick = ticks(seconds);
                if tick > self.lanes.last {
                    self.hint = format!("the log ends at {}", clock(self.lanes.last));
                }
                self.go_to(tick);
            }
            Err(problem) => self.hint = problem.to_string(),
        }
    }

    /// Lists only the events that have all of these words.
    fn find(&mut self, text: &str) {
        self.typed = None;
        text.trim().clone_into(&mut self.filter);
        self.list_again();
        if self.listed.is_empty() {
            self.hint = format!("no event has `{}`; Esc lists them again", self.filter);
        } else if !self.filter.is_empty() {
            self.hint = format!("{} events have it; Esc lists all again", self.listed.len());
        }
        (self.view, self.in_pane, self.pages.open) = (View::Events, false, None);
    }

    fn key_on_help(&mut self, code: KeyCode) {
        let rows = self.help_rows(self.room.0);
        let high = self.room.1 as isize;
        let Some(at) = &mut self.help else { return };
        match code {
            KeyCode::Up => at.go(&rows, -1),
            KeyCode::Down => at.go(&rows, 1),
            KeyCode::PageUp => at.go(&rows, -high),
            KeyCode::PageDown | KeyCode::Char(' ') => at.go(&rows, high),
            _ => self.help = None,
        }
    }

    /// Keys that move through time; `true`: it was one.
    fn key_on_time(&mut self, code: KeyCode) -> bool {
        let page = (self.cells / 10).max(1) as isize;
        match code {
            KeyCode::Left => self.go_cells(-1),
            KeyCode::Right => self.go_cells(1),
            KeyCode::PageUp => self.go_cells(-page),
            KeyCode::PageDown => self.go_cells(page),
            KeyCode::Home => self.go_to(0),
            KeyCode::End => self.go_to(self.lanes.last),
            KeyCode::Char('+' | '=') => self.zoom(true),
            KeyCode::Char('-') => self.zoom(false),
            KeyCode::Char(letter @ ('n' | 'p' | 'N' | 'P')) => {
                let on = letter.eq_ignore_ascii_case(&'n');
                if !self.go_mark(on, letter.is_uppercase()) {
                    let which = if on { "later" } else { "earlier" };
                    let what = if letter.is_uppercase() { "note or expectation" } else { "mark" };
                    self.hint = format!("there is no {which} {what}");
                }
            }
            KeyCode::Char(' ') => {
                self.plays = !self.plays && self.tick < self.lanes.last;
                if !self.plays && self.tick == self.lanes.last {
                    self.hint = "the run is over here; Home goes to its start".to_owned();
                }
            }
            KeyCode::Char('s') => self.speed = (self.speed + 1) % SPEEDS.len(),
            KeyCode::Char('g') => self.typed = Some((Input::Time, TypedLine::default())),
            KeyCode::Char('/') => self.typed = Some((Input::Find, TypedLine::default())),
            KeyCode::Tab => self.turn_eyes(1),
            KeyCode::BackTab => self.turn_eyes(self.eyes.len() - 1),
            _ => return false,
        }
        true
    }

    fn turn_eyes(&mut self, by: usize) {
        self.eye = (self.eye + by) % self.eyes.len().max(1);
        match self.view {
            // Whoever changes the eyes wants to see through them.
            View::Events => self.hint = "1 to 7 show what these eyes saw".to_owned(),
            View::Here => self.watch(self.watched),
            _ => {}
        }
    }

    /// Looks at a component in Here; says so when it cannot be seen.
    fn watch(&mut self, component: Option<usize>) {
        self.watched = component;
        self.look();
        let (Some(watched), None) = (component, &self.unseen) else { return };
        let rows = self.rows_of(View::Here, self.room.0);
        if rows.iter().all(|row| row.about != About::Component(watched)) {
            let known = self.model.chart.as_ref().and_then(|chart| chart.components.get(watched));
            let name = known.map_or("", |known| known.name.as_str());
            self.hint = format!("{name} cannot be seen from where they are; Tab: other eyes");
            self.in_pane = false;
        }
    }

    fn key_on_view(&mut self, code: KeyCode) {
        match code {
            KeyCode::Char('?') | KeyCode::F(1) => self.help = Some(At::default()),
            KeyCode::Char('a') => {
                self.lists_all = !self.lists_all;
                self.list_again();
                let what =
                    if self.lists_all { "all events" } else { "without needs, digests, cleared alerts" };
                self.hint = format!("listed: {what}");
            }
            KeyCode::Char('t') => self.turn_trend(),
            KeyCode::Char('w') => self.ask(Ask::Why),
            KeyCode::Char('v') => self.ask(Ask::Avoid),
            KeyCode::Char('o') => self.turn_objectives(),
            KeyCode::Char(letter @ ('[' | ']')) => self.turn_list(letter == ']'),
            KeyCode::Char(digit) => {
                if let Some(known) = View::ALL.iter().find(|known| known.1 == digit) {
                    (self.view, self.in_pane, self.pages.open) = (known.0, false, None);
                }
            }
            KeyCode::Up => self.go_rows(-1),
            KeyCode::Down => self.go_rows(1),
            KeyCode::Enter => self.enter(),
            KeyCode::Esc if self.in_pane => self.in_pane = false,
            KeyCode::Esc if !self.filter.is_empty() => {
                self.filter.clear();
                self.list_again();
            }
            _ => {}
        }
    }

    fn go_rows(&mut self, by: isize) {
        if self.view == View::Events {
            let last = self.listed.len().saturating_sub(1);
            self.go_to_item(self.item.saturating_add_signed(by).min(last));
        } else if self.in_pane {
            let rows = self.pane_rows(30);
            self.pane_at.go(&rows, by);
        } else {
            let rows = self.rows(self.room.0);
            let at = &mut self.at[self.view.index()];
            at.settle(&rows);
            at.go(&rows, by);
            if let (View::Here, About::Component(component)) = (self.view, at.about(&rows)) {
                self.watched = Some(*component);
            }
            self.pane_at = At::default();
        }
    }

    /// The next list or system, or the one before.
    fn turn_list(&mut self, on: bool) {
        if self.view == View::Systems {
            let count = self.systems.as_ref().map_or(0, |systems| systems.names().count());
            self.system = round(self.system, count, on);
        } else {
            let count = self.model.chart.as_ref().map_or(0, |chart| chart.lists.len());
            self.list = round(self.list, count, on);
        }
    }

    fn enter(&mut self) {
        if self.view == View::Events {
            self.enter_event();
            return;
        }
        match self.about() {
            About::Component(_) if self.view == View::Here => {
                (self.in_pane, self.pane_at) = (true, At::default());
            }
            About::Component(component) => {
                self.view = View::Here;
                self.watch(Some(component));
            }
            About::Alert(number) => {
                let known = self.model.situation.alerts.iter().find(|alert| alert.number == number);
                if let Some(tick) = known.map(|alert| alert.raised_tick) {
                    self.go_to(tick);
                }
            }
            About::Order(number) => {
                let known = self.model.situation.orders.iter().find(|order| order.number == number);
                if let Some(tick) = known.map(|order| order.given_tick) {
                    self.go_to(tick);
                }
            }
            About::Reading(_) => self.turn_trend(),
            _ => {}
        }
    }

    /// What the eyes saw of the thing that the chosen event is about.
    fn enter_event(&mut self) {
        let name = self.listed_item(self.item).and_then(|item| item.component.clone());
        self.view = View::Here;
        self.look();
        let Some(name) = name.filter(|_| self.unseen.is_none()) else { return };
        let component = self.model.chart.as_ref().and_then(|chart| chart.component(&name));
        self.pane_at = At::default();
        self.watch(component);
    }

    /// Begins or ends to show the course of the chosen reading.
    fn turn_trend(&mut self) {
        let About::Reading(name) = self.about() else {
            self.hint = "choose a reading first: 1, a component, Enter, a reading".to_owned();
            return;
        };
        match self.trends.iter().position(|known| *known == name) {
            Some(at) => drop(self.trends.remove(at)),
            None => {
                self.trends.push(name);
                self.hint = "its course stands in 6".to_owned();
            }
        }
        self.look_again();
    }

    /// What the chosen row is about, in the pane or in the view.
    pub(super) fn about(&self) -> About {
        let (rows, mut at) = match self.in_pane {
            true => (self.pane_rows(30), self.pane_at),
            false => (self.rows(self.room.0), self.at[self.view.index()]),
        };
        at.settle(&rows);
        at.about(&rows).clone()
    }
}

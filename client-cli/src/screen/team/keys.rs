//! What keys do on the screen of a team.

use super::{TeamScreen, View};
use crate::screen::Todo;
use crate::screen::browse::Browsed as _;
use crate::screen::desk::Desk;
use crate::screen::parts::{About, At, round};
use crate::screen::views::{checklist, component, orders};
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

impl TeamScreen {
    pub(super) fn pressed(&mut self, key: KeyEvent) -> Todo {
        if let Some(todo) = self.desk.leaves(key, "your seat is kept") {
            return todo;
        }
        if self.key_on_help(key.code) {
            return Todo::nothing();
        }
        if self.edit(key) {
            return Todo::nothing();
        }
        match key.code {
            KeyCode::Enter if !self.desk.typed.is_empty() => self.send(),
            code => self.key_on_view(code, key.modifiers.contains(KeyModifiers::CONTROL)),
        }
    }

    /// Sends what is typed; without a link it stays.
    fn send(&mut self) -> Todo {
        let Some(text) = self.desk.take_typed() else { return Todo::nothing() };
        let mut words = text.split_whitespace();
        match (words.next(), words.next()) {
            (None, _) => Todo::nothing(),
            (Some("quit" | "exit"), None) => Todo { send: Vec::new(), leave: true },
            (Some("trend"), Some(name)) => {
                self.desk.model.turn_trend(name);
                self.view = View::Trends;
                Todo::nothing()
            }
            (Some("watch" | "unwatch"), _) => {
                self.desk.hint =
                    "the screen shows all that can be read here; `trend NAME` keeps the course of one"
                        .to_owned();
                Todo::nothing()
            }
            _ => self.desk.line(&text),
        }
    }

    fn key_on_view(&mut self, code: KeyCode, ctrl: bool) -> Todo {
        match code {
            KeyCode::Char(digit @ '1'..='9') => {
                let (view, _) = View::ALL[digit as usize - '1' as usize];
                // The system that the chosen component is in.
                let chosen = (view == View::Systems).then(|| self.chosen_component()).flatten();
                if let Some(component) = chosen {
                    self.desk.show_in_system(component);
                }
                self.show(view);
            }
            KeyCode::Tab => self.turn_view(1),
            KeyCode::BackTab => self.turn_view(View::ALL.len() - 1),
            KeyCode::Char('?') | KeyCode::F(1) => {
                self.ask_help();
            }
            KeyCode::Char('/') => {
                self.show(View::Here);
                self.with_filter(Desk::search);
            }
            KeyCode::Char('!') => return self.acknowledge(),
            KeyCode::Char(' ') => return self.space(),
            KeyCode::Enter => return self.enter(),
            KeyCode::Esc => {
                self.browse.in_pane = false;
                self.with_filter(|desk| desk.filter.clear());
            }
            KeyCode::Up => self.go(-1),
            KeyCode::Down => self.go(1),
            KeyCode::PageUp => self.go(-(self.desk.room.1 as isize)),
            KeyCode::PageDown => self.go(self.desk.room.1 as isize),
            KeyCode::Home => self.go(-100_000),
            KeyCode::End => self.go(100_000),
            KeyCode::Left => self.sideways(false),
            KeyCode::Right => self.sideways(true),
            KeyCode::Char(letter) if !ctrl => self.desk.typed.put(letter),
            _ => {}
        }
        Todo::nothing()
    }

    pub(super) fn show(&mut self, view: View) {
        (self.view, self.browse.in_pane) = (view, false);
        if view == View::Talk {
            // What is newest stands at the end.
            self.here().row = usize::MAX;
        }
    }

    fn turn_view(&mut self, by: usize) {
        let next = (self.view.index() + by) % View::ALL.len();
        self.show(View::ALL[next].0);
    }

    fn go(&mut self, by: isize) {
        if self.view == View::Systems {
            self.desk.step_part(by);
        } else {
            self.go_rows(by);
        }
    }

    fn sideways(&mut self, right: bool) {
        match self.view {
            View::Here => self.browse.in_pane = right && self.chosen_component().is_some(),
            View::Systems => self.desk.turn_system(right),
            View::List => {
                let count = self.desk.model.chart.as_ref().map_or(0, |chart| chart.lists.len());
                self.list = round(self.list, count, right);
            }
            _ => {}
        }
    }

    fn enter(&mut self) -> Todo {
        match self.about() {
            About::Do(line, false) if self.view == View::List => {
                self.desk.typed.set(&line);
                self.desk.hint = "Enter does it".to_owned();
            }
            About::Do(line, false) => return self.desk.line(&line),
            About::Do(line, true) => {
                self.desk.typed.set(&line);
                self.desk.hint = "type the value with its unit, then Enter".to_owned();
            }
            About::Component(component) if self.view == View::Here => {
                self.browse.in_pane = true;
                self.browse.pane_at = At::default();
                if component::acts(&self.desk.model, component).is_empty() {
                    self.desk.hint = "nothing can be done to it from here, only read".to_owned();
                }
            }
            About::Component(component) => self.go_to(component),
            About::Alert(number) => return self.acknowledge_one(number),
            About::Order(number) => self.begin_reply(number),
            About::Place(place) => {
                let name = self.desk.model.chart.as_ref().map(|chart| chart.places[place].name.clone());
                return name.map_or_else(Todo::nothing, |name| self.desk.line(&format!("go {name}")));
            }
            About::Step(..) => self.hint_at_step(),
            About::Reading(name) => self.desk.model.turn_trend(&name),
            _ => {}
        }
        Todo::nothing()
    }

    fn hint_at_step(&mut self) {
        self.desk.hint =
            "Space ticks the step off; ↓ to what it does, Enter takes that into the line".to_owned();
    }

    /// To a component in the list of what is here; or what is in the way.
    fn go_to(&mut self, component: usize) {
        if self.desk.model.reach(component).is_none() {
            let place = self.desk.model.chart.as_ref().and_then(|chart| chart.components[component].place);
            let name =
                place.and_then(|place| Some(self.desk.model.chart.as_ref()?.places[place].name.clone()));
            match name {
                Some(name) => self.desk.typed.set(&format!("go {name}")),
                None => self.desk.hint = "it cannot be worked from here".to_owned(),
            }
            return;
        }
        self.desk.filter.clear();
        self.show(View::Here);
        let rows = self.rows(self.desk.room.0);
        self.here().find(&rows, &About::Component(component));
        self.browse.in_pane = true;
    }

    fn begin_reply(&mut self, number: u64) {
        let order = self.desk.model.situation.orders.iter().find(|order| order.number == number);
        let Some(order) = order else { return };
        let mine = orders::is_mine(&self.desk.model, order);
        let text = match (mine, order.read_back_tick) {
            (true, None) => format!("repeat {number} "),
            (true, Some(_)) => format!("report {number} "),
            (false, _) => {
                self.desk.hint = "this order is not for your station".to_owned();
                return;
            }
        };
        self.desk.typed.set(&text);
        self.desk.hint = "Enter sends it as it is; more words can be added".to_owned();
    }

    fn space(&mut self) -> Todo {
        match self.about() {
            About::Reading(name) => {
                self.desk.model.turn_trend(&name);
                self.desk.hint = "6 shows its course".to_owned();
                Todo::nothing()
            }
            About::Step(list, step) => self.tick(list, step),
            _ => Todo::nothing(),
        }
    }

    fn tick(&mut self, list: usize, step: usize) -> Todo {
        let names = self.desk.model.chart.as_ref().and_then(|chart| {
            let list = chart.lists.get(list)?;
            Some((list.name.clone(), list.steps.get(step)?.name.clone()))
        });
        match names {
            Some((list, step)) if checklist::ticked(&self.desk.model, &list, &step).is_none() => {
                self.desk.line(&format!("tick {step}"))
            }
            _ => Todo::nothing(),
        }
    }

    /// The chosen alert, else the most urgent that waits.
    fn acknowledge(&mut self) -> Todo {
        if self.view == View::Alerts
            && let About::Alert(number) = self.about()
        {
            return self.acknowledge_one(number);
        }
        let waiting =
            self.desk.model.situation.alerts.iter().find(|alert| alert.waits).map(|alert| alert.number);
        match waiting {
            Some(number) => self.acknowledge_one(number),
            None => {
                self.desk.hint = "no alert waits to be acknowledged".to_owned();
                Todo::nothing()
            }
        }
    }

    fn acknowledge_one(&mut self, number: u64) -> Todo {
        self.desk.line(&format!("ack {number}"))
    }
}

//! What keys do on the screen of a team.

use super::{TeamScreen, View};
use crate::screen::Todo;
use crate::screen::parts::{About, At, Row, round};
use crate::screen::views::{alerts, checklist, component, crew, here, orders, talk, trends};
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

impl TeamScreen {
    pub(super) fn pressed(&mut self, key: KeyEvent) -> Todo {
        if let Some(todo) = self.desk.leaves(key, "your seat is kept") {
            return todo;
        }
        if self.help.is_some() {
            self.key_on_help(key.code);
            return Todo::nothing();
        }
        if self.desk.edit(key) {
            return Todo::nothing();
        }
        match key.code {
            KeyCode::Enter if !self.desk.typed.is_empty() => self.send(),
            code => self.key_on_view(code, key.modifiers.contains(KeyModifiers::CONTROL)),
        }
    }

    fn key_on_help(&mut self, code: KeyCode) {
        let rows = self.help_rows(self.desk.room.0);
        let high = self.desk.room.1;
        let scrolls = self.help.as_mut().is_some_and(|(_, at)| at.scrolls(&rows, high, code));
        if !scrolls {
            self.help = None;
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
            KeyCode::Char('5') if self.chosen_component().is_some() => {
                // The system that the chosen component is in.
                let chosen = self.chosen_component();
                chosen.into_iter().for_each(|component| self.desk.show_in_system(component));
                self.show(View::Systems);
            }
            KeyCode::Char(digit @ '1'..='9') => self.show(View::ALL[digit as usize - '1' as usize].0),
            KeyCode::Tab => self.turn_view(1),
            KeyCode::BackTab => self.turn_view(View::ALL.len() - 1),
            KeyCode::Char('?') | KeyCode::F(1) => {
                let component = self.chosen_component();
                self.help = Some((component, At::default()));
            }
            KeyCode::Char('/') => {
                self.show(View::Here);
                self.desk.search();
            }
            KeyCode::Char('!') => return self.acknowledge(),
            KeyCode::Char(' ') => return self.space(),
            KeyCode::Enter => return self.enter(),
            KeyCode::Esc => {
                self.in_pane = false;
                self.desk.filter.clear();
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
        (self.view, self.in_pane) = (view, false);
        if view == View::Talk {
            // What is newest stands at the end.
            self.here().row = usize::MAX;
        }
    }

    fn turn_view(&mut self, by: usize) {
        let next = (self.view.index() + by) % View::ALL.len();
        self.show(View::ALL[next].0);
    }

    /// Rows of the view that is shown.
    pub(super) fn rows(&self, wide: usize) -> Vec<Row> {
        let (model, palette) = (&self.desk.model, self.desk.palette);
        match self.view {
            View::Here => here::rows(model, palette, &self.desk.filter, wide),
            View::Alerts => alerts::rows(model, palette, wide),
            View::Orders => orders::rows(model, palette, wide),
            View::Crew => crew::rows(model, palette, wide),
            View::Systems => self.desk.system_rows(wide),
            View::Trends => trends::rows(model, palette, wide),
            View::List => checklist::rows(model, palette, self.list, wide),
            View::Talk => talk::rows(model, palette, wide),
            View::Brief => self.brief_rows(wide),
        }
    }

    fn go(&mut self, by: isize) {
        if self.view == View::Systems {
            self.desk.step_part(by);
        } else if self.in_pane {
            let rows = self.pane_rows(30);
            self.pane_at.go(&rows, by);
        } else {
            let rows = self.rows(self.desk.room.0);
            self.here().go(&rows, by);
            self.pane_at = At::default();
        }
    }

    fn sideways(&mut self, right: bool) {
        match self.view {
            View::Here => self.in_pane = right && self.chosen_component().is_some(),
            View::Systems => self.desk.turn_system(right),
            View::List => {
                let count = self.desk.model.chart.as_ref().map_or(0, |chart| chart.lists.len());
                self.list = round(self.list, count, right);
            }
            _ => {}
        }
    }

    /// The component that the chosen row is about.
    pub(super) fn chosen_component(&self) -> Option<usize> {
        let rows = self.rows(self.desk.room.0);
        let mut at = self.at[self.view.index()];
        at.settle(&rows);
        match at.about(&rows) {
            About::Component(component) => Some(*component),
            _ => None,
        }
    }

    /// The pane beside the list.
    pub(super) fn pane_rows(&self, wide: usize) -> Vec<Row> {
        let chosen = self.chosen_component();
        chosen.map_or_else(Vec::new, |chosen| {
            component::pane(&self.desk.model, self.desk.palette, chosen, wide)
        })
    }

    /// What the chosen row is about, in the pane or in the view.
    fn about(&self) -> About {
        let (rows, mut at) = match self.in_pane {
            true => (self.pane_rows(30), self.pane_at),
            false => (self.rows(self.desk.room.0), self.at[self.view.index()]),
        };
        at.settle(&rows);
        at.about(&rows).clone()
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
                self.in_pane = true;
                self.pane_at = At::default();
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
        self.in_pane = true;
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

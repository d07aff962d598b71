//! What keys do on the instructor's screen.

use super::{ClassScreen, View};
use crate::online::directing;
use crate::screen::Todo;
use crate::screen::browse::{Browsed as _, Topic};
use crate::screen::desk::Desk;
use crate::screen::model::Sort;
use crate::screen::parts::{About, At, round};
use crate::screen::views::faults::{self, Fault};
use crate::screen::views::teams;
use deadship_protocol::ClientMessage;
use deadship_run::event::CATEGORIES;
use ratatui::crossterm::event::{KeyCode, KeyEvent};
use uuid::Uuid;

/// Speeds that `+` and `-` step through.
const SPEEDS: [f64; 7] = [0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 30.0];

/// Marks by their function keys, from F2 on.
pub(super) fn marks() -> impl Iterator<Item = (u8, &'static str)> {
    (2..).zip(CATEGORIES.map(|(word, _)| word))
}

impl ClassScreen {
    pub(super) fn pressed(&mut self, key: KeyEvent) -> Todo {
        if let Some(todo) = self.desk.leaves(key, "the runs go on") {
            return todo;
        }
        if self.key_on_help(key.code) {
            return Todo::nothing();
        }
        if let KeyCode::F(number) = key.code {
            return self.function_key(number);
        }
        if self.edit(key) {
            return Todo::nothing();
        }
        match key.code {
            KeyCode::Enter if !self.desk.typed.is_empty() => self.send(),
            code => self.key_on_view(code),
        }
    }

    /// F1 help, F2 to F6 marks: what was seen lies ten seconds back by the time the key is found.
    fn function_key(&mut self, number: u8) -> Todo {
        if number == 1 {
            self.browse.help = Some((Topic::Keys, At::default()));
            return Todo::nothing();
        }
        match marks().find(|known| known.0 == number) {
            Some((_, category)) => self.desk.line(&format!("mark {category} 10 s ago")),
            None => Todo::nothing(),
        }
    }

    /// Sends what is typed.
    fn send(&mut self) -> Todo {
        let Some(text) = self.desk.take_typed() else { return Todo::nothing() };
        let (word, rest) = text.split_once(char::is_whitespace).unwrap_or((&text, ""));
        let rest = rest.trim();
        let done = match word {
            "" => return Todo::nothing(),
            "quit" | "exit" if rest.is_empty() => return Todo { send: Vec::new(), leave: true },
            "use" => directing::find(&self.runs, rest).map(|known| self.choose(known.run)),
            "all" => self.to_class(&text, Vec::new(), rest),
            "for" => directing::some(rest).and_then(|(teams, line)| self.to_class(&text, teams, &line)),
            "hand" => self.class().map_or_else(
                || Err("hand: no class is in use".to_owned()),
                |class| Ok(ClientMessage::Hand { id: Uuid::new_v4(), class, to: rest.to_owned() }),
            ),
            "runs" if rest.is_empty() => {
                self.wants_list = true;
                Ok(ClientMessage::Runs {})
            }
            "drills" if rest.is_empty() => {
                let about = |drill: &deadship_protocol::DrillInfo| format!("{}: {}", drill.name, drill.title);
                let lines: Vec<String> = self.drills.iter().map(about).collect();
                self.desk.model.add(Sort::Answer, lines);
                return Todo::nothing();
            }
            "trend" if !rest.is_empty() => {
                self.desk.model.turn_trend(rest);
                self.show(View::Trends);
                return Todo::nothing();
            }
            "open" if self.means_drill(rest) => directing::open(rest),
            "again" => directing::again(&self.runs, rest),
            _ => return self.desk.line(&text),
        };
        match done {
            Ok(message) => self.desk.ask(&text, message),
            Err(why) => {
                self.desk.model.add(Sort::Refused, [format!("refused: {why}")]);
                Todo::nothing()
            }
        }
    }

    fn to_class(&self, typed: &str, teams: Vec<String>, line: &str) -> Result<ClientMessage, String> {
        match self.class() {
            _ if line.is_empty() => Err(format!("{typed}: write `all LINE`, or `for TEAM, TEAM: LINE`")),
            None => Err(format!("{typed}: no class is in use; choose a team first")),
            Some(class) => {
                Ok(ClientMessage::ClassLine { id: Uuid::new_v4(), class, teams, text: line.to_owned() })
            }
        }
    }

    /// `open` is also what hands do to valves: it opens a class when a drill is named.
    fn means_drill(&self, rest: &str) -> bool {
        let first = rest.split_whitespace().next().unwrap_or_default();
        self.used.is_none() || self.drills.iter().any(|drill| drill.name == first)
    }

    fn key_on_view(&mut self, code: KeyCode) -> Todo {
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
            KeyCode::Char('?') => self.ask_help(),
            KeyCode::Char('/') => {
                if self.view != View::Faults {
                    self.show(View::Plant);
                }
                self.with_filter(Desk::search);
            }
            KeyCode::Char('=') => return self.hold_or_resume(),
            KeyCode::Char('+') => return self.step_speed(true),
            KeyCode::Char('-') => return self.step_speed(false),
            KeyCode::Char(';') => self.more_words(),
            KeyCode::Char('"') => self.desk.typed.set("bridge say to "),
            KeyCode::Char('*') => return self.for_all(),
            KeyCode::Char('[') => return self.next_team(false),
            KeyCode::Char(']') => return self.next_team(true),
            KeyCode::Char(' ') => self.space(),
            KeyCode::Enter => return self.enter(),
            KeyCode::Esc => {
                self.browse.in_pane = false;
                self.looked_at = None;
                self.with_filter(|desk| desk.filter.clear());
            }
            KeyCode::Up => self.go(-1),
            KeyCode::Down => self.go(1),
            KeyCode::PageUp => self.go(-(self.desk.room.1 as isize)),
            KeyCode::PageDown => self.go(self.desk.room.1 as isize),
            KeyCode::Home => self.go(-100_000),
            KeyCode::End => self.go(100_000),
            KeyCode::Left | KeyCode::Right if self.view == View::Systems => {
                self.desk.turn_system(code == KeyCode::Right);
            }
            KeyCode::Left => self.browse.in_pane = false,
            KeyCode::Right => {
                self.browse.in_pane = self.view == View::Plant && self.chosen_component().is_some()
            }
            KeyCode::Char(letter) => self.desk.typed.put(letter),
            _ => {}
        }
        Todo::nothing()
    }

    pub(super) fn show(&mut self, view: View) {
        (self.view, self.browse.in_pane, self.looked_at) = (view, false, None);
        if view == View::Talk {
            self.here().row = usize::MAX;
        }
    }

    fn turn_view(&mut self, by: usize) {
        let next = (self.view.index() + by) % View::ALL.len();
        self.show(View::ALL[next].0);
    }

    fn hold_or_resume(&mut self) -> Todo {
        let held = self.desk.model.state.as_ref().is_some_and(|state| state.hold.is_some());
        self.desk.line(if held { "resume" } else { "hold" })
    }

    fn step_speed(&mut self, faster: bool) -> Todo {
        let shown = self.desk.model.state.as_ref().map_or(1.0, |state| state.speed);
        let now = self.wanted_speed.unwrap_or(shown);
        let next = match faster {
            true => SPEEDS.iter().find(|speed| **speed > now),
            false => SPEEDS.iter().rev().find(|speed| **speed < now),
        };
        let Some(next) = next else { return Todo::nothing() };
        self.wanted_speed = Some(*next);
        self.desk.line(&format!("speed {next}"))
    }

    fn more_words(&mut self) {
        match self.marked {
            Some(seq) => self.desk.typed.set(&format!("note on {seq}: ")),
            None => self.desk.typed.set("note "),
        }
    }

    fn next_team(&mut self, forward: bool) -> Todo {
        let teams = teams::all_teams(&self.board);
        let now = teams.iter().position(|team| Some(team.state.run) == self.used);
        let next = now.map_or(0, |now| round(now, teams.len(), forward));
        let run = teams.get(next).map(|team| team.state.run);
        run.map_or_else(Todo::nothing, |run| Todo::send(vec![self.choose(run)]))
    }

    fn go(&mut self, by: isize) {
        if self.view == View::Systems {
            self.desk.step_part(by);
        } else {
            self.go_rows(by);
            if self.looked_at.is_some() {
                self.looked_at = self.chosen_fault();
            }
        }
    }

    pub(super) fn chosen_fault(&self) -> Option<Fault> {
        let About::Item(item) = self.about_in_view() else { return None };
        let (_, known) =
            faults::rows(&self.desk.model, self.desk.palette, &self.desk.filter, self.desk.room.0);
        known.get(item).cloned()
    }

    fn enter(&mut self) -> Todo {
        match self.about() {
            About::Team(place) => {
                let run = teams::all_teams(&self.board).get(place).map(|team| team.state.run);
                return run.map_or_else(Todo::nothing, |run| Todo::send(vec![self.choose(run)]));
            }
            About::Item(_) if self.view == View::Faults => return self.enter_fault(),
            About::Step(list, step) => self.hint(list, step),
            About::Component(_) if self.view == View::Plant => {
                self.browse.in_pane = true;
                self.browse.pane_at = At::default();
            }
            About::Component(component) => {
                self.show(View::Plant);
                let rows = self.rows(self.desk.room.0);
                self.here().find(&rows, &About::Component(component));
            }
            About::Do(line, false) => return self.desk.line(&line),
            About::Do(line, true) => self.desk.typed.set(&line),
            About::Reading(name) => self.desk.model.turn_trend(&name),
            _ => {}
        }
        Todo::nothing()
    }

    /// The first Enter shows what a fault does, the second sets or lifts it.
    fn enter_fault(&mut self) -> Todo {
        let chosen = self.chosen_fault();
        match (chosen, &self.looked_at) {
            (Some(fault), Some(looked_at)) if fault == *looked_at => {
                self.looked_at = None;
                self.desk.line(&fault.line)
            }
            (Some(fault), _) => {
                self.desk.hint =
                    "Enter again: now, this team   *: every team   Space: into the line".to_owned();
                self.looked_at = Some(fault);
                Todo::nothing()
            }
            (None, _) => Todo::nothing(),
        }
    }

    /// What is looked at, for every team.
    fn for_all(&mut self) -> Todo {
        let Some(fault) = self.looked_at.take() else {
            self.desk.typed.set("all ");
            return Todo::nothing();
        };
        let text = format!("all {}", fault.line);
        match self.to_class(&text, Vec::new(), &fault.line) {
            Ok(message) => self.desk.ask(&text, message),
            Err(why) => {
                self.desk.hint = why;
                Todo::nothing()
            }
        }
    }

    fn hint(&mut self, list: usize, step: usize) {
        let check = self.desk.model.chart.as_ref().and_then(|chart| chart.lists.get(list)?.steps.get(step));
        if let Some(check) = check {
            let line = format!("say to {}: Hint: {}", check.station, check.title);
            self.desk.typed.set(&line);
            self.desk.hint = "Enter says it; change it as you like".to_owned();
        }
    }

    fn space(&mut self) {
        match self.about() {
            About::Item(_) => {
                if let Some(fault) = self.chosen_fault() {
                    self.desk.typed.set(&format!("{} ", fault.line));
                    self.desk.hint = "add: 50 %  over 30 s  every 60 s for 5 s  when CONDITION".to_owned();
                }
            }
            About::Reading(name) => self.desk.model.turn_trend(&name),
            About::Team(place) => {
                let team = teams::all_teams(&self.board).get(place).map(|team| team.state.team.clone());
                self.desk.typed.set(&format!("for {}: ", team.unwrap_or_default()));
            }
            _ => {}
        }
    }
}

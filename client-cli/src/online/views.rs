//! The views of the screens as lines, for scripts and for people who use screen readers: `show systems sea water`.

use crate::failure::Failure;
use crate::io::Io;
use crate::screen::{Desk, Palette, Row, Systems, views};
use deadship_plant::file::toml_reader::nearest;
use deadship_protocol::{BoardClass, ClientMessage, ServerMessage};
use std::collections::BTreeMap;

/// Widest line.
const WIDE: usize = 78;

/// What can be shown to everybody, and what only to those who run the class.
const NAMES: [&str; 7] = ["here", "alerts", "orders", "crew", "systems", "list", "about"];
const STAFF_NAMES: [&str; 3] = ["faults", "plan", "teams"];

/// How the word is written, for `help`.
pub(crate) const FORM: (&str, &str) = (
    "show VIEW [NAME]",
    "a view of the full screen as lines: here, alerts, orders, crew, systems [NAME], list [NAME], about NAME; for \
     instructors also faults [NAME], plan, teams",
);

/// Views of one run as lines. What they show is asked for when it is wanted, and only then.
pub(super) struct Views {
    desk: Desk,
    sees_all: bool,
    /// What is to be shown once everything is there.
    wanted: Option<(String, String)>,
    /// Readings come that were asked for to be shown: they are not told as changes.
    watching: bool,
}

impl Views {
    pub(super) fn new(name: &str, sees_all: bool) -> Views {
        Views {
            desk: Desk::new(name, sees_all, Palette::new(false)),
            sees_all,
            wanted: None,
            watching: false,
        }
    }

    /// Is something still to be shown?
    pub(super) fn is_waiting(&self) -> bool {
        self.wanted.is_some()
    }

    /// Somebody wants to see something; what is to be asked for it.
    ///
    /// # Errors
    /// There is no such view.
    pub(super) fn want(&mut self, rest: &str) -> Result<Vec<ClientMessage>, String> {
        let (view, name) = rest.split_once(char::is_whitespace).unwrap_or((rest, ""));
        let known = || NAMES.iter().chain(STAFF_NAMES.iter().filter(|_| self.sees_all)).copied();
        if !known().any(|known| known == view) {
            let near =
                nearest(view, known()).map_or_else(String::new, |near| format!("; did you mean `{near}`?"));
            return Err(format!(
                "there is no view `{view}`; there are {}{near}",
                known().collect::<Vec<_>>().join(", ")
            ));
        }
        self.wanted = Some((view.to_owned(), name.trim().to_owned()));
        self.watching = true;
        Ok(vec![ClientMessage::Chart {}, ClientMessage::Screen { on: true }, self.desk.own_line("watch *")])
    }

    /// Takes what is for the views alone. `None`: it was; what is to be asked then stands beside it.
    pub(super) fn take(
        &mut self,
        io: &mut Io,
        message: ServerMessage,
        asked: Option<&ClientMessage>,
        board: &[BoardClass],
        watched: Option<&str>,
    ) -> Result<(Option<ServerMessage>, Vec<ClientMessage>), Failure> {
        let refused = matches!(message, ServerMessage::Refused { .. } | ServerMessage::Error { .. });
        if refused && matches!(asked, Some(ClientMessage::Chart {} | ClientMessage::Screen { .. })) {
            // Nothing can be shown: the refusal says why.
            self.wanted = None;
        }
        if refused && matches!(asked, Some(ClientMessage::Screen { .. })) {
            return Ok((None, Vec::new()));
        }
        if self.desk.is_own(asked) {
            // Where nothing can be read there is still something to be seen.
            if let Some((view, name)) = self.wanted.take_if(|_| refused) {
                self.print(io, &view, &name, board)?;
            }
            self.watching = self.wanted.is_some();
            return Ok((None, Vec::new()));
        }
        match &message {
            ServerMessage::Gauges(gauges) if self.watching => {
                let full = gauges.base == gauges.tick;
                self.desk.take(message);
                let Some((view, name)) = self.wanted.take_if(|_| full) else { return Ok((None, Vec::new())) };
                self.print(io, &view, &name, board)?;
                // What was watched before is watched again.
                let back = watched.unwrap_or("unwatch");
                Ok((None, vec![self.desk.own_line(back)]))
            }
            ServerMessage::Chart { .. } | ServerMessage::Situation { .. } => {
                self.desk.take(message);
                Ok((None, Vec::new()))
            }
            ServerMessage::State(state) => {
                self.desk.model.take_state(state.clone());
                Ok((Some(message), Vec::new()))
            }
            _ => Ok((Some(message), Vec::new())),
        }
    }

    fn print(&self, io: &mut Io, view: &str, name: &str, board: &[BoardClass]) -> Result<(), Failure> {
        for row in self.rows(view, name, board) {
            io.line(row.line.to_string().trim_end())?;
        }
        io.flush()
    }

    fn rows(&self, view: &str, name: &str, board: &[BoardClass]) -> Vec<Row> {
        let (model, palette) = (&self.desk.model, self.desk.palette);
        match view {
            "here" => views::here::rows(model, palette, name, WIDE),
            "alerts" => views::alerts::rows(model, palette, WIDE),
            "orders" => views::orders::rows(model, palette, WIDE),
            "crew" => views::crew::rows(model, palette, WIDE),
            "list" => {
                let lists = model.chart.as_ref().map(|chart| chart.lists.as_slice()).unwrap_or_default();
                let list = lists.iter().position(|list| list.name == name).unwrap_or(0);
                views::checklist::rows(model, palette, list, WIDE)
            }
            "systems" => self.system(name),
            "about" => self.about(name),
            "faults" => views::faults::rows(model, palette, name, WIDE).0,
            "plan" => views::plan::rows(model, palette, WIDE),
            _ => views::teams::rows(board, &BTreeMap::new(), model, &[], palette, WIDE),
        }
    }

    /// One system, or the names of all.
    fn system(&self, name: &str) -> Vec<Row> {
        let (model, palette) = (&self.desk.model, self.desk.palette);
        let Some(chart) = &model.chart else { return Vec::new() };
        let systems = Systems::new(chart);
        let found =
            systems.names().position(|known| known == name || (!name.is_empty() && known.starts_with(name)));
        match found {
            Some(system) => {
                let lines = systems.lines(system, model, palette, WIDE, None);
                lines.into_iter().map(|(line, _)| Row::of(line)).collect()
            }
            None => systems.names().map(|name| Row::heading(palette, name)).collect(),
        }
    }

    /// A component, or a fault.
    fn about(&self, name: &str) -> Vec<Row> {
        let (model, palette) = (&self.desk.model, self.desk.palette);
        let Some(chart) = &model.chart else { return Vec::new() };
        if let Some(component) = chart.component(name) {
            return views::component::help(model, palette, component, WIDE);
        }
        let fault = views::faults::Fault { name: name.to_owned(), set: false, line: String::new() };
        let rows = views::faults::preview(model, palette, &fault, WIDE);
        if !rows.is_empty() {
            return rows;
        }
        let near = nearest(name, chart.components.iter().map(|component| component.name.as_str()));
        let near = near.map_or_else(String::new, |near| format!(" (did you mean {near}?)"));
        vec![Row::heading(palette, &format!("there is no {name} aboard{near}"))]
    }
}

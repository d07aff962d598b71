//! What every screen with a link has: what is known of the run, the command line, the search, word of what was done.

use super::colours::{Ink, Palette};
use super::complete::{Names, candidates, complete, form};
use super::line::TypedLine;
use super::model::{Model, Sort, Talk};
use super::parts::{About, Row, Sheet, both_ends, ink, round};
use super::systems::Systems;
use super::text::{clean, clock, cut, width};
use super::{Linked, SMALLEST, Todo};
use crate::online::link::joined;
use crate::online::show;
use deadship_protocol::{ClientMessage, ErrorCode, ServerMessage};
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::{Position, Rect};
use ratatui::text::Line;
use uuid::Uuid;

/// Answers with more lines are read in the talk.
const LONG_ANSWER: usize = 3;

/// What every screen with a link has.
pub(crate) struct Desk {
    pub(crate) palette: Palette,
    pub(crate) model: Model,
    pub(crate) linked: Linked,
    pub(crate) typed: TypedLine,
    /// What is to be known now: candidates, what a key did.
    pub(crate) hint: String,
    /// What a list is filtered by.
    pub(crate) filter: String,
    /// Is the filter being typed?
    pub(crate) filtering: bool,
    /// Names that complete what is typed and stand in no drawing.
    pub(crate) names: Names,
    /// Room of the main part when it was drawn last.
    pub(crate) room: (usize, usize),
    /// The systems of the ship, once the drawing is there.
    pub(crate) systems: Option<Systems>,
    /// The one that is shown.
    pub(crate) system: usize,
    /// The component that is chosen in it; none: the first.
    part: Option<usize>,
    leaving: bool,
    /// Lines that the screen sent by itself: their answers are not shown.
    own: Vec<Uuid>,
}

impl Desk {
    /// Nothing is known yet.
    pub(crate) fn new(name: &str, sees_all: bool, palette: Palette) -> Desk {
        Desk {
            palette,
            model: Model::of(name, sees_all),
            linked: Linked::Yes,
            typed: TypedLine::default(),
            hint: String::new(),
            filter: String::new(),
            filtering: false,
            names: Names::default(),
            room: (78, 14),
            systems: None,
            system: 0,
            part: None,
            leaving: false,
            own: Vec::new(),
        }
    }

    /// Takes what is typed, to be done. Without a link it stays.
    pub(crate) fn take_typed(&mut self) -> Option<String> {
        if self.linked != Linked::Yes {
            self.hint = "there is no link now: the line stays until there is".to_owned();
            return None;
        }
        Some(self.typed.take())
    }

    /// A line that the screen sends by itself.
    pub(crate) fn own_line(&mut self, text: &str) -> ClientMessage {
        let id = Uuid::new_v4();
        self.own.push(id);
        ClientMessage::Line { id, text: text.to_owned() }
    }

    /// A line of the person, shown at once.
    pub(crate) fn line(&mut self, text: &str) -> Todo {
        self.ask(text, ClientMessage::Line { id: Uuid::new_v4(), text: text.to_owned() })
    }

    /// Something that the person asks, shown at once. Without a link nothing is sent.
    pub(crate) fn ask(&mut self, text: &str, message: ClientMessage) -> Todo {
        if self.linked != Linked::Yes {
            self.hint = "there is no link now: nothing was sent".to_owned();
            return Todo::nothing();
        }
        let talk =
            Talk { tick: self.model.tick, who: "›".to_owned(), text: clean(text), sort: Sort::Answer };
        self.model.add_talk(talk);
        Todo::send(vec![message])
    }

    /// Ctrl-C and Ctrl-D: twice to leave.
    pub(crate) fn leaves(&mut self, key: KeyEvent, kept: &str) -> Option<Todo> {
        let asked = std::mem::take(&mut self.leaving);
        let ctrl = key.modifiers.contains(KeyModifiers::CONTROL);
        if !ctrl || !matches!(key.code, KeyCode::Char('c' | 'd')) {
            self.hint.clear();
            return None;
        }
        if asked {
            return Some(Todo { send: Vec::new(), leave: true });
        }
        self.leaving = true;
        self.hint = format!("once more to leave; {kept}");
        Some(Todo::nothing())
    }

    /// Keys that work on what is typed, or on the search. `true`: it was one.
    pub(crate) fn edit(&mut self, key: KeyEvent) -> bool {
        if self.filtering {
            self.edit_filter(key.code);
            return true;
        }
        let ctrl = key.modifiers.contains(KeyModifiers::CONTROL);
        let typing = !self.typed.is_empty();
        match key.code {
            KeyCode::Char('p') if ctrl => self.typed.remember(true),
            KeyCode::Char('n') if ctrl => self.typed.remember(false),
            KeyCode::Up if typing => self.typed.remember(true),
            KeyCode::Down if typing => self.typed.remember(false),
            KeyCode::Char('w') if ctrl => self.typed.rub_word(),
            KeyCode::Char('u') if ctrl => self.typed.clear(),
            KeyCode::Backspace if typing => self.typed.rub(),
            KeyCode::Delete if typing => self.typed.delete(),
            KeyCode::Left if typing => self.typed.go(-1),
            KeyCode::Right if typing => self.typed.go(1),
            KeyCode::Home if typing => self.typed.go_end(false),
            KeyCode::End if typing => self.typed.go_end(true),
            KeyCode::Esc if typing => self.typed.clear(),
            KeyCode::Tab if typing => self.complete(),
            KeyCode::Char(letter) if typing && !ctrl => self.typed.put(letter),
            _ => return false,
        }
        true
    }

    fn edit_filter(&mut self, code: KeyCode) {
        match code {
            KeyCode::Char(letter) => self.filter.push(letter),
            KeyCode::Backspace => drop(self.filter.pop()),
            KeyCode::Esc => {
                self.filtering = false;
                self.filter.clear();
            }
            _ => self.filtering = false,
        }
    }

    /// Begins a search.
    pub(crate) fn search(&mut self) {
        (self.filtering, self.filter) = (true, String::new());
        self.hint = "type what you look for; Enter keeps it, Esc shows all again".to_owned();
    }

    fn complete(&mut self) {
        let typed = self.typed.before();
        let found = candidates(&self.model, &self.names, &typed);
        let (text, many) = complete(&typed, &found);
        self.typed.set(&text);
        self.hint = match (many.len(), found.len()) {
            (_, 0) => "nothing here begins so".to_owned(),
            (0, _) => String::new(),
            _ => many.join("  "),
        };
    }

    /// Is it the answer to a line that the screen sent by itself?
    pub(crate) fn is_own(&mut self, asked: Option<&ClientMessage>) -> bool {
        let Some(ClientMessage::Line { id, .. }) = asked else { return false };
        let before = self.own.len();
        self.own.retain(|own| own != id);
        self.own.len() != before
    }

    /// Takes what concerns what is known of the run; gives back the rest.
    pub(crate) fn take(&mut self, message: ServerMessage) -> Option<ServerMessage> {
        match message {
            ServerMessage::Gauges(gauges) => self.model.take_gauges(&gauges),
            ServerMessage::State(state) => self.model.take_state(state),
            ServerMessage::Chart { chart, .. } => match serde_json::from_value(chart) {
                Ok(chart) => {
                    let systems = Systems::new(&chart);
                    // Another ship has other systems.
                    self.system = self.system.min(systems.names().count().saturating_sub(1));
                    self.systems = Some(systems);
                    self.model.take_chart(chart);
                }
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
            other => return Some(other),
        }
        None
    }

    /// Answers, refusals and errors as talk. `true`: there are so many lines that the talk is to be shown.
    pub(crate) fn answer(&mut self, message: ServerMessage, asked: Option<&ClientMessage>) -> bool {
        let text = match asked {
            Some(ClientMessage::Line { text, .. } | ClientMessage::ClassLine { text, .. }) => text.as_str(),
            Some(ClientMessage::Open { .. }) => "open",
            Some(ClientMessage::Use { .. }) => "use",
            Some(ClientMessage::Hand { .. }) => "hand",
            _ => "",
        };
        let (sort, lines) = match message {
            ServerMessage::Answer { lines, .. } => (Sort::Answer, lines),
            ServerMessage::Refused { reasons, .. } => (Sort::Refused, vec![show::refused(text, &reasons)]),
            ServerMessage::Error { code, text: what, remedy, .. } => {
                let old = matches!(asked, Some(ClientMessage::Chart {})) && code == ErrorCode::UnknownMessage;
                let remedy = match old {
                    true => {
                        "the server is older than this terminal and has no drawing for screens: use --plain"
                    }
                    false => remedy.as_str(),
                };
                let said = joined(&what, remedy);
                let said = if text.is_empty() { said } else { format!("{text}: {said}") };
                (Sort::Refused, vec![format!("refused: {said} ({code})")])
            }
            ServerMessage::Busy { .. } => {
                (Sort::Refused, vec![format!("refused: {text}: the run has too much to do (busy)")])
            }
            _ => return false,
        };
        let is_long = lines.len() > LONG_ANSWER;
        self.model.add(sort, lines);
        is_long
    }

    /// The system that is shown, laid out from the drawing; the row with the chosen part can be chosen.
    pub(crate) fn system_rows(&self, wide: usize) -> Vec<Row> {
        let Some(systems) = &self.systems else { return Vec::new() };
        let part = self.part.or_else(|| systems.order(self.system, &self.model).first().copied());
        let drawn = systems.lines(self.system, &self.model, self.palette, wide, part);
        let chosen = self.palette.style(Ink::Chosen);
        let about = |line: &Line<'_>| match part {
            Some(part) if line.spans.iter().any(|span| span.style == chosen) => About::Component(part),
            _ => About::Nothing,
        };
        drawn.into_iter().map(|(line, _)| Row { about: about(&line), line }).collect()
    }

    /// To the next part of the system that is shown, in the order of the medium.
    pub(crate) fn step_part(&mut self, by: isize) {
        let Some(systems) = &self.systems else { return };
        let order = systems.order(self.system, &self.model);
        let now = self.part.and_then(|part| order.iter().position(|known| *known == part)).unwrap_or(0);
        let next = now.saturating_add_signed(by).min(order.len().saturating_sub(1));
        self.part = order.get(next).copied();
    }

    /// Shows the system that a component is in.
    pub(crate) fn show_in_system(&mut self, component: usize) {
        if let Some(system) = self.systems.as_ref().and_then(|systems| systems.with(component)) {
            (self.system, self.part) = (system, Some(component));
        }
    }

    /// Which of the systems is shown, for the keys' line.
    pub(crate) fn system_keys(&self) -> String {
        let count = self.systems.as_ref().map_or(0, |systems| systems.names().count());
        format!("←→ other system ({} of {count})  ↑↓ choose  Enter go to it  ? help on it", self.system + 1)
    }

    /// The next system, or the one before.
    pub(crate) fn turn_system(&mut self, forward: bool) {
        let count = self.systems.as_ref().map_or(0, |systems| systems.names().count());
        self.part = None;
        self.system = round(self.system, count, forward);
    }

    /// The link is lost, or is back.
    pub(crate) fn set_linked(&mut self, linked: Linked) {
        if let (Linked::Yes, Linked::Lost(..)) = (&linked, &self.linked) {
            self.model.add(Sort::Answer, ["the link is back; what you missed has come".to_owned()]);
            self.hint.clear();
        }
        self.linked = linked;
    }

    /// Draws what is said when there is too little room; `true`: there is.
    pub(crate) fn too_small(&self, sheet: &mut Sheet<'_>, area: Rect) -> bool {
        if area.width >= SMALLEST.0 && area.height >= SMALLEST.1 {
            return false;
        }
        let text = format!(
            "this terminal has {} columns and {} lines; at least {} and {} are needed",
            area.width, area.height, SMALLEST.0, SMALLEST.1
        );
        let mut rest = area;
        for row in Row::text(self.palette, Ink::Plain, &text, usize::from(area.width)) {
            rest = sheet.line(rest, &row.line);
        }
        true
    }

    /// The bar at the top: team, drill, ship; time, speed, link.
    pub(crate) fn top(&self, sheet: &mut Sheet<'_>, area: Rect, who: &str) -> Rect {
        let model = &self.model;
        let (team, speed) =
            model.state.as_ref().map_or(("", 1.0), |state| (state.team.as_str(), state.speed));
        let (ship, drill) =
            model.chart.as_ref().map_or(("", ""), |chart| (chart.ship.as_str(), chart.drill.as_str()));
        let speed = if speed == 1.0 { String::new() } else { format!(" ×{speed}") };
        let link = match &self.linked {
            Linked::Yes => "● link".to_owned(),
            Linked::Lost(_, tries) => format!("✖ LINK LOST, try {tries}"),
        };
        let parts: Vec<String> =
            [who, team, drill, ship].into_iter().filter(|part| !part.is_empty()).map(clean).collect();
        let left = format!(" {}", parts.join(" · "));
        let right = format!("ship's time {}{speed}  {link} ", clock(model.tick));
        sheet.bar(area, Ink::Bar, &both_ends(&left, &right, usize::from(area.width)))
    }

    /// The line below it: what stops everything when something does, else what is given.
    pub(crate) fn standing(&self, sheet: &mut Sheet<'_>, area: Rect, usual: &str) -> Rect {
        if let Linked::Lost(why, _) = &self.linked {
            let text = format!(" The link is lost ({why}); it is being taken back. Look around meanwhile.");
            return sheet.bar(area, Ink::Alarm, &text);
        }
        let state = self.model.state.as_ref();
        let stopped = state.and_then(|state| {
            let over = state.ended.as_ref().map(|why| format!(" OVER: {}", clean(why)));
            let failed = || state.failed.as_ref().map(|why| format!(" FAILED: {}", clean(why)));
            let hold = || state.hold.as_ref().map(|why| format!(" ON HOLD: {};", clean(why)));
            over.or_else(failed).or_else(hold)
        });
        match stopped {
            Some(stopped) => sheet.bar(area, Ink::Caution, &format!("{stopped} {usual}")),
            None => sheet.bar(area, Ink::Strong, usual),
        }
    }

    /// The command line and what helps with it; where the cursor is.
    pub(crate) fn command_line(&self, sheet: &mut Sheet<'_>, area: Rect, keys: &str) -> Position {
        let palette = self.palette;
        let (mark, (text, cell)) = match self.filtering {
            true => ("/ ", (self.filter.clone(), width(&self.filter))),
            false => ("> ", self.typed.window(usize::from(area.width) - 3)),
        };
        let line = Line::from(vec![ink(palette, Ink::Strong, mark), ink(palette, Ink::Typed, text)]);
        let rest = sheet.line(area, &line);
        let hint = match (self.hint.is_empty(), self.typed.is_empty()) {
            (false, _) => self.hint.clone(),
            (true, false) => form(&self.typed.text(), self.model.sees_all)
                .unwrap_or_else(|| "Tab completes, Enter sends, Esc clears".to_owned()),
            (true, true) => keys.to_owned(),
        };
        let hint = cut(&clean(&hint), usize::from(area.width) - 1);
        sheet.line(rest, &Line::from(ink(palette, Ink::Faint, format!(" {hint}"))));
        Position { x: area.x + 2 + cell as u16, y: area.y }
    }
}

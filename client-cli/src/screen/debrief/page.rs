//! Pages that lie beside the events, or over them: the answer to a question, and the objectives. Enter on one of their
//! lines takes the cursor to the instant that it is about.

use super::question::{Answer, Ask, Question};
use super::{DebriefScreen, View, objectives};
use crate::screen::Palette;
use crate::screen::colours::Ink;
use crate::screen::parts::{About, At, Row};
use crate::screen::text::{clean, wrap};
use deadship_run::Event;
use deadship_run::whatif::Effect;
use deadship_run::why::Told;
use ratatui::crossterm::event::KeyCode;
use std::collections::BTreeMap;

/// What a page shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Page {
    /// An answer about an event.
    Answer(Ask, u64),
    /// What the drill is to teach, and what became of it.
    Objectives,
}

/// The page that is open, and what was answered so far.
#[derive(Default)]
pub(super) struct Pages {
    pub(super) open: Option<(Page, At)>,
    answers: BTreeMap<(Ask, u64), Answer>,
    /// What is being worked out.
    pub(super) working: Option<(Ask, u64)>,
}

/// A line of a page: where it leads.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Place {
    tick: Option<u64>,
    seq: Option<u64>,
    component: Option<String>,
}

impl Place {
    /// An instant and an event.
    pub(super) fn at(tick: Option<u64>, seq: Option<u64>) -> Place {
        Place { tick, seq, component: None }
    }
}

/// Rows of a page as they are made: each line is a choice, and leads to a place.
#[derive(Default)]
pub(super) struct Lines {
    pub(super) rows: Vec<Row>,
    /// By the number of their choice.
    places: Vec<Place>,
}

impl DebriefScreen {
    /// What is to be worked out now, if anything: the screen waits for [`DebriefScreen::told`] after it.
    pub(crate) fn question(&mut self) -> Option<Question> {
        let Some((Page::Answer(ask, seq), _)) = self.pages.open else { return None };
        let is_known = self.pages.answers.contains_key(&(ask, seq));
        if self.pages.working.is_some() || is_known {
            return None;
        }
        let log = self.plant.log()?.to_vec();
        self.pages.working = Some((ask, seq));
        Some(Question { ask, seq, log })
    }

    /// The answer to what was to be worked out.
    pub(crate) fn told(&mut self, answer: Answer) {
        let Some((ask, seq)) = self.pages.working.take() else { return };
        self.pages.answers.insert((ask, seq), answer);
        if self.pages.open.is_none_or(|(page, _)| page != Page::Answer(ask, seq)) {
            self.hint = format!("the answer about event {seq} is there: {} on it", ask.key());
        }
    }

    /// Asks about the event that is chosen; in an answer, about the same event.
    pub(super) fn ask(&mut self, ask: Ask) {
        let Some(seq) = self.asked_about() else { return };
        let Some(log) = self.plant.log() else {
            self.hint = "nothing can be worked out without the plant: ? says why there is none".to_owned();
            return;
        };
        match Effect::of(log, seq) {
            Some((_, seq)) => self.pages.open = Some((Page::Answer(ask, seq), At::default())),
            None => {
                self.hint = format!(
                    "{} asks about a trip, an alert, a lost need, a refusal, something missed: choose one",
                    ask.key()
                );
            }
        }
    }

    /// The event that a question is about: of the answer that is open, of the chosen alert, at the cursor.
    fn asked_about(&self) -> Option<u64> {
        if let Some((Page::Answer(_, seq), _)) = self.pages.open {
            return Some(seq);
        }
        if let (View::Alerts, About::Alert(number)) = (self.view, self.about()) {
            let is_raised = |event: &Event| matches!(event, Event::AlertRaised { occurrence, .. } if *occurrence == number);
            return self
                .plant
                .log()?
                .iter()
                .find(|envelope| is_raised(&envelope.event))
                .map(|known| known.seq);
        }
        self.listed_item(self.item).map(|item| item.seq)
    }

    /// Opens the objectives, or closes them.
    pub(super) fn turn_objectives(&mut self) {
        let is_open = matches!(self.pages.open, Some((Page::Objectives, _)));
        self.pages.open = (!is_open).then(|| (Page::Objectives, At::default()));
    }

    /// A key on the page that is open; `true`: it was one of its own.
    pub(super) fn key_on_page(&mut self, code: KeyCode) -> bool {
        let Some((page, mut at)) = self.pages.open else { return false };
        let lines = self.page_lines(page, self.room.0);
        let high = self.room.1 as isize;
        at.settle(&lines.rows);
        match code {
            KeyCode::Up => at.go(&lines.rows, -1),
            KeyCode::Down => at.go(&lines.rows, 1),
            KeyCode::PageUp => at.go(&lines.rows, -high),
            KeyCode::PageDown => at.go(&lines.rows, high),
            KeyCode::Esc => {
                self.pages.open = None;
                return true;
            }
            KeyCode::Enter => self.go_to_place(&lines.places, at.about(&lines.rows)),
            _ => return false,
        }
        self.pages.open = Some((page, at));
        true
    }

    fn go_to_place(&mut self, places: &[Place], about: &About) {
        let About::Item(line) = about else { return };
        let Some(place) = places.get(*line) else { return };
        let Some(tick) = place.tick else {
            self.hint = "this line is about no instant of its own".to_owned();
            return;
        };
        let items = &self.lanes.items;
        let listed = self.listed.iter().position(|item| Some(items[*item].seq) == place.seq);
        match listed {
            Some(listed) => self.go_to_item(listed),
            None => self.go_to(tick),
        }
        let chart = self.model.chart.as_ref();
        if let Some(component) = chart.zip(place.component.as_ref()).and_then(|(c, name)| c.component(name)) {
            self.watched = Some(component);
        }
    }

    /// Lines of a page.
    pub(super) fn page_lines(&self, page: Page, wide: usize) -> Lines {
        match page {
            Page::Answer(ask, seq) => self.answer_lines(ask, seq, wide),
            Page::Objectives => objectives::lines(&self.debrief, self.palette, wide),
        }
    }

    fn answer_lines(&self, ask: Ask, seq: u64, wide: usize) -> Lines {
        let mut lines = Lines::default();
        let palette = self.palette;
        lines.rows.push(Row::heading(palette, &format!("{} #{seq}?", ask.words())));
        match self.pages.answers.get(&(ask, seq)) {
            Some(Ok(told)) => told.iter().for_each(|told| lines.tell(self, told, wide)),
            Some(Err(why)) => {
                lines.rows.extend(Row::text(palette, Ink::Caution, &clean(why), wide));
            }
            None => {
                let text = match self.pages.working {
                    Some((_, other)) if self.pages.working != Some((ask, seq)) => {
                        format!("Waits until the answer about event {other} is there.")
                    }
                    _ => "Being worked out: the run is computed anew many times, each time with something else \
                          left out or done. That takes up to a minute."
                        .to_owned(),
                };
                lines.rows.extend(Row::text(palette, Ink::Plain, &text, wide));
                let text = format!(
                    "Look around meanwhile. Esc leaves this page and the work goes on; {} on the same event comes back \
                     to it.",
                    ask.key()
                );
                lines.rows.extend(Row::text(palette, Ink::Faint, &text, wide));
            }
        }
        lines
    }

    /// What is said of what is being worked out, for the bar.
    pub(super) fn working(&self) -> Option<String> {
        self.pages.working.map(|(_, seq)| format!("working out event {seq} "))
    }
}

impl Lines {
    /// A line; it can be chosen where it has a place.
    pub(super) fn add(&mut self, inks: Inks, depth: usize, text: &str, wide: usize, place: Option<Place>) {
        let margin = "  ".repeat(depth);
        let text = clean(text);
        for (i, part) in wrap(&text, wide.saturating_sub(margin.len() + 2).max(10)).iter().enumerate() {
            let (about, hang) = match i {
                0 if place.is_some() => (About::Item(self.places.len()), ""),
                0 => (About::Nothing, ""),
                _ => (About::Nothing, "  "),
            };
            self.rows.push(Row::new(inks.palette, about, &[(inks.ink, &format!("{margin}{hang}{part}"))]));
        }
        self.places.extend(place);
    }

    fn tell(&mut self, screen: &DebriefScreen, told: &Told, wide: usize) {
        let is_cause = told.text.starts_with("= ");
        let ink = if is_cause { Ink::Strong } else { Ink::Plain };
        let inks = Inks { palette: screen.palette, ink };
        let place = Place { tick: told.tick, seq: told.seq, component: told.component.clone() };
        self.add(inks, told.depth, &told.text, wide, Some(place));
        for fact in &told.facts {
            let place =
                Place { tick: Some(fact.tick), seq: Some(fact.seq), component: told.component.clone() };
            self.add(inks, told.depth + 1, &fact.to_string(), wide, Some(place));
        }
    }
}

/// In which ink a line stands.
#[derive(Clone, Copy)]
pub(super) struct Inks {
    pub(super) palette: Palette,
    pub(super) ink: Ink,
}

//! What a screen knows of one run.

use super::text::clean;
use crate::online::show::Readings;
use deadship_protocol::{EventMessage, GaugesMessage, RunState};
use deadship_run::view::{Chart, CrewNow, Situation};
use std::collections::{BTreeMap, VecDeque};

/// Lines of talk that are kept.
const MOST_TALK: usize = 500;

/// Points of a trend that are kept: at two a second, about forty minutes.
const MOST_POINTS: usize = 4_800;

/// Ticks between two points: half a second.
const POINT_TICKS: u64 = 10;

/// What a line of talk is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sort {
    /// Something that happened.
    Event,
    /// Somebody said, ordered or reported something.
    Said,
    /// An answer to a question, or word that something was done.
    Answer,
    /// A refusal.
    Refused,
}

/// A line of what happened and was said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Talk {
    /// Tick at which.
    pub(crate) tick: u64,
    /// Who; empty for answers.
    pub(crate) who: String,
    /// Text.
    pub(crate) text: String,
    /// What it is.
    pub(crate) sort: Sort,
}

/// What a screen knows of one run.
#[derive(Clone, Debug, Default)]
pub(crate) struct Model {
    /// The person's name.
    pub(crate) name: String,
    /// Who sees all: those who run the class.
    pub(crate) sees_all: bool,
    /// The drawing, once it is there.
    pub(crate) chart: Option<Chart>,
    /// How things stand.
    pub(crate) situation: Situation,
    /// Readings that can be seen now, by full name.
    pub(crate) readings: BTreeMap<String, String>,
    /// How the run is.
    pub(crate) state: Option<RunState>,
    /// Ship's time.
    pub(crate) tick: u64,
    /// What happened and was said.
    pub(crate) talk: VecDeque<Talk>,
    /// Readings whose course is kept, in the order chosen: ticks and values.
    pub(crate) trends: Vec<(String, VecDeque<(u64, f64)>)>,
    /// Readings as they were sent.
    sent: Readings,
}

impl Model {
    /// Nothing is known yet but who looks.
    pub(crate) fn of(name: &str, sees_all: bool) -> Model {
        Model { name: name.to_owned(), sees_all, ..Model::default() }
    }

    /// Takes readings.
    pub(crate) fn take_gauges(&mut self, message: &GaugesMessage) {
        let Some(readings) = self.sent.take(message) else { return };
        self.readings = readings;
        self.at(message.tick);
        self.add_points();
    }

    /// Readings of an instant, from a replay.
    pub(crate) fn set_readings(&mut self, tick: u64, readings: BTreeMap<String, String>) {
        (self.tick, self.readings) = (tick, readings);
    }

    /// Time goes on; a frame that was overtaken does not turn it back.
    pub(crate) fn at(&mut self, tick: u64) {
        self.tick = self.tick.max(tick);
    }

    fn add_points(&mut self) {
        let tick = self.tick;
        for (name, points) in &mut self.trends {
            let due = points.back().is_none_or(|(last, _)| tick >= last + POINT_TICKS);
            if let Some(value) = self.readings.get(name).and_then(|text| number(text)).filter(|_| due) {
                points.push_back((tick, value));
                if points.len() > MOST_POINTS {
                    points.pop_front();
                }
            }
        }
    }

    /// Begins or ends to keep the course of a reading.
    pub(crate) fn turn_trend(&mut self, name: &str) {
        match self.trends.iter().position(|(known, _)| known == name) {
            Some(at) => drop(self.trends.remove(at)),
            None => {
                self.trends.push((name.to_owned(), VecDeque::new()));
                self.add_points();
            }
        }
    }

    /// How the run is.
    pub(crate) fn take_state(&mut self, state: RunState) {
        self.at(state.tick);
        self.state = Some(state);
    }

    /// Adds an event to the talk.
    pub(crate) fn take_event(&mut self, event: &EventMessage) {
        self.at(event.tick);
        let said = matches!(
            event.kind.as_str(),
            "said" | "order-given" | "order-repeated" | "order-reported" | "reported" | "noted"
        );
        let sort = if said { Sort::Said } else { Sort::Event };
        self.add_talk(Talk { tick: event.tick, who: clean(&event.who), text: clean(&event.text), sort });
    }

    /// Is the person at the station that a question is asked of?
    pub(crate) fn is_asked(&self, event: &EventMessage) -> bool {
        let station = self.me().and_then(|me| me.station.as_deref());
        let to = event.data.get("to").and_then(|to| to.as_str());
        station.is_some_and(|station| to.is_none_or(|to| to == station))
    }

    /// Adds lines that are no event.
    pub(crate) fn add(&mut self, sort: Sort, lines: impl IntoIterator<Item = String>) {
        for line in lines {
            self.add_talk(Talk { tick: self.tick, who: String::new(), text: clean(&line), sort });
        }
    }

    /// Adds a line of talk.
    pub(crate) fn add_talk(&mut self, talk: Talk) {
        self.talk.push_back(talk);
        if self.talk.len() > MOST_TALK {
            self.talk.pop_front();
        }
    }

    /// Takes the drawing.
    pub(crate) fn take_chart(&mut self, chart: Chart) {
        self.chart = Some(chart);
    }

    /// Forgets everything of a run, because another is chosen.
    pub(crate) fn other_run(&mut self) {
        let (name, sees_all, chart) = (self.name.clone(), self.sees_all, self.chart.take());
        *self = Model { name, sees_all, chart, ..Model::default() };
    }

    /// The person, if aboard.
    pub(crate) fn me(&self) -> Option<&CrewNow> {
        self.situation.of(&self.name)
    }

    /// Index of the place where the person stands.
    pub(crate) fn here(&self) -> Option<usize> {
        self.me()?.stands_at(self.tick)
    }

    /// Can the person work this component from where they stand: at it, or at a panel of it?
    pub(crate) fn reach(&self, component: usize) -> Option<Reach> {
        let known = self.chart.as_ref()?.components.get(component)?;
        if self.sees_all {
            return Some(Reach::Hand);
        }
        let here = self.here();
        match known.place {
            None => Some(Reach::Hand),
            place if place == here && here.is_some() => Some(Reach::Hand),
            _ if here.is_some_and(|here| known.remote.contains(&here)) => Some(Reach::Panel),
            _ => None,
        }
    }

    /// Components that can be worked or read where the person stands.
    pub(crate) fn reachable(&self) -> Vec<usize> {
        let Some(chart) = &self.chart else { return Vec::new() };
        (0..chart.components.len()).filter(|&component| self.reach(component).is_some()).collect()
    }

    /// Name of a place for people.
    pub(crate) fn place(&self, place: Option<usize>) -> &str {
        let places = self.chart.as_ref().map(|chart| chart.places.as_slice()).unwrap_or_default();
        place.and_then(|place| places.get(place)).map_or("nowhere", |place| &place.title)
    }

    /// A reading of a component, as it can be seen now.
    pub(crate) fn reading(&self, component: &str, reading: &str) -> Option<&str> {
        self.readings.get(&format!("{component}.{reading}")).map(String::as_str)
    }
}

/// From where something can be worked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Reach {
    /// Someone stands at it.
    Hand,
    /// At a panel of it.
    Panel,
}

/// The number with which a reading begins, if it is one.
pub(crate) fn number(text: &str) -> Option<f64> {
    text.split_whitespace().next()?.parse().ok().filter(|number: &f64| number.is_finite())
}

//! From a log to lanes over time: what happened as points, what stood as bars.

use super::signs::Sign;
use deadship_plant::spec::Priority;
use deadship_run::{Envelope, Event, Who, timeline};
use std::collections::BTreeMap;

/// Lanes that every run has, before and after those of the stations.
const BEFORE: [&str; 3] = ["faults", "alerts", "automation"];
const AFTER: [&str; 2] = ["talk", "marks"];

/// Lanes that every run has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Of {
    Faults,
    Alerts,
    Automation,
    Talk,
    Marks,
    /// A station, by its place among them.
    Station(usize),
    /// Nothing to be drawn.
    None,
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Item {
    /// When; of a mark, what it is about.
    pub(crate) tick: u64,
    /// Number of its event.
    pub(crate) seq: u64,
    /// Lane and sign; `None`: it is drawn in none.
    pub(crate) drawn: Option<(usize, Sign)>,
    /// Who.
    pub(crate) who: String,
    /// What.
    pub(crate) text: String,
    /// Component that it is about.
    pub(crate) component: Option<String>,
    /// Where one goes from one to the next.
    pub(crate) is_mark: bool,
    /// Not listed unless all is wanted.
    pub(crate) is_minor: bool,
}

/// Something that stood for a time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Bar {
    /// Lane.
    pub(crate) lane: usize,
    /// Sign.
    pub(crate) sign: Sign,
    /// From this tick.
    pub(crate) from: u64,
    /// To this tick; the end of the log, where it never ended.
    pub(crate) to: u64,
}

/// The lanes of a run.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Lanes {
    /// Names, from top to bottom.
    pub(crate) names: Vec<String>,
    /// What happened, in order of time.
    pub(crate) items: Vec<Item>,
    /// What stood.
    pub(crate) bars: Vec<Bar>,
    /// Tick of the last event.
    pub(crate) last: u64,
}

/// A part of time, cut into cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Window {
    /// First tick.
    pub(crate) from: u64,
    /// Ticks.
    pub(crate) span: u64,
    /// Cells, at least one.
    pub(crate) cells: usize,
}

impl Window {
    /// First tick of a cell.
    pub(crate) fn start(self, cell: usize) -> u64 {
        let share = u128::from(self.span) * cell as u128 / self.cells.max(1) as u128;
        self.from + share as u64
    }

    /// The cell of a tick, if it is in the window.
    pub(crate) fn cell(self, tick: u64) -> Option<usize> {
        let at = tick.checked_sub(self.from).filter(|at| *at < self.span)?;
        // The last cell that begins at or before the tick.
        let guess = (u128::from(at) * self.cells as u128 / u128::from(self.span.max(1))) as usize;
        let next = guess + 1;
        Some(if next < self.cells && self.start(next) <= tick { next } else { guess })
    }
}

impl Lanes {
    /// The lanes of a log.
    pub(crate) fn of(log: &[Envelope]) -> Lanes {
        let mut fold = Fold::new(log);
        log.iter().for_each(|envelope| fold.take(envelope));
        fold.close(log)
    }

    /// What each cell of each lane shows: the most telling of what happened in it, else of what stood.
    pub(crate) fn cells(&self, window: Window) -> Vec<Vec<Option<Sign>>> {
        let mut cells = vec![vec![None; window.cells]; self.names.len()];
        let mut put = |lane: usize, cell: usize, sign: Sign| {
            let known: &mut Option<Sign> = &mut cells[lane][cell];
            if known.is_none_or(|known| sign.rank() < known.rank()) {
                *known = Some(sign);
            }
        };
        for bar in &self.bars {
            let end = window.from + window.span;
            if bar.from >= end || bar.to < window.from {
                continue;
            }
            let first = window.cell(bar.from.max(window.from)).unwrap_or(0);
            let last = window.cell(bar.to.min(end - 1)).unwrap_or(first);
            (first..=last).for_each(|cell| put(bar.lane, cell, bar.sign));
        }
        for item in &self.items {
            if let (Some((lane, sign)), Some(cell)) = (item.drawn, window.cell(item.tick)) {
                put(lane, cell, sign);
            }
        }
        cells
    }
}

struct Fold {
    stations: Vec<String>,
    lanes: Lanes,
    /// Faults that are set, by name: since when.
    faults: BTreeMap<String, u64>,
    /// Alerts that stand and are shown, by occurrence: since when, how urgent.
    alerts: BTreeMap<u64, (u64, Priority)>,
    /// Notes: what their events are about.
    notes: BTreeMap<u64, u64>,
    /// Where each alert that has come measures, by its name: what tells of it later names only the alert.
    measured_at: BTreeMap<String, String>,
}

fn station_of(who: &Who) -> Option<&str> {
    match who {
        Who::Person { station: Some(station), .. } | Who::Robot { station } => Some(station),
        _ => None,
    }
}

impl Fold {
    fn new(log: &[Envelope]) -> Fold {
        let mut stations: Vec<String> = Vec::new();
        for envelope in log {
            let taken = match &envelope.event {
                Event::StationTaken { station, .. } => Some(station.as_str()),
                _ => station_of(&envelope.who),
            };
            if let Some(taken) = taken.filter(|taken| !stations.iter().any(|known| known == taken)) {
                stations.push(taken.to_owned());
            }
        }
        let between = stations.iter().map(String::as_str);
        let names = BEFORE.into_iter().chain(between).chain(AFTER).map(str::to_owned).collect();
        let lanes = Lanes { names, last: log.last().map_or(0, |last| last.tick), ..Lanes::default() };
        Fold {
            stations,
            lanes,
            faults: BTreeMap::new(),
            alerts: BTreeMap::new(),
            notes: BTreeMap::new(),
            measured_at: BTreeMap::new(),
        }
    }

    fn lane(&self, of: Of) -> Option<usize> {
        let stations = self.stations.len();
        Some(match of {
            Of::Faults => 0,
            Of::Alerts => 1,
            Of::Automation => 2,
            Of::Station(station) => BEFORE.len() + station,
            Of::Talk => BEFORE.len() + stations,
            Of::Marks => BEFORE.len() + stations + 1,
            Of::None => return None,
        })
    }

    fn take(&mut self, envelope: &Envelope) {
        let (of, sign, is_mark) = self.sort(envelope);
        let tick = match &envelope.event {
            Event::Noted { about_tick, on, .. } => {
                let of_earlier = on.and_then(|on| self.notes.get(&on).copied());
                let tick = about_tick.or(of_earlier).unwrap_or(envelope.tick);
                self.notes.insert(envelope.seq, tick);
                tick
            }
            _ => envelope.tick,
        };
        let hidden = matches!(
            envelope.event,
            Event::AlertRaised { hidden: Some(_), .. } | Event::AlertCleared { hidden: Some(_), .. }
        );
        let component = self.component_of(&envelope.event);
        self.lanes.items.push(Item {
            tick,
            seq: envelope.seq,
            drawn: self.lane(of).map(|lane| (lane, sign)),
            who: envelope.who.to_string(),
            text: timeline::what(&envelope.event),
            component,
            is_mark,
            is_minor: hidden || !crate::rehearse::important(&envelope.event),
        });
        self.stand(envelope);
    }

    /// The component that an event is about.
    fn component_of(&mut self, event: &Event) -> Option<String> {
        match event {
            Event::ActDone { component, .. }
            | Event::FaultSet { component, .. }
            | Event::FaultLifted { component, .. }
            | Event::Found { component, .. }
            | Event::NeedLost { component, .. }
            | Event::NeedMet { component, .. } => Some(component.clone()),
            Event::AlertRaised { alert, reading, .. } => {
                let (component, _) = reading.rsplit_once('.')?;
                self.measured_at.insert(alert.clone(), component.to_owned());
                Some(component.to_owned())
            }
            Event::AlertCleared { alert, .. }
            | Event::Acknowledged { alert, .. }
            | Event::Shelved { alert, .. }
            | Event::Unshelved { alert }
            | Event::SuppressionBegan { alert, .. }
            | Event::SuppressionEnded { alert, .. }
            | Event::ShelvingEnded { alert, .. }
            | Event::FirstOut { alert, .. } => self.measured_at.get(alert).cloned(),
            _ => None,
        }
    }

    /// Lane, sign, and whether one goes from one to the next.
    fn sort(&self, envelope: &Envelope) -> (Of, Sign, bool) {
        let hand = || {
            let station = station_of(&envelope.who)
                .and_then(|station| self.stations.iter().position(|known| known == station));
            // What the instructor works stands with the marks: it has no station.
            station.map_or(Of::Marks, Of::Station)
        };
        match &envelope.event {
            Event::FaultSet { .. } => (Of::Faults, Sign::FaultSet, true),
            Event::FaultLifted { .. } => (Of::Faults, Sign::FaultLifted, false),
            Event::FaultPlanned { .. } | Event::FaultPlanDropped { .. } => {
                (Of::Faults, Sign::FaultPlanned, false)
            }
            Event::AlertRaised { hidden: None, priority, .. }
            | Event::SuppressionEnded { raised: true, priority, .. } => {
                (Of::Alerts, Sign::raised(*priority), true)
            }
            Event::AlertCleared { hidden: None, .. } => (Of::Alerts, Sign::Cleared, false),
            Event::FloodBegan { .. } => (Of::Alerts, Sign::Flood, true),
            Event::Found { code, .. } => {
                let sign = Sign::of_code(code);
                (Of::Automation, sign, sign == Sign::Trip)
            }
            Event::StepFailed { .. } => (Of::Automation, Sign::Broken, true),
            Event::StationTaken { station, .. } | Event::StationLeft { station } => {
                let place = self.stations.iter().position(|known| known == station);
                (place.map_or(Of::None, Of::Station), Sign::Station, false)
            }
            Event::Moved { .. } => (hand(), Sign::Walks, false),
            Event::ActDone { .. } => (hand(), Sign::Act, false),
            Event::ActRefused { .. } => (hand(), Sign::Refused, false),
            Event::StepTicked { .. } => (hand(), Sign::Ticked, false),
            Event::Acknowledged { .. }
            | Event::Silenced {}
            | Event::Shelved { .. }
            | Event::Unshelved { .. } => (hand(), Sign::Handled, false),
            Event::Said { .. } => (Of::Talk, Sign::Said, false),
            Event::OrderGiven { .. } => (Of::Talk, Sign::Ordered, false),
            Event::OrderRepeated { .. } => (Of::Talk, Sign::ReadBack, false),
            Event::OrderReported { .. } | Event::Reported { .. } => (Of::Talk, Sign::Reported, false),
            Event::OrderOverdue { .. } | Event::Undecided { .. } => (Of::Talk, Sign::Overdue, true),
            Event::Asked { .. } => (Of::Talk, Sign::Ordered, true),
            Event::Answered { .. } => (Of::Talk, Sign::Reported, false),
            Event::Rated { .. } => (Of::Marks, Sign::Note, true),
            Event::PersonRemoved { .. } => (Of::Marks, Sign::Note, false),
            Event::Noted { category, .. } => (Of::Marks, Sign::of_note(*category), true),
            Event::ExpectationMet { .. } => (Of::Marks, Sign::Met, true),
            Event::ExpectationMissed { .. } => (Of::Marks, Sign::Missed, true),
            Event::AimReached { .. } => (Of::Marks, Sign::Aim, true),
            Event::HoldSet { .. } | Event::HoldLifted {} => (Of::Marks, Sign::Hold, false),
            Event::SpeedSet { .. } => (Of::Marks, Sign::Speed, false),
            Event::RunEnded { .. } => (Of::Marks, Sign::Over, true),
            _ => (Of::None, Sign::Tells, false),
        }
    }

    /// What begins or ends to stand.
    fn stand(&mut self, envelope: &Envelope) {
        let tick = envelope.tick;
        match &envelope.event {
            Event::FaultSet { component, fault, .. } => {
                self.faults.entry(format!("{component}.{fault}")).or_insert(tick);
            }
            Event::FaultLifted { component, fault, .. } => {
                if let Some(from) = self.faults.remove(&format!("{component}.{fault}")) {
                    self.bar(Of::Faults, Sign::FaultStands, from, tick);
                }
            }
            Event::AlertRaised { hidden: None, occurrence, priority, .. }
            | Event::SuppressionEnded { raised: true, occurrence, priority, .. } => {
                self.alerts.entry(*occurrence).or_insert((tick, *priority));
            }
            Event::AlertCleared { occurrence, .. } | Event::SuppressionBegan { occurrence, .. } => {
                if let Some((from, priority)) = self.alerts.remove(occurrence) {
                    self.bar(Of::Alerts, Sign::stands(priority), from, tick);
                }
            }
            _ => {}
        }
    }

    fn bar(&mut self, of: Of, sign: Sign, from: u64, to: u64) {
        if let Some(lane) = self.lane(of) {
            self.lanes.bars.push(Bar { lane, sign, from, to });
        }
    }

    fn close(mut self, log: &[Envelope]) -> Lanes {
        let last = log.last().map_or(0, |last| last.tick);
        for from in std::mem::take(&mut self.faults).into_values() {
            self.bar(Of::Faults, Sign::FaultStands, from, last);
        }
        for (from, priority) in std::mem::take(&mut self.alerts).into_values() {
            self.bar(Of::Alerts, Sign::stands(priority), from, last);
        }
        self.lanes.items.sort_by_key(|item| (item.tick, item.seq));
        self.lanes
    }
}

//! What is made of the list of alerts as a whole: what is hidden and for how long, what came first, a flood.

use crate::alerts::AlertState;
use crate::event::{Event, Hidden};
use crate::run::Run;
use crate::setup::ticks;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// More new alerts than this in [`FLOOD_TICKS`] are a flood (EEMUA 191; IEC 62682 counts in ten minutes as well, from
/// memory).
pub const FLOOD_ABOVE: usize = 10;
/// A flood is over when there are fewer than this in [`FLOOD_TICKS`] (from memory).
pub const FLOOD_ENDS_BELOW: usize = 5;
/// Ticks in ten minutes.
pub const FLOOD_TICKS: u64 = 12_000;
/// Alerts of a group that come within so many seconds have one cause: common practice, no source.
pub const FIRST_OUT_S: f64 = 10.0;

/// How many new alerts there are. The list of the ship's alarm system is one console.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Flood {
    /// Ticks of the newest alerts, as many as a flood needs.
    pub recent: Vec<u64>,
    /// Tick at which the flood began that goes on.
    pub since: Option<u64>,
}

impl Flood {
    /// Has nothing come yet?
    pub fn is_none(&self) -> bool {
        self.recent.is_empty()
    }

    /// An alert came up. Those that stand when the run begins are not new.
    fn take(&mut self, tick: u64) {
        if tick == 0 {
            return;
        }
        if self.recent.len() > FLOOD_ABOVE {
            self.recent.remove(0);
        }
        self.recent.push(tick);
    }

    /// Does a flood begin (`Some(true)`) or end?
    fn turns(&mut self, tick: u64) -> Option<bool> {
        let count = self.recent.iter().filter(|then| tick - **then < FLOOD_TICKS).count();
        match self.since {
            None if count > FLOOD_ABOVE => {
                self.since = Some(tick);
                Some(true)
            }
            Some(_) if count < FLOOD_ENDS_BELOW => {
                self.since = None;
                Some(false)
            }
            _ => None,
        }
    }
}

impl Run {
    /// What is hidden no more or from now on. Before the findings of the same tick, so that what a dead board brings is
    /// suppressed when it comes.
    pub(crate) fn tend_hidden(&mut self) -> Vec<Event> {
        let (setup, tick) = (Arc::clone(&self.setup), self.tick());
        let mut events = Vec::new();
        for (index, spec) in setup.compiled.spec.alerts.iter().enumerate() {
            let life = &mut self.state.alerts[index];
            let (alert, occurrence) = (&spec.name, life.occurrence);
            if life.shelving_ends(tick) {
                let (alert, raised) = (alert.clone(), life.raised());
                let text = spec.text.clone();
                events.push(Event::ShelvingEnded { alert, occurrence, raised, text });
                self.came_up(index, &mut events);
            }
            let Some(suppression) = &spec.suppressed else { continue };
            let Some(holds) = self.plant.alert_suppressed(index) else { continue };
            let life = &mut self.state.alerts[index];
            let changed = life.suppress(holds, ticks(suppression.for_s), tick);
            if life.state == AlertState::Normal {
                continue;
            }
            let (alert, raised) = (alert.clone(), life.raised());
            match changed {
                Some(true) => events.push(Event::SuppressionBegan { alert, occurrence }),
                Some(false) => {
                    let (priority, text) = (spec.priority, spec.text.clone());
                    events.push(Event::SuppressionEnded { alert, occurrence, priority, text, raised });
                    self.came_up(index, &mut events);
                }
                None => {}
            }
        }
        events
    }

    /// What suppresses alerts when the run begins: nothing has been shown yet, so there is nothing to tell.
    pub(crate) fn suppress_from_the_start(&mut self) {
        for index in 0..self.state.alerts.len() {
            if self.plant.alert_suppressed(index) == Some(true) {
                self.state.alerts[index].suppress(true, 0, 0);
            }
        }
    }

    /// Why an alert is not shown.
    pub(crate) fn hidden(&self, alert: usize) -> Option<Hidden> {
        let life = &self.state.alerts[alert];
        match (life.shelved, life.suppressed) {
            (true, _) => Some(Hidden::Shelved),
            (_, true) => Some(Hidden::Suppressed),
            _ => None,
        }
    }

    /// An alert was raised, or is hidden no more: it counts, and may show which of its group was the first.
    pub(crate) fn came_up(&mut self, alert: usize, events: &mut Vec<Event>) {
        if self.state.alerts[alert].waits() {
            self.state.flood.take(self.tick());
        }
        if self.state.alerts[alert].listed() {
            events.extend(self.mark_first_out(alert));
        }
    }

    /// Marks the first of a group once another of it has come soon after.
    fn mark_first_out(&mut self, alert: usize) -> Option<Event> {
        let specs = &self.setup.compiled.spec.alerts;
        let group = specs[alert].first_out.as_ref()?;
        let lives = &self.state.alerts;
        let members = || (0..specs.len()).filter(|&other| specs[other].first_out.as_ref() == Some(group));
        if members().any(|member| lives[member].first_out) {
            return None;
        }
        let (tick, soon) = (self.tick(), ticks(FIRST_OUT_S));
        let before = members().filter(|&member| {
            let life = &lives[member];
            member != alert && life.listed() && tick - life.raised_tick <= soon
        });
        let first = before.min_by_key(|&member| lives[member].occurrence)?;
        let (name, group) = (specs[first].name.clone(), group.clone());
        let occurrence = lives[first].occurrence;
        let text = specs[first].text.clone();
        self.state.alerts[first].first_out = true;
        Some(Event::FirstOut { alert: name, occurrence, group, text })
    }

    /// A mark stays until all of its group are normal.
    fn wipe_first_outs(&mut self) {
        let specs = &self.setup.compiled.spec.alerts;
        for alert in 0..specs.len() {
            if self.state.alerts[alert].first_out {
                let mut group =
                    (0..specs.len()).filter(|&other| specs[other].first_out == specs[alert].first_out);
                let normal = group.all(|other| self.state.alerts[other].state == AlertState::Normal);
                self.state.alerts[alert].first_out = !normal;
            }
        }
    }

    /// A latch was put back: the marks of the groups that tell of it have done their work.
    pub(crate) fn reset_first_outs(&mut self, component: usize) {
        let spec = &self.setup.compiled.spec;
        let latch = |(owner, reading): (usize, usize)| {
            owner == component && spec.components[owner].kind.readings[reading].latched
        };
        for told in spec.alerts.iter().filter(|told| told.first_out.is_some() && latch(told.reading)) {
            for (life, other) in self.state.alerts.iter_mut().zip(&spec.alerts) {
                life.first_out &= other.first_out != told.first_out;
            }
        }
    }

    /// The end of a tick: marks that are over, and whether there is a flood.
    pub(crate) fn look_at_list(&mut self) -> Option<Event> {
        self.wipe_first_outs();
        let tick = self.tick();
        let since = self.state.flood.since;
        let began = self.state.flood.turns(tick)?;
        Some(match began {
            true => Event::FloodBegan { count: self.state.flood.recent.len() as u64 },
            false => Event::FloodEnded { began_tick: since.unwrap_or(tick) },
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eleven_in_ten_minutes_are_a_flood() {
        let mut flood = Flood::default();
        (1..=10).for_each(|n| flood.take(n * 1000));
        assert_eq!(flood.turns(10_000), None, "ten are none");
        flood.take(13_000);
        assert_eq!(flood.turns(13_000), None, "the first is ten minutes old");
        flood.take(13_001);
        flood.take(13_002);
        assert_eq!(flood.turns(13_002), Some(true));
        assert_eq!(flood.turns(13_003), None, "it begins once");
        // Of the eleven newest, four came in the last ten minutes.
        assert_eq!(flood.turns(20_999), None);
        assert_eq!(flood.turns(22_000), Some(false));
        assert_eq!(flood.since, None);
    }

    #[test]
    fn what_stands_from_the_start_is_not_new() {
        let mut flood = Flood::default();
        (0..20).for_each(|_| flood.take(0));
        assert_eq!(flood.turns(1), None);
    }
}

//! Readings that are watched: rendered once for all who see the same ones, and only what changed between full frames.

use super::clients::{Client, Frame};
use crate::convert;
use deadship_protocol::{Gauge, GaugesMessage, ServerMessage};
use deadship_run::Run;
use deadship_run::answer::show_reading;
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

/// Shortest time between two frames of readings.
const EVERY: Duration = Duration::from_millis(100);

/// Longest time between two full ones.
const FULL_EVERY: Duration = Duration::from_secs(5);

/// Longest time without any frame, so that the ship's time is seen to pass.
const BEAT: Duration = Duration::from_millis(500);

/// Readings, as indices of component and reading.
type Readings = Vec<(usize, usize)>;

/// All that is watched in a run.
#[derive(Default)]
pub(super) struct Gauges {
    /// By the readings that are seen: everyone who sees the same gets the same frames.
    groups: BTreeMap<Readings, Group>,
    /// When they were shown last; `None`: they are due.
    at: Option<Instant>,
}

/// Those who see the same readings.
struct Group {
    /// Values of the last full frame, for people.
    base: Vec<String>,
    base_tick: u64,
    full_at: Instant,
    /// When the last frame was made.
    frame_at: Instant,
    full: Frame,
    /// Values that differ from the full frame, by their place.
    changed: Vec<(usize, String)>,
    /// The frame with them; none while nothing differs.
    delta: Option<Frame>,
    /// Does anyone see them this time?
    used: bool,
}

impl Gauges {
    /// They are to be shown now, whenever they were last.
    pub(super) fn hurry(&mut self) {
        self.at = None;
    }

    /// Shows each client what it watches and can see.
    pub(super) fn show<'c>(
        &mut self,
        run: &Run,
        clients: impl Iterator<Item = &'c mut Client>,
        now: Instant,
    ) {
        if self.at.is_some_and(|at| now.saturating_duration_since(at) < EVERY) {
            return;
        }
        self.at = Some(now);
        for client in clients.filter(|client| !client.watched.is_empty()) {
            let seen = client.watched.iter().copied().filter(|&(c, r)| run.may_see(&client.who, c, r));
            let seen: Readings = seen.collect();
            if !self.groups.get(&seen).is_some_and(|group| group.used) {
                match self.groups.get_mut(&seen) {
                    Some(group) => group.update(run, &seen, now),
                    None => drop(self.groups.insert(seen.clone(), Group::new(run, &seen, now))),
                }
            }
            if let Some(group) = self.groups.get(&seen) {
                client.show(&group.full, group.delta.as_ref());
            }
        }
        self.groups.retain(|_, group| std::mem::take(&mut group.used));
    }
}

impl Group {
    fn new(run: &Run, seen: &Readings, now: Instant) -> Group {
        let base = values(run, seen);
        let tick = run.tick();
        let full = frame(run, seen, tick, base.iter().cloned().enumerate());
        let changed = Vec::new();
        Group { base, base_tick: tick, full_at: now, frame_at: now, full, changed, delta: None, used: true }
    }

    fn update(&mut self, run: &Run, seen: &Readings, now: Instant) {
        self.used = true;
        let values = values(run, seen);
        let differ = values.into_iter().enumerate().filter(|(i, value)| self.base[*i] != *value);
        let changed: Vec<(usize, String)> = differ.collect();
        let long_ago = now.saturating_duration_since(self.full_at) >= FULL_EVERY;
        let silent = now.saturating_duration_since(self.frame_at) >= BEAT && run.tick() != self.base_tick;
        // A full one now and then; and a delta of nearly everything is dearer.
        if long_ago || changed.len() * 2 > seen.len() {
            *self = Group::new(run, seen, now);
        } else if changed != self.changed || silent {
            self.frame_at = now;
            self.delta = Some(frame(run, seen, self.base_tick, changed.iter().cloned()));
            self.changed = changed;
        }
    }
}

fn values(run: &Run, seen: &Readings) -> Vec<String> {
    seen.iter().map(|&(component, reading)| show_reading(run, component, reading)).collect()
}

fn frame(run: &Run, seen: &Readings, base: u64, values: impl Iterator<Item = (usize, String)>) -> Frame {
    let readings =
        values.map(|(i, text)| Gauge { name: run.setup.compiled.reading_name(seen[i]), text }).collect();
    let message =
        GaugesMessage { run: run.id, tick: run.tick(), time: convert::time(run.tick()), base, readings };
    ServerMessage::Gauges(message).encode().into()
}

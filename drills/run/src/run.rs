//! A run as it is now.

use crate::alerts::AlertLife;
use crate::annunciation::Flood;
use crate::asking::Asked;
use crate::condition::Condition;
use crate::orders::Orders;
use crate::setup::Setup;
use crate::watch::{Planned, Watch};
use crate::who::{Role, Who};
use deadship_plant::kind::Seen;
use deadship_plant::{Plant, TICK_S};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use uuid::Uuid;

/// Someone in a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Person {
    /// Who, with role; the station is below.
    pub who: Who,
    /// Station held.
    pub station: Option<String>,
    /// Place where they stand, or to which they walk.
    pub place: Option<usize>,
    /// Tick at which they are there.
    pub arrives_tick: u64,
    /// Tick until which the hand is busy.
    pub busy_until_tick: u64,
}

impl Person {
    /// The place where they stand; `None` while they walk.
    pub fn stands_at(&self, tick: u64) -> Option<usize> {
        if self.arrives_tick > tick { None } else { self.place }
    }
}

/// A fault that is set.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FaultNow {
    /// Severity that it goes to.
    pub severity: f64,
    /// Tick at which it was set.
    pub set_tick: u64,
}

/// What a run knows besides the plant. All of it is in the digest.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct State {
    /// People by [`Who::key`].
    pub people: BTreeMap<String, Person>,
    /// Alerts, in the order of the ship's.
    pub alerts: Vec<AlertLife>,
    /// Occurrences of alerts so far.
    pub occurrences: u64,
    /// Faults that are set, by `component.fault`.
    pub faults: BTreeMap<String, FaultNow>,
    /// Steps of the drill that have happened: names of faults, `lift/` and name, names of messages.
    pub steps: BTreeSet<String>,
    /// Steps of procedures ticked off, by `procedure/step`: tick, and done or given up.
    pub ticked: BTreeMap<String, (u64, bool)>,
    /// Why the run is on hold.
    pub hold: Option<String>,
    /// Speed against the clock.
    pub speed: f64,
    /// Why the run is over.
    pub ended: Option<String>,
    /// Why the plant cannot be stepped on.
    pub failed: Option<String>,
    /// What the drill watches.
    pub watch: Watch,
    /// Orders between stations and with the bridge.
    #[serde(default, skip_serializing_if = "Orders::is_none")]
    pub orders: Orders,
    /// How many new alerts there are.
    #[serde(default, skip_serializing_if = "Flood::is_none")]
    pub flood: Flood,
    /// Faults that wait for a condition, by `component.fault`.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub planned: BTreeMap<String, Planned>,
    /// What people were asked.
    #[serde(default, skip_serializing_if = "Asked::is_none")]
    pub asked: Asked,
}

/// An event that may be the cause of later ones, and what began it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Link {
    /// Sequence number.
    pub seq: u64,
    /// Chain.
    pub chain: Uuid,
}

/// Which event brought what is the case now. Not in the digest: a fork has other numbers.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Links {
    pub(crate) alerts: BTreeMap<String, Link>,
    pub(crate) needs: BTreeMap<(String, String), Link>,
    pub(crate) faults: BTreeMap<(String, String), Link>,
    pub(crate) planned: BTreeMap<(String, String), Link>,
    pub(crate) hold: Option<Link>,
    pub(crate) orders: BTreeMap<u64, Link>,
    pub(crate) asked: BTreeMap<String, Link>,
    /// Every note: the one that it adds to, or itself.
    pub(crate) notes: BTreeMap<u64, Link>,
}

/// A run.
#[derive(Clone)]
pub struct Run {
    /// Id.
    pub id: Uuid,
    /// What does not change.
    pub setup: Arc<Setup>,
    /// The plant.
    pub plant: Plant,
    /// The rest.
    pub state: State,
    /// Sequence number of its last event.
    pub last_seq: u64,
    pub(crate) links: Links,
    /// Conditions of [`State::planned`] as far as they have been read. Not in the digest: the texts are.
    pub(crate) conditions: BTreeMap<String, Condition>,
}

impl Run {
    pub(crate) fn new(id: Uuid, setup: Arc<Setup>, plant: Plant) -> Run {
        let state = State {
            alerts: vec![AlertLife::default(); setup.compiled.spec.alerts.len()],
            speed: 1.0,
            watch: Watch::new(&setup.drill),
            ..State::default()
        };
        Run { id, setup, plant, state, last_seq: 0, links: Links::default(), conditions: BTreeMap::new() }
    }

    /// Ticks done since the start.
    pub fn tick(&self) -> u64 {
        self.plant.tick - self.setup.settled_ticks
    }

    /// Time since the start, s.
    pub fn time_s(&self) -> f64 {
        self.tick() as f64 * TICK_S
    }

    /// May the run be stepped now: not on hold, not over, not failed?
    pub fn goes(&self) -> bool {
        self.state.hold.is_none() && self.state.ended.is_none() && self.state.failed.is_none()
    }

    /// Someone, if the run knows them.
    pub fn person(&self, who: &Who) -> Option<&Person> {
        self.state.people.get(&who.key()?)
    }

    /// The same, with the station that the run knows.
    pub fn known(&self, who: &Who) -> Who {
        match who {
            Who::Person { name, role, .. } => {
                let station = self.person(who).and_then(|person| person.station.clone());
                Who::Person { name: name.clone(), role: *role, station }
            }
            other => other.clone(),
        }
    }

    /// May they see this reading where they are now? Instructor and facilitator see all; observers all that is shown
    /// anywhere; trainees and robots what the gauges at their place and its panels show.
    pub fn may_see(&self, who: &Who, component: usize, reading: usize) -> bool {
        let owner = &self.setup.compiled.spec.components[component];
        let seen = owner.kind.readings[reading].seen;
        match (who.role(), seen) {
            (Role::Instructor | Role::Facilitator, _) => true,
            (_, Seen::Hidden) => false,
            (Role::Observer, _) => true,
            (Role::Trainee, seen) => {
                let Some(person) = self.person(who) else { return false };
                if person.station.is_none() {
                    return false;
                }
                let Some(place) = owner.place else { return true };
                let Some(at) = person.stands_at(self.tick()) else { return false };
                at == place || (seen == Seen::Remote && owner.remote.contains(&at))
            }
        }
    }

    /// 16 hex digits that stand for plant and state.
    pub fn digest(&self) -> String {
        // Plain data with text keys always serialises.
        let state = serde_json::to_vec(&self.state).unwrap_or_default();
        let mut hasher = blake3::Hasher::new();
        hasher.update(self.plant.digest().as_bytes());
        hasher.update(&state);
        hasher.finalize().as_bytes()[..8].iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

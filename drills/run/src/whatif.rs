//! Runs as they would have gone: any number of other courses of one run, each from the last instant kept before it parts.
//!
//! A course follows all that was recorded but for its changes: people in it do not react to what has become different. What
//! they could not do any more is told.

mod compare;
mod effect;
mod search;
mod service;

pub(crate) use compare::outcomes;
pub use compare::{Comparison, Row, Side, compare};
pub use effect::Effect;
pub use search::{Found, Search, search};
pub(crate) use service::Service;

use crate::command::Command;
use crate::debrief::is_trip;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::fork::{Change, Course, Impossible, check};
use crate::recorder::Recorder;
use crate::replay::{Diverged, Reel, ReplayError};
use crate::run::Run;

/// Ticks between two instants that are kept: 20 s.
pub const KEPT_TICKS: u64 = 400;
/// An effect that stays away for so long is one that is avoided, ticks: 2 min, or a fifth of the time since the change.
pub const GRACE_TICKS: u64 = 2_400;
/// What comes later by less than this, or than a tenth of the time since the change, is no later, ticks: 5 s.
const LATER_TICKS: u64 = 100;
/// What was done and has changed no reading after so long has done nothing, ticks: 2 s.
const NOTHING_TICKS: u64 = 40;

/// Why other courses cannot be looked at.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum WhatIfError {
    /// The log is not one whole run.
    #[error(transparent)]
    Replay(#[from] ReplayError),
    /// The record is of another model, or was changed: what this one computes says nothing about it.
    #[error("other courses of this run cannot be computed: {0}. What was recorded stands")]
    Differs(Box<Diverged>),
}

/// A run whose other courses can be looked at.
pub struct WhatIf {
    reel: Reel,
}

/// What a change does to an effect.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It does not come: not within [`GRACE_TICKS`] after it came, or a fifth of the time from the change to it.
    Avoided,
    /// It comes at this tick: clearly later than it did.
    Later(u64),
    /// It comes as it did, or sooner.
    Same,
}

/// A course that was tried.
pub(crate) struct Tried<'a> {
    pub(crate) verdict: Verdict,
    /// What was in service just before the effect came.
    pub(crate) service: Service,
    /// Trips until then, as component and word.
    pub(crate) trips: Vec<(String, String)>,
    /// Where it has got to.
    pub(crate) branch: Branch<'a>,
}

/// A course on its way.
pub(crate) struct Branch<'a> {
    recorder: Recorder,
    course: Course<'a>,
    /// Where an act is left out: the tick until which what becomes impossible counts.
    counts_until: Option<u64>,
}

impl WhatIf {
    /// Opens the run of a log and replays it once, as far as `until` (a tick).
    ///
    /// # Errors
    /// The log is not one whole run, or differs from what this model computes.
    pub fn open(log: Vec<Envelope>, until: u64) -> Result<WhatIf, WhatIfError> {
        let mut reel = Reel::open(log, KEPT_TICKS)?;
        while reel.loaded_tick() < until && reel.load() {}
        match reel.difference() {
            Some(difference) => Err(WhatIfError::Differs(Box::new(difference.clone()))),
            None => Ok(WhatIf { reel }),
        }
    }

    /// The log.
    pub fn log(&self) -> &[Envelope] {
        self.reel.log()
    }

    /// An event of the log.
    pub fn event(&self, seq: u64) -> Option<&Envelope> {
        let index = usize::try_from(seq.checked_sub(1)?).ok()?;
        self.log().get(index)
    }

    /// What does not change: ship, drill, procedures.
    pub fn run(&self) -> &Run {
        self.reel.run()
    }

    /// The run as it went, from the last instant kept before a tick.
    pub(crate) fn as_it_went(&self, tick: u64) -> Branch<'_> {
        let (recorder, after) = self.reel.before(tick);
        let course = Course::new(after, self.log(), &[], u64::MAX);
        Branch { recorder: recorder.clone(), course, counts_until: None }
    }

    /// The run with these changes, from the last instant kept before the first of them.
    pub(crate) fn branch(&self, changes: &[Change]) -> Branch<'_> {
        let first = changes.iter().filter_map(|change| self.tick_of(change)).min().unwrap_or(0);
        let (recorder, after) = self.reel.before(first);
        let course = Course::new(after, self.log(), changes, u64::MAX);
        Branch { recorder: recorder.clone(), course, counts_until: None }
    }

    /// The tick from which a change makes a difference.
    pub(crate) fn tick_of(&self, change: &Change) -> Option<u64> {
        match change {
            Change::Drop { seq } => self.event(*seq).map(|envelope| envelope.tick),
            Change::Move { seq, tick } => self.event(*seq).map(|envelope| envelope.tick.min(*tick)),
            Change::Add { tick, .. } => Some(*tick),
        }
    }

    /// Can this change be made?
    pub(crate) fn can(&self, change: &Change) -> bool {
        check(self.log(), change).is_ok()
    }

    /// What changes do to the effect that event `seq` is.
    pub fn judge(&self, changes: &[Change], effect: &Effect, seq: u64) -> Verdict {
        self.course(changes, effect, seq).verdict
    }

    /// Runs a course until the effect comes, or has stayed away for long enough.
    pub(crate) fn course(&self, changes: &[Change], effect: &Effect, seq: u64) -> Tried<'_> {
        let mut branch = self.branch(changes);
        let came = self.event(seq).map_or(0, |envelope| envelope.tick);
        let is_act = |change: &Change| match change {
            Change::Drop { seq } => {
                self.event(*seq).is_some_and(|dropped| matches!(dropped.event, Event::ActDone { .. }))
            }
            Change::Move { .. } | Change::Add { .. } => false,
        };
        branch.counts_until = changes.iter().any(is_act).then_some(came);
        let from = branch.run().tick();
        let between = |envelope: &&Envelope| envelope.tick > from && envelope.seq <= seq;
        let n = self.log().iter().filter(between).filter(|envelope| effect.is(&envelope.event)).count();
        let mut count = Count { effect, left: n.max(1), came: None, trips: Vec::new() };
        if self.does_nothing(changes, &mut branch, came, &mut count) {
            return Tried { verdict: Verdict::Same, service: Service::default(), trips: count.trips, branch };
        }
        branch.until(came.saturating_sub(1), &mut count);
        let service = Service::of(branch.run());
        let trips = std::mem::take(&mut count.trips);
        let since = came - from.min(came);
        branch.until(looked_at_until(came, from), &mut count);
        let verdict = match count.came {
            None => Verdict::Avoided,
            Some(tick) if tick > came + LATER_TICKS.max(since / 10) => Verdict::Later(tick),
            Some(_) => Verdict::Same,
        };
        Tried { verdict, service, trips, branch }
    }

    /// Has what was done besides changed no reading two seconds later? Most of what can be done does nothing: so much of it
    /// can be tried. What was left out and faults lifted are not judged by that: they may tell much later.
    fn does_nothing(
        &self,
        changes: &[Change],
        branch: &mut Branch<'_>,
        came: u64,
        count: &mut Count<'_>,
    ) -> bool {
        let added = |change: &Change| match change {
            Change::Add { tick, command: Command::Act { .. }, .. } => Some(*tick),
            Change::Add { .. } | Change::Drop { .. } | Change::Move { .. } => None,
        };
        let ticks: Option<Vec<u64>> = changes.iter().map(added).collect();
        let Some(last) = ticks.and_then(|ticks| ticks.into_iter().max()) else { return false };
        let tick = last + NOTHING_TICKS;
        if tick >= came {
            return false;
        }
        branch.until(tick, count);
        let mut went = self.as_it_went(tick);
        went.go(tick, &mut |_| {});
        let (here, there) = (branch.run(), went.run());
        here.tick() == there.tick() && here.plant.readings() == there.plant.readings()
    }
}

impl Branch<'_> {
    pub(crate) fn run(&self) -> &Run {
        self.recorder.run()
    }

    /// Goes on to the end of a tick; a run that is over stays where it is.
    pub(crate) fn go(&mut self, tick: u64, each: &mut dyn FnMut(&Envelope)) {
        self.course.go(&mut self.recorder, tick, "", each);
    }

    /// What could not be done so far.
    pub(crate) fn impossible(&self) -> &[Impossible] {
        &self.course.impossible
    }

    /// Is this no course to judge by? What was asked for was refused; or, without an act, others that built upon it: then it was
    /// a step of the work.
    pub(crate) fn is_off(&self) -> bool {
        self.impossible().iter().any(|one| match one.seq {
            None => true,
            Some(_) => one.is_act && self.counts_until.is_some_and(|until| one.tick < until),
        })
    }

    /// Goes on to a tick, or until an effect has come as often as it is counted for.
    fn until(&mut self, tick: u64, count: &mut Count<'_>) {
        while count.came.is_none() && !self.is_off() && self.run().tick() < tick {
            let before = self.run().tick();
            self.go((before + 20).min(tick), &mut |envelope| count.take(envelope));
            if self.run().tick() == before {
                break;
            }
        }
    }
}

/// The tick to which a course that parts from the run at `from` is followed to see whether what came at `came` stays away.
pub(crate) fn looked_at_until(came: u64, from: u64) -> u64 {
    came + GRACE_TICKS.max(came.saturating_sub(from) / 5)
}

/// Counts how often an effect comes.
struct Count<'e> {
    effect: &'e Effect,
    left: usize,
    came: Option<u64>,
    trips: Vec<(String, String)>,
}

impl Count<'_> {
    fn take(&mut self, envelope: &Envelope) {
        if let Event::Found { component, code, .. } = &envelope.event
            && is_trip(code)
        {
            self.trips.push((component.clone(), code.clone()));
        }
        if self.came.is_none() && self.effect.is(&envelope.event) {
            self.left -= 1;
            self.came = (self.left == 0).then_some(envelope.tick);
        }
    }
}

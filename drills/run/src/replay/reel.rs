//! A log that can be gone through forth and back.

use super::{Diverged, ReplayError, Walk, check_numbers};
use crate::envelope::Envelope;
use crate::event::Event;
use crate::recorder::Recorder;
use crate::run::Run;
use crate::setup::Prepared;

/// A log that can be gone through forth and back: it is replayed once, a part at a time, and the run as it was is kept
/// every so often, so that any instant is a few steps away.
///
/// Whole runs are kept and no checkpoints: they need no digest at their tick, nothing has to be read again, and they go on
/// where the record and this model differ.
pub struct Reel {
    log: Vec<Envelope>,
    every: u64,
    /// Before anything was done.
    start: Place,
    kept: Vec<Place>,
    now: Place,
}

/// The run as it was at the end of a tick.
#[derive(Clone)]
struct Place {
    walk: Walk,
    /// Index of the first event that is not in it.
    next: usize,
    /// The tick that was asked for; a run that differs may not get there.
    tick: u64,
}

impl Reel {
    /// Opens the run of a log. `every`: ticks between two instants that are kept.
    ///
    /// # Errors
    /// The log is not one whole run, or its texts cannot be read.
    pub fn open(log: Vec<Envelope>, every: u64) -> Result<Reel, ReplayError> {
        let first = log.first().ok_or(ReplayError::Empty)?;
        let Event::RunOpened(opening) = &first.event else { return Err(ReplayError::NoOpening) };
        check_numbers(&log)?;
        let prepared = Prepared::new(opening.as_ref().clone())?;
        let start = Place { walk: Walk::from_start(first, &prepared), next: 0, tick: 0 };
        let mut now = start.clone();
        now.go(&log, 0);
        Ok(Reel { log, every: every.max(1), start, kept: vec![now.clone()], now })
    }

    /// Tick of the last event.
    pub fn last_tick(&self) -> u64 {
        self.log.last().map_or(0, |last| last.tick)
    }

    /// Up to here it has been replayed.
    pub fn loaded_tick(&self) -> u64 {
        self.kept.last().map_or(0, |kept| kept.tick)
    }

    /// The log.
    pub fn log(&self) -> &[Envelope] {
        &self.log
    }

    /// The run at the last instant kept before a tick, and what of the log is not in it.
    pub(crate) fn before(&self, tick: u64) -> (&Recorder, &[Envelope]) {
        let before = self.kept.partition_point(|kept| kept.tick < tick).checked_sub(1);
        match before.and_then(|before| self.kept.get(before)) {
            Some(kept) => (&kept.walk.recorder, self.log.get(kept.next..).unwrap_or_default()),
            None => (&self.start.walk.recorder, &self.log),
        }
    }

    /// Replays on to the next instant that is kept; `false`: all of it has been.
    pub fn load(&mut self) -> bool {
        let last_tick = self.last_tick();
        let Some(head) = self.kept.last().filter(|head| head.tick < last_tick) else { return false };
        let mut next = head.clone();
        next.go(&self.log, (head.tick + self.every).min(last_tick));
        self.kept.push(next);
        self.loaded_tick() < last_tick
    }

    /// Goes to the end of a tick, with all that was done then; not beyond what has been replayed.
    pub fn seek(&mut self, tick: u64) -> &Run {
        let tick = tick.min(self.loaded_tick());
        let after = self.kept.partition_point(|kept| kept.tick <= tick);
        // The first instant that is kept is the start.
        if let Some(kept) = after.checked_sub(1).and_then(|before| self.kept.get(before))
            && (self.now.tick > tick || self.now.tick < kept.tick)
        {
            self.now = kept.clone();
        }
        self.now.go(&self.log, tick);
        self.run()
    }

    /// The run as it was at the instant gone to.
    pub fn run(&self) -> &Run {
        self.now.walk.recorder.run()
    }

    /// Is the run at the instant gone to? One that differs from its record may have stopped before.
    pub fn is_there(&self) -> bool {
        self.run().tick() == self.now.tick
    }

    /// The runs that are kept, in order of time.
    pub fn kept(&self) -> impl Iterator<Item = &Run> {
        self.kept.iter().map(|kept| kept.walk.recorder.run())
    }

    /// The first difference between record and model in what has been replayed. The record stands.
    pub fn difference(&self) -> Option<&Diverged> {
        self.kept.last().and_then(|kept| kept.walk.difference.as_deref())
    }
}

impl Place {
    fn go(&mut self, log: &[Envelope], tick: u64) {
        let ignore = &mut |_: &Run| {};
        while let Some(envelope) = log.get(self.next).filter(|envelope| envelope.tick <= tick) {
            self.walk.follow(envelope, ignore);
            self.next += 1;
        }
        self.walk.step_to(tick, ignore);
        self.tick = tick;
    }
}

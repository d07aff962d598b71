//! From a log back to a run.

mod reel;
mod renew;

pub use reel::Reel;
pub use renew::renew_digests;

use crate::checkpoint::seq_of;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::opening::OpenError;
use crate::recorder::Recorder;
use crate::run::Run;
use crate::setup::Prepared;
use crate::who::Who;
use deadship_plant::MODEL_VERSION;
use std::collections::VecDeque;

/// Why a log does not give a run.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ReplayError {
    /// There is no event.
    #[error("the log is empty")]
    Empty,
    /// It does not begin with an opening.
    #[error("the log does not begin with the opening of a run")]
    NoOpening,
    /// A number is missing, twice there, or of another run.
    #[error("event {expected} is missing: there is {found} instead")]
    Gap {
        /// Number that should be there.
        expected: u64,
        /// Number that is there.
        found: u64,
    },
    /// The texts of the opening cannot be read by this version of the program.
    #[error("the run cannot be opened again: {0}")]
    Open(#[from] OpenError),
    /// What is computed now is not what was recorded.
    #[error(transparent)]
    Diverged(#[from] Box<Diverged>),
}

/// The first difference between what is computed now and what was recorded. The record stands.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error(
    "the log and the model differ at tick {tick}, event {seq}: recorded {}, computed {} (model {recorded_model} \
     then, {model} now)",
    said(.expected), said(.got)
)]
pub struct Diverged {
    /// Tick.
    pub tick: u64,
    /// Sequence number.
    pub seq: u64,
    /// Event recorded; `None`: nothing was.
    pub expected: Option<Event>,
    /// Event computed; `None`: nothing was.
    pub got: Option<Event>,
    /// Version of the model that wrote the log.
    pub recorded_model: u32,
    /// Version of this model.
    pub model: u32,
}

fn said(event: &Option<Event>) -> String {
    event
        .as_ref()
        .map_or_else(|| "nothing".to_owned(), |e| format!("'{}: {}'", e.name(), crate::timeline::what(e)))
}

/// How far to replay.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Until {
    /// To the last event.
    End,
    /// To this event, and not beyond.
    Seq(u64),
    /// To this tick, with all that was done then. Beyond the last event the drill's own schedule is not followed.
    Tick(u64),
}

/// A run rebuilt from its log.
pub struct Rebuilt {
    /// The run, ready to go on.
    pub recorder: Recorder,
    /// Events of the log's last tick that are not in it, because writing was cut short: they have been
    /// applied, and are to be stored before any other.
    pub pending: Vec<Envelope>,
    /// The first difference between what was recorded and what this model computes. The record stands.
    pub difference: Option<Box<Diverged>>,
}

/// What a verification went through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Verified {
    /// Ticks stepped.
    pub ticks: u64,
    /// Events compared or applied.
    pub events: u64,
    /// Digests among them.
    pub digests: u64,
}

/// Rebuilds a run: steps the plant, applies the inputs, and takes note of where what is found differs from the record.
///
/// # Errors
/// The log is not one whole run, or its texts cannot be read.
pub fn rebuild(log: &[Envelope], until: Until) -> Result<Rebuilt, ReplayError> {
    visit(log, until, &mut |_| {})
}

/// As [`rebuild`], looking at the run at the end of every tick, with all that was done then: for trends, readings at
/// an instant, a seal.
///
/// # Errors
/// As [`rebuild`].
pub fn visit(log: &[Envelope], until: Until, each: &mut dyn FnMut(&Run)) -> Result<Rebuilt, ReplayError> {
    walk(log, None, until, each)
}

/// As [`rebuild`] to the end, from a checkpoint where it fits the log: only what came after it is stepped again. With
/// one that does not fit, as if there were none.
///
/// # Errors
/// As [`rebuild`].
pub fn rebuild_from(log: &[Envelope], checkpoint: &[u8]) -> Result<Rebuilt, ReplayError> {
    walk(log, Some(checkpoint), Until::End, &mut |_| {})
}

/// Goes on from a checkpoint with a log of which only those events before it are there that
/// [`still_matters`](crate::checkpoint::still_matters) names, and the one at which it was taken, last. `after` has all
/// that follow. `None`: the checkpoint does not fit, and the whole log is needed.
///
/// # Errors
/// What follows is not the rest of a run.
pub fn resume(
    prepared: &Prepared,
    before: &[Envelope],
    checkpoint: &[u8],
    after: &[Envelope],
) -> Result<Option<Rebuilt>, ReplayError> {
    let Some(last) = before.last() else { return Ok(None) };
    let Some(recorder) = Recorder::blank(last.run, prepared).restored(before, checkpoint) else {
        return Ok(None);
    };
    check_follow(last, after)?;
    let mut walk = Walk::at(recorder, prepared.opening().model);
    for envelope in after {
        walk.follow(envelope, &mut |_| {});
    }
    let pending = walk.pending(&after.last().unwrap_or(last).at);
    Ok(Some(Rebuilt { recorder: walk.recorder, pending, difference: walk.difference }))
}

fn walk(
    log: &[Envelope],
    checkpoint: Option<&[u8]>,
    until: Until,
    each: &mut dyn FnMut(&Run),
) -> Result<Rebuilt, ReplayError> {
    let first = log.first().ok_or(ReplayError::Empty)?;
    let Event::RunOpened(opening) = &first.event else { return Err(ReplayError::NoOpening) };
    check_numbers(log)?;
    let prepared = Prepared::new(opening.as_ref().clone())?;
    let restored = checkpoint.and_then(|bytes| {
        let before = log.get(..usize::try_from(seq_of(bytes)?).ok()?)?;
        Recorder::blank(first.run, &prepared).restored(before, bytes)
    });
    let (mut walk, already) = match restored {
        Some(restored) => {
            let already = restored.run().last_seq;
            (Walk::at(restored, opening.model), already)
        }
        None => (Walk::from_start(first, &prepared), 0),
    };
    let after = log.iter().filter(|envelope| envelope.seq > already);
    for envelope in after.take_while(|envelope| includes(until, envelope)) {
        walk.follow(envelope, each);
    }
    if let Until::Tick(tick) = until {
        walk.step_to(tick, each);
    }
    each(walk.recorder.run());
    let pending = match until {
        Until::End => walk.pending(log.last().map_or("", |last| &last.at)),
        Until::Seq(_) | Until::Tick(_) => Vec::new(),
    };
    Ok(Rebuilt { recorder: walk.recorder, pending, difference: walk.difference })
}

/// Replays a whole log and compares every finding and digest.
///
/// # Errors
/// The first difference, or a log that is not one whole run.
pub fn verify(log: &[Envelope]) -> Result<Verified, ReplayError> {
    let rebuilt = rebuild(log, Until::End)?;
    match rebuilt.difference {
        Some(difference) => Err(ReplayError::Diverged(difference)),
        None => Ok(Verified {
            ticks: rebuilt.recorder.run().tick(),
            events: log.len() as u64,
            digests: log.iter().filter(|e| matches!(e.event, Event::Digest { .. })).count() as u64,
        }),
    }
}

fn includes(until: Until, envelope: &Envelope) -> bool {
    match until {
        Until::End => true,
        Until::Seq(seq) => envelope.seq <= seq,
        Until::Tick(tick) => envelope.tick <= tick,
    }
}

/// Numbers must run from 1 without gap, of one run, and ticks must not go back.
fn check_numbers(log: &[Envelope]) -> Result<(), ReplayError> {
    let mut tick = 0;
    for (expected, envelope) in (1..).zip(log) {
        if envelope.seq != expected || envelope.run != log[0].run || envelope.tick < tick {
            return Err(ReplayError::Gap { expected, found: envelope.seq });
        }
        tick = envelope.tick;
    }
    Ok(())
}

/// The same for what follows an event.
fn check_follow(last: &Envelope, after: &[Envelope]) -> Result<(), ReplayError> {
    let mut tick = last.tick;
    for (expected, envelope) in (last.seq + 1..).zip(after) {
        if envelope.seq != expected || envelope.run != last.run || envelope.tick < tick {
            return Err(ReplayError::Gap { expected, found: envelope.seq });
        }
        tick = envelope.tick;
    }
    Ok(())
}

/// A run on its way through a log.
#[derive(Clone)]
struct Walk {
    recorder: Recorder,
    /// What was computed and has not been compared yet.
    waiting: VecDeque<(Event, Who)>,
    model: u32,
    difference: Option<Box<Diverged>>,
}

impl Walk {
    /// Where everything that was computed has been compared.
    fn at(recorder: Recorder, model: u32) -> Walk {
        Walk { recorder, waiting: VecDeque::new(), model, difference: None }
    }

    /// Before the first event.
    fn from_start(first: &Envelope, prepared: &Prepared) -> Walk {
        let (recorder, opened) = Recorder::open_prepared(first.run, prepared, &first.who, &first.at);
        // What opening brings has been applied by opening; it is compared like everything else.
        let waiting = opened.into_iter().map(|envelope| (envelope.event, envelope.who)).collect();
        Walk { waiting, ..Walk::at(recorder, prepared.opening().model) }
    }

    /// Brings the run to where this event happened, compares it and applies it.
    fn follow(&mut self, envelope: &Envelope, each: &mut dyn FnMut(&Run)) {
        let there = self.step_to(envelope.tick, each);
        let recorded = Some(&envelope.event);
        match self.waiting.pop_front() {
            Some((event, who)) if event == envelope.event && who == envelope.who => {}
            Some((event, _)) => self.differs(envelope.tick, recorded, Some(&event)),
            None if envelope.event.is_finding() || !there => self.differs(envelope.tick, recorded, None),
            None => {}
        }
        self.recorder.absorb(envelope);
    }

    /// Steps to a tick; false where the run is over or on hold before, so that the record cannot be one of this model.
    fn step_to(&mut self, tick: u64, each: &mut dyn FnMut(&Run)) -> bool {
        while self.recorder.run().tick() < tick {
            if let Some((event, _)) = self.waiting.pop_front() {
                self.differs(self.recorder.run().tick(), None, Some(&event));
            }
            if !self.recorder.run().goes() {
                return false;
            }
            each(self.recorder.run());
            self.waiting = self.recorder.step().into();
        }
        true
    }

    /// Notes the first difference; a program that has drifted once differs everywhere afterwards.
    fn differs(&mut self, tick: u64, recorded: Option<&Event>, computed: Option<&Event>) {
        let seq = self.recorder.run().last_seq + 1;
        let (expected, got) = (recorded.cloned(), computed.cloned());
        let (recorded_model, model) = (self.model, MODEL_VERSION);
        self.difference
            .get_or_insert_with(|| Box::new(Diverged { tick, seq, expected, got, recorded_model, model }));
    }

    /// What the last tick brought beyond the end of the log.
    fn pending(&mut self, at: &str) -> Vec<Envelope> {
        if self.difference.is_some() {
            return Vec::new();
        }
        let waiting: Vec<(Event, Who)> = self.waiting.drain(..).collect();
        self.recorder.record_found(waiting, at)
    }
}

//! What if: a new run that begins as a copy of another.
//!
//! A fork copies inputs, never findings: its plant is stepped anew. What the drill does is not copied either, because
//! the fork's own drill does it. Holds and speeds are of the clock, not of the ship, and are left out.

mod again;
mod course;

pub(crate) use course::Course;
pub use course::{ChangeError, Impossible, check};

use crate::command::Command;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::opening::Parent;
use crate::recorder::Recorder;
use crate::replay::{ReplayError, Until};
use crate::who::Who;
use uuid::Uuid;

/// A change to what was done. With any change all commands are decided anew: what was possible may not be any more.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// It was not done. A fault that the drill sets is lifted in the tick in which it comes.
    Drop {
        /// Event.
        seq: u64,
    },
    /// It was done at another time.
    Move {
        /// Event.
        seq: u64,
        /// Tick.
        tick: u64,
    },
    /// This was done as well.
    Add {
        /// Tick.
        tick: u64,
        /// By whom.
        who: Who,
        /// What.
        command: Command,
    },
}

/// Copies a run up to an instant into a new one, with changes, and steps it to that instant. `Seq(n)` copies up to and
/// with event n. The envelopes are the whole log of the new run so far.
///
/// # Errors
/// The log does not begin with an opening that can be read.
pub fn fork(
    log: &[Envelope],
    until: Until,
    id: Uuid,
    changes: &[Change],
    who: &Who,
    at: &str,
) -> Result<(Recorder, Vec<Envelope>), ReplayError> {
    fork_telling(log, until, id, changes, who, at).map(|forked| (forked.recorder, forked.log))
}

/// A fork, and what could not be done in it any more.
pub struct Forked {
    /// The new run, ready to go on.
    pub recorder: Recorder,
    /// Its whole log so far.
    pub log: Vec<Envelope>,
    /// Inputs of the parent that are not possible in it.
    pub impossible: Vec<Impossible>,
}

/// As [`fork`], with what became impossible.
///
/// # Errors
/// As [`fork`].
pub fn fork_telling(
    log: &[Envelope],
    until: Until,
    id: Uuid,
    changes: &[Change],
    who: &Who,
    at: &str,
) -> Result<Forked, ReplayError> {
    let first = log.first().ok_or(ReplayError::Empty)?;
    let Event::RunOpened(opening) = &first.event else { return Err(ReplayError::NoOpening) };
    let copied = log.partition_point(|envelope| match until {
        Until::End => true,
        Until::Seq(seq) => envelope.seq <= seq,
        Until::Tick(tick) => envelope.tick <= tick,
    });
    let copied = &log[..copied];
    let last = copied.last().unwrap_or(first);
    let end_tick = if let Until::Tick(tick) = until { tick } else { last.tick };
    let mut opening = opening.as_ref().clone();
    opening.parent = Some(Parent { run: first.run, seq: last.seq, tick: end_tick });
    let (mut recorder, mut envelopes) = Recorder::open(id, opening, who, at)?;
    let mut course = Course::new(copied, log, changes, end_tick);
    course.go(&mut recorder, end_tick, at, &mut |envelope| envelopes.push(envelope.clone()));
    Ok(Forked { recorder, log: envelopes, impossible: course.impossible })
}

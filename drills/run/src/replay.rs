//! From a log back to a run.

use crate::envelope::Envelope;
use crate::event::Event;
use crate::opening::{OpenError, Parent};
use crate::recorder::Recorder;
use crate::run::Run;
use crate::who::Who;
use std::collections::VecDeque;
use uuid::Uuid;

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
    /// To this tick, with all that was done then.
    Tick(u64),
}

/// A run rebuilt.
pub struct Rebuilt {
    /// The run, ready to go on.
    pub recorder: Recorder,
    /// Events that the last tick of the log brought and that are not in it, because writing was cut short. They have
    /// not been applied; [`Rebuilt::catch_up`] does.
    pub pending: Vec<Event>,
}

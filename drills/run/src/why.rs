//! Why something happened: back from a trip, an alert, a lost need, a refusal or something missed to the faults, acts and
//! omissions without which it would not have happened.
//!
//! Nothing is guessed and no ship, drill or kind is known here. Each suspect is taken out of the run, the run is computed again
//! from there, and what stays away then was caused by it. The way in between is where the two runs differ, along the ship's
//! graph. What could have been done is tried in the same way: by doing it.

mod asker;
mod suspects;
mod text;
mod trace;

pub(crate) use asker::{Asker, component_of};
pub use suspects::Sort;
pub(crate) use suspects::{REACTION_TICKS, Suspect, omissions, some_hand};
pub use text::Told;

use crate::envelope::Envelope;
use crate::event::Event;
use crate::replay::ReplayError;
use crate::timeline::what;
use crate::whatif::{Effect, WhatIf, WhatIfError};
use serde::{Deserialize, Serialize};

/// Something that happened.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fact {
    /// Event.
    pub seq: u64,
    /// Tick.
    pub tick: u64,
    /// For people.
    pub text: String,
}

/// Why something happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Why {
    /// What is asked about.
    pub subject: Fact,
    /// Ticks for which its limit had been passed before; `None`: it has no limit.
    pub passed_ticks: Option<u64>,
    /// What led to it. More than one: without any of them it would not have come.
    pub causes: Vec<Cause>,
    /// The first alert on the way that a team could see.
    pub first_sign: Option<Fact>,
    /// How many other courses of the run were computed.
    pub courses: u64,
}

/// What led to something.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cause {
    /// What it is.
    pub sort: Sort,
    /// Its event; `None` for what was not done.
    pub seq: Option<u64>,
    /// Tick at which it began, or from which it could have been done.
    pub tick: u64,
    /// For people.
    pub text: String,
    /// Event that it led to.
    pub effect_seq: u64,
    /// Ticks by which the effect would have come later without it; `None`: it would not have come.
    pub later_ticks: Option<u64>,
    /// How far the run without it was followed: it may come later still.
    pub followed_until_tick: u64,
    /// Is there another that would have been enough? Then only without both it would not have come.
    pub one_of_several: bool,
    /// From the effect back to the cause.
    pub way: Vec<Step>,
    /// Alerts that a team could see and that would not have come without it, in order.
    pub signs: Vec<Fact>,
    /// The last tick at which doing or undoing it would still have avoided the effect.
    pub last_tick: Option<u64>,
    /// What made it necessary.
    pub after: Option<Fact>,
    /// And why.
    pub because: Vec<Cause>,
}

/// A step on the way from an effect back to its cause.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// Component.
    pub component: String,
    /// What it is called.
    pub title: String,
    /// Tick since which it was otherwise than it would have been.
    pub tick: u64,
    /// The reading that tells most.
    pub reading: String,
    /// As it was when the effect came.
    pub was: String,
    /// As it would have been then.
    pub would_be: String,
    /// What it reported or what was reported of it, and would not have been.
    pub facts: Vec<Fact>,
    /// Does the team only learn of it later: a step without a report between others?
    pub passes_on: bool,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum WhyError {
    /// No such event, or not one that has causes in the plant.
    #[error(
        "event {seq} is none that can be asked about{}: ask about a trip, an alert, a lost need, a refusal or something missed",
        what.as_ref().map_or_else(String::new, |what| format!(" ({what})"))
    )]
    NoEffect {
        /// Number asked for.
        seq: u64,
        /// What it says.
        what: Option<String>,
    },
    /// The run cannot be computed again.
    #[error(transparent)]
    Runs(#[from] WhatIfError),
}

impl From<ReplayError> for WhyError {
    fn from(error: ReplayError) -> WhyError {
        WhyError::Runs(error.into())
    }
}

/// Events of a log that can be asked about and that matter: trips, alerts that were shown, refusals, what was missed.
pub fn askable(log: &[Envelope]) -> impl Iterator<Item = &Envelope> {
    log.iter().filter(|envelope| match &envelope.event {
        Event::Found { code, .. } => crate::debrief::is_trip(code),
        Event::AlertRaised { hidden: None, .. }
        | Event::ActRefused { .. }
        | Event::ExpectationMissed { .. } => envelope.tick > 0,
        _ => false,
    })
}

/// Why event `seq` of a log happened.
///
/// # Errors
/// It is none that can be asked about, or the run cannot be computed again.
pub fn why(log: Vec<Envelope>, seq: u64) -> Result<Why, WhyError> {
    let Some((effect, seq)) = Effect::of(&log, seq) else {
        let what = log.iter().find(|envelope| envelope.seq == seq).map(|envelope| what(&envelope.event));
        return Err(WhyError::NoEffect { seq, what });
    };
    let until = log.iter().find(|envelope| envelope.seq == seq).map_or(0, |envelope| envelope.tick);
    let runs = WhatIf::open(log, until)?;
    Ok(explain(&runs, &effect, seq))
}

/// As [`why`], with a run that is open already and has been replayed up to the event.
pub fn explain(runs: &WhatIf, effect: &Effect, seq: u64) -> Why {
    answer(Asker::new(runs), effect, seq)
}

/// As [`explain`], without the last moments at which something would still have helped: they cost most.
pub fn explain_without_moments(runs: &WhatIf, effect: &Effect, seq: u64) -> Why {
    let mut asker = Asker::new(runs);
    asker.seeks_moments = false;
    answer(asker, effect, seq)
}

fn answer(mut asker: Asker<'_>, effect: &Effect, seq: u64) -> Why {
    let runs = asker.runs;
    let causes = asker.causes(effect, seq, 0);
    // The caller has found the event in this log.
    let envelope = runs.event(seq);
    let subject = envelope.map(fact).unwrap_or(Fact { seq, tick: 0, text: String::new() });
    let signs = causes.iter().flat_map(|cause| &cause.signs).filter(|sign| sign.seq < seq);
    let first_sign = signs.min_by_key(|sign| sign.seq).cloned();
    let passed_ticks = envelope.and_then(|envelope| match &envelope.event {
        Event::Found { since_tick, .. } | Event::AlertRaised { since_tick, .. } => {
            Some(envelope.tick.saturating_sub(*since_tick))
        }
        _ => None,
    });
    Why { subject, passed_ticks, causes, first_sign, courses: asker.courses }
}

fn fact(envelope: &Envelope) -> Fact {
    Fact { seq: envelope.seq, tick: envelope.tick, text: what(&envelope.event) }
}

/// Does the same with each of many, on as many cores as there are; the results are in their order.
pub fn side_by_side<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from).min(items.len().max(1));
    let next = std::sync::atomic::AtomicUsize::new(0);
    let mut done: Vec<(usize, R)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads)
            .map(|_| {
                scope.spawn(|| {
                    let mut mine = Vec::new();
                    loop {
                        let at = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                        let Some(item) = items.get(at) else { break mine };
                        mine.push((at, work(item)));
                    }
                })
            })
            .collect();
        // A panic in a worker is one here.
        workers
            .into_iter()
            .flat_map(|worker| worker.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
            .collect()
    });
    done.sort_by_key(|(at, _)| *at);
    done.into_iter().map(|(_, result)| result).collect()
}

//! A log without one of its people: the same run with a pseudonym in the place of a name.
//!
//! Digests stand for people as well, by name, so they are computed again by running the changed log; everything else that
//! was found must come out as it was recorded. Nothing is kept that a name could be guessed from and proved by: no digest
//! and no checksum of what stood there before.

use crate::envelope::Envelope;
use crate::event::{Event, KINDS};
use crate::ids::{chain_id, event_id};
use crate::names::Names;
use crate::replay::{ReplayError, renew_digests, verify};
use crate::who::Who;
use deadship_plant::MODEL_VERSION;

/// A log after somebody was removed from it.
#[derive(Clone, Debug, PartialEq)]
pub struct Removal {
    /// All events; the last is the one that says what was done.
    pub log: Vec<Envelope>,
    /// What stands in the place of the name.
    pub pseudonym: String,
    /// Events that have changed, without digests.
    pub events: u64,
    /// What became of the digests.
    pub digests: Digests,
}

/// What became of the digests.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Digests {
    /// The log had been proved by running it; it was run again without the name, and this many were computed again.
    ComputedAgain(u64),
    /// This program cannot run the log, so they were emptied: a digest of what stood there before would tell the name to
    /// whoever guesses it.
    Emptied {
        /// Why it cannot be run.
        why: String,
    },
}

/// The log without a person. `None`: they are not in it.
///
/// # Errors
/// It is not one whole run, or comes out otherwise without the name.
pub fn remove_person(log: &[Envelope], name: &str, at: &str) -> Result<Option<Removal>, ReplayError> {
    let Some((names, pseudonym)) = Names::without(log, name) else { return Ok(None) };
    let mut renamed: Vec<Envelope> = log.iter().map(|envelope| names.hide(envelope)).collect();
    let changed = log.iter().zip(&renamed).filter(|(before, after)| before != after).count() as u64;
    let digests = match why_not_proved(log)? {
        None => Digests::ComputedAgain(renew_digests(&mut renamed)?),
        Some(why) => {
            for envelope in &mut renamed {
                if let Event::Digest { digest } = &mut envelope.event {
                    digest.clear();
                }
            }
            Digests::Emptied { why }
        }
    };
    let said = Event::PersonRemoved { pseudonym: pseudonym.clone(), events: changed };
    renamed.extend(renamed.last().map(|last| follows(last, said, at)));
    Ok(Some(Removal { log: renamed, pseudonym, events: changed, digests }))
}

/// Why the log cannot be run again with this model to the same end; `None`: it can.
fn why_not_proved(log: &[Envelope]) -> Result<Option<String>, ReplayError> {
    if let Some(Event::RunOpened(opening)) = log.first().map(|first| &first.event)
        && opening.model != MODEL_VERSION
    {
        let recorded = opening.model;
        return Ok(Some(format!("it is of model {recorded}, this program has model {MODEL_VERSION}")));
    }
    match verify(log) {
        Ok(_) => Ok(None),
        Err(why @ (ReplayError::Diverged(_) | ReplayError::Open(_))) => Ok(Some(why.to_string())),
        Err(other) => Err(other),
    }
}

/// The event after the last.
fn follows(last: &Envelope, event: Event, at: &str) -> Envelope {
    let (run, seq, kind) = (last.run, last.seq + 1, event.kind());
    Envelope {
        run,
        seq,
        tick: last.tick,
        kind,
        version: KINDS.iter().find(|known| known.0 == kind).map_or(1, |known| known.2),
        event_id: event_id(run, seq),
        command_id: None,
        cause: None,
        chain: chain_id(run, seq),
        who: Who::Drill,
        at: at.to_owned(),
        event,
    }
}

//! Digests of a log in which people are called otherwise than when it was recorded.

use super::{ReplayError, Walk, check_numbers};
use crate::envelope::Envelope;
use crate::event::Event;
use crate::setup::Prepared;

/// Runs a log and puts the digests that come out in the place of those that stand in it. Says how many. Whatever else was
/// found must come out as it was recorded: with its new digests the log is verified.
///
/// # Errors
/// As [`verify`](super::verify).
pub fn renew_digests(log: &mut [Envelope]) -> Result<u64, ReplayError> {
    let first = log.first().ok_or(ReplayError::Empty)?;
    let Event::RunOpened(opening) = &first.event else { return Err(ReplayError::NoOpening) };
    check_numbers(log)?;
    let mut walk = Walk::from_start(first, &Prepared::new(opening.as_ref().clone())?);
    let mut renewed = 0;
    for envelope in log {
        walk.step_to(envelope.tick, &mut |_| {});
        let computed = walk.waiting.front().map(|(event, _)| event);
        if let (Event::Digest { digest }, Some(Event::Digest { digest: now })) =
            (&mut envelope.event, computed)
        {
            digest.clone_from(now);
            renewed += 1;
        }
        walk.follow(envelope, &mut |_| {});
    }
    walk.difference.map_or(Ok(renewed), |difference| Err(ReplayError::Diverged(difference)))
}

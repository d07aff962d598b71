//! Identifiers that follow from what they name.
//!
//! A run that is rehearsed twice, or copied, must give the same log; so the ids of events are derived from the run
//! and the sequence number and nothing is drawn by lot. They are UUIDs of version 8 (RFC 9562, custom).

use uuid::{Builder, Uuid};

/// The id of the event with this sequence number.
pub fn event_id(run: Uuid, seq: u64) -> Uuid {
    derive(run, b"event", seq)
}

/// The id of a chain that no command began.
pub fn chain_id(run: Uuid, seq: u64) -> Uuid {
    derive(run, b"chain", seq)
}

/// An id for a run that stands in no store: rehearsals and trials.
pub fn run_id(name: &str, seed: u64) -> Uuid {
    derive(Uuid::nil(), name.as_bytes(), seed)
}

/// An id for a run that is another with something changed.
pub fn derived_run(run: Uuid, changes: &str) -> Uuid {
    derive(run, changes.as_bytes(), 0)
}

fn derive(run: Uuid, what: &[u8], number: u64) -> Uuid {
    let mut hasher = blake3::Hasher::new();
    hasher.update(run.as_bytes());
    hasher.update(&(what.len() as u64).to_le_bytes());
    hasher.update(what);
    hasher.update(&number.to_le_bytes());
    let mut bytes = [0; 16];
    bytes.copy_from_slice(&hasher.finalize().as_bytes()[..16]);
    Builder::from_custom_bytes(bytes).into_uuid()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_follow_from_what_they_name() {
        let run = run_id("dead-ship", 1);
        assert_eq!(event_id(run, 7), event_id(run, 7));
        assert_ne!(event_id(run, 7), event_id(run, 8));
        assert_ne!(event_id(run, 7), chain_id(run, 7));
        assert_ne!(run, run_id("dead-ship", 2));
        assert_eq!(run.get_version_num(), 8);
    }
}

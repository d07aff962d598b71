//! Checkpoints: a run as it was when its digest was recorded, so that it need not be stepped again from the start.
//!
//! A checkpoint is disposable. It is used only when everything fits: this format, this model, the digest recorded in
//! the log at its event, and the digest of what was restored. Whatever does not fit means that there is none.

use crate::envelope::Envelope;
use crate::event::Event;
use crate::evolve::NOTED;
use crate::recorder::Recorder;
use crate::run::State;
use deadship_plant::MODEL_VERSION;
use serde::{Deserialize, Serialize};

/// Format of the bytes.
const FORMAT: u32 = 1;

#[derive(Serialize, Deserialize)]
struct Head {
    format: u32,
    model: u32,
    seq: u64,
    digest: String,
    state: State,
}

impl Recorder {
    /// The run as bytes, if `last`, the event recorded last, is a digest: only then can a restored run be proved.
    pub fn checkpoint(&self, last: &Envelope) -> Option<Vec<u8>> {
        let Event::Digest { digest } = &last.event else { return None };
        let run = self.run();
        // A tick later the digest is no longer that of the run, even where nothing happened since.
        if last.seq != run.last_seq || last.run != run.id || last.tick != run.tick() {
            return None;
        }
        let state = run.state.clone();
        let head =
            Head { format: FORMAT, model: MODEL_VERSION, seq: last.seq, digest: digest.clone(), state };
        let head = serde_json::to_vec(&head).ok()?;
        let mut bytes = u64::try_from(head.len()).ok()?.to_le_bytes().to_vec();
        bytes.extend_from_slice(&head);
        bytes.extend_from_slice(&run.plant.checkpoint());
        Some(bytes)
    }

    /// Puts a run to where the checkpoint was taken; `None` when it does not fit the log. `before` ends with the event
    /// at which it was taken and has at least those before it that [`still_matters`] names.
    pub(crate) fn restored(mut self, before: &[Envelope], bytes: &[u8]) -> Option<Recorder> {
        let (head, plant) = parts(bytes)?;
        let last = before.last()?;
        let Event::Digest { digest } = &last.event else { return None };
        if (head.format, head.model) != (FORMAT, MODEL_VERSION)
            || (last.seq, digest) != (head.seq, &head.digest)
        {
            return None;
        }
        self.take_over(before, head.state, plant)?;
        (self.run().digest() == head.digest).then_some(self)
    }
}

fn parts(bytes: &[u8]) -> Option<(Head, &[u8])> {
    let (length, rest) = bytes.split_first_chunk::<8>()?;
    let length = usize::try_from(u64::from_le_bytes(*length)).ok()?;
    let (head, plant) = (rest.get(..length)?, rest.get(length..)?);
    Some((serde_json::from_slice(head).ok()?, plant))
}

/// The event at which a checkpoint was taken; `None` for what is none.
pub fn seq_of(bytes: &[u8]) -> Option<u64> {
    parts(bytes).map(|(head, _)| head.seq)
}

/// Must this event be known even if a checkpoint stands behind it: because its command may be repeated, or because it
/// may be the cause of something to come? Told from the stored text, which costs far less than reading all of it; in
/// doubt it says yes.
pub fn still_matters(payload: &str) -> bool {
    payload.contains("\"command_id\":")
        || NOTED.iter().any(|name| payload.contains(&format!("\"name\":\"{name}\"")))
}

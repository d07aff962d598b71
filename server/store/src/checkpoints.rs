//! Checkpoints: states of a run saved so that a seek need not replay from the beginning.
//!
//! They are disposable and live apart from the records. Whatever fails means "there is none": the caller
//! replays.

use std::collections::BTreeMap;
use std::fmt::Debug;
use std::sync::{Mutex, MutexGuard, PoisonError};

use crate::types::StreamId;

/// A cache of checkpoints by stream and tick.
pub trait CheckpointCache: Send + Sync + Debug {
    /// Keeps a checkpoint if it can.
    fn put(&self, stream: StreamId, tick: u64, bytes: &[u8]);
    /// The latest checkpoint at or before the tick, with its own tick.
    fn latest_at_or_before(&self, stream: StreamId, tick: u64) -> Option<(u64, Vec<u8>)>;
    /// Forgets the stream's checkpoints before this tick.
    fn forget_before(&self, stream: StreamId, tick: u64);
    /// Forgets all checkpoints of the stream.
    fn forget(&self, stream: StreamId);
}

/// Checkpoints in memory.
#[derive(Debug, Default)]
pub struct MemoryCheckpoints {
    kept: Mutex<BTreeMap<(StreamId, u64), Vec<u8>>>,
}

impl MemoryCheckpoints {
    fn kept(&self) -> MutexGuard<'_, BTreeMap<(StreamId, u64), Vec<u8>>> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl CheckpointCache for MemoryCheckpoints {
    fn put(&self, stream: StreamId, tick: u64, bytes: &[u8]) {
        self.kept().insert((stream, tick), bytes.to_vec());
    }

    fn latest_at_or_before(&self, stream: StreamId, tick: u64) -> Option<(u64, Vec<u8>)> {
        let kept = self.kept();
        kept.range((stream, 0)..=(stream, tick)).next_back().map(|((_, at), bytes)| (*at, bytes.clone()))
    }

    fn forget_before(&self, stream: StreamId, tick: u64) {
        self.kept().retain(|(of, at), _| *of != stream || *at >= tick);
    }

    fn forget(&self, stream: StreamId) {
        self.kept().retain(|(of, _), _| *of != stream);
    }
}

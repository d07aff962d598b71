//! Ships and drills that have been read: runs of the same texts share them.

use deadship_run::Opening;
use deadship_run::opening::OpenError;
use deadship_run::setup::Prepared;
use std::sync::{Mutex, PoisonError};

/// How many are kept. A school works with a few drills at a time; each costs about what a run does.
const MOST: usize = 8;

/// What has been read lately, the latest last.
#[derive(Default)]
pub(crate) struct Setups {
    kept: Mutex<Vec<Prepared>>,
}

impl Setups {
    /// What runs of this opening share. Whoever needs the same meanwhile waits instead of reading it, too. Blocks.
    pub(crate) fn of(&self, opening: &Opening) -> Result<Prepared, OpenError> {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(at) = kept.iter().position(|prepared| prepared.opening() == opening) {
            let found = kept.remove(at);
            kept.push(found.clone());
            return Ok(found);
        }
        let prepared = Prepared::new(opening.clone())?;
        if kept.len() == MOST {
            kept.remove(0);
        }
        kept.push(prepared.clone());
        Ok(prepared)
    }
}

//! The way back after a failed write or flush.
//!
//! Nothing that was shown is doubted without looking, and nothing that was not shown is believed: each file is cut
//! back to where its last acknowledged append ends. What follows was refused to whoever asked for it, and they may
//! ask again. Cutting marks the file's last block as changed, so that the flush after it writes that block anew: it
//! is the only one that holds both acknowledged bytes and bytes of a write that failed.

use std::io;
use std::sync::PoisonError;

use super::commit::Stream;
use super::open::{refusal, scan};
use super::{ArchiveStore, Slot, TornTail, file_name, locked};
use crate::error::StoreError;
use crate::store::Recovered;

/// The file that proves that writing works. It is removed again.
pub(super) const PROBE: &str = "writing-works.probe";

/// Its size: with less room than that a run would meet the full disk again within minutes.
const PROBE_BYTES: usize = 256 << 10;

impl ArchiveStore {
    /// See [`EventStore::recover`](crate::EventStore::recover).
    pub(super) fn come_back(&self) -> Result<Recovered, StoreError> {
        // Whoever wanted to append waits here and is served afterwards.
        let _alone = self.gate.write().unwrap_or_else(PoisonError::into_inner);
        let Some(reason) = locked(&self.poison).clone() else { return Ok(Recovered::default()) };
        self.files.let_go();
        self.prove_writing()?;
        let mut recovered = Recovered { reason: Some(reason), ..Recovered::default() };
        for (id, slot) in self.slots() {
            let Slot::Live(live) = slot else { continue };
            match self.cut_back(&live) {
                Ok(cut) => recovered.cut.extend(cut),
                Err(error @ (StoreError::Corrupt { .. } | StoreError::Newer { .. })) => {
                    recovered.refused.push((id, error));
                }
                // The device still fails: nothing is settled.
                Err(error) => return Err(error),
            }
        }
        let sync = self.files.sync_folder();
        sync.map_err(|e| StoreError::from_io(format!("flushing the folder {}", self.files.show("")), &e))?;
        for (id, error) in &recovered.refused {
            let mut streams = self.streams.write().unwrap_or_else(PoisonError::into_inner);
            if let Some(Slot::Live(live)) = streams.insert(*id, Slot::Refused(error.clone())) {
                live.give_up();
            }
        }
        for (_, slot) in self.slots() {
            if let Slot::Live(live) = slot {
                live.forgive_panic();
            }
        }
        *locked(&self.poison) = None;
        Ok(recovered)
    }

    fn prove_writing(&self) -> Result<(), StoreError> {
        let probe = || {
            match self.files.remove(PROBE) {
                Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(e),
                _ => {}
            }
            self.files.append(PROBE, &vec![b'\n'; PROBE_BYTES])?;
            self.files.sync(PROBE)?;
            self.files.sync_folder()
        };
        let written = probe();
        // Also where it was cut short: it must not take the last of the room.
        let removed = self.files.remove(PROBE);
        written
            .and(removed)
            .map_err(|e| StoreError::from_io(format!("writing {} as a trial", self.files.show(PROBE)), &e))
    }

    /// Cuts the file back to its last acknowledged append, after proving that this is there.
    fn cut_back(&self, live: &Stream) -> Result<Option<TornTail>, StoreError> {
        let name = file_name(live.id);
        let (len, last) = (live.shown().len, live.shown().last_seq());
        let failed = |what: &str, e| StoreError::from_io(format!("{what} {}", self.files.show(&name)), &e);
        if !self.is_longer(&name, len).map_err(|e| failed("reading", e))? {
            return self.prove_end(live).map(|()| None);
        }
        let bytes = self.files.read(&name).map_err(|e| failed("reading", e))?;
        let kept = usize::try_from(len).unwrap_or(usize::MAX).min(bytes.len());
        if last > 0 {
            let (found, fault) = scan(&self.files.show(&name), live.id, &bytes[..kept]);
            if let Some(fault) = fault {
                return Err(refusal(live.id, fault));
            }
            if found.head != live.shown().head {
                return Err(self.lost(live));
            }
        }
        let what = "it was never acknowledged".to_owned();
        let saved = self.files.set_aside(&format!("{}-refused-at-{kept}.part", live.id), &bytes[kept..]);
        let saved = Some(saved.map_err(|e| failed("keeping the refused end of", e))?);
        self.files.truncate(&name, len).map_err(|e| failed("cutting the refused end of", e))?;
        self.files.sync(&name).map_err(|e| failed("flushing", e))?;
        let cut_bytes = bytes.len() as u64 - len;
        Ok(Some(TornTail { stream: live.id, kept_seq: last, cut_bytes, what, saved }))
    }

    fn is_longer(&self, name: &str, len: u64) -> io::Result<bool> {
        match self.files.read_at(name, len, 1) {
            Ok(_) => Ok(true),
            // A file that is too short, or gone, is found out when its end is looked for.
            Err(e) if matches!(e.kind(), io::ErrorKind::UnexpectedEof | io::ErrorKind::NotFound) => Ok(false),
            Err(e) => Err(e),
        }
    }

    /// Whether the last acknowledged record stands where it was written. The chain vouches for what is before it.
    fn prove_end(&self, live: &Stream) -> Result<(), StoreError> {
        let Some(head) = live.shown().head else { return Ok(()) };
        let missing = |error| match error {
            StoreError::Io { .. } if self.is_shorter(live) => self.lost(live),
            other => other,
        };
        let records = self.read_archive(live, head.seq, head.seq).map_err(missing)?;
        match records.last() {
            Some(record) if record.chain == head.chain => Ok(()),
            _ => Err(self.lost(live)),
        }
    }

    fn is_shorter(&self, live: &Stream) -> bool {
        let last_byte = live.shown().len.saturating_sub(1);
        let short = [io::ErrorKind::UnexpectedEof, io::ErrorKind::NotFound];
        self.files.read_at(&file_name(live.id), last_byte, 1).is_err_and(|e| short.contains(&e.kind()))
    }

    fn lost(&self, live: &Stream) -> StoreError {
        let file = self.files.show(&file_name(live.id));
        let what = format!("after a failed write acknowledged records are no longer there ({file})");
        StoreError::Corrupt { stream: live.id, seq: live.shown().last_seq(), what }
    }
}

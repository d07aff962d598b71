//! For tests: files that lose power, and a store on them.
//!
//! Every file has a live half, which reads see, and a durable half, which is what a sync has reached. A power
//! cut throws the live half away, except for what the [`Survives`] rule lets through, since a disk may well
//! have written more than it was asked for. The store on top is the real archive code.

use std::collections::BTreeMap;
use std::io;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::archive_store::{ArchiveStore, OpenReport};
use crate::error::StoreError;
use crate::files::FileLayer;
use crate::store::{EventStore, Health, Recovered};
use crate::types::{Appended, Expected, Head, NewRecord, Record, StreamId};

/// What of the bytes and names that no sync has reached is found after a power cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Survives {
    /// Nothing.
    Nothing,
    /// Everything.
    Everything,
    /// Of each file some beginning of the new bytes; names by chance. The number seeds the chance.
    SomeBeginning(u64),
    /// Of each file some sectors of the new bytes, the others read as zeros; names by chance.
    SomeSectors(u64),
}

/// Bytes that a disk writes as one.
const SECTOR: usize = 512;

/// Files in memory with a live and a durable half.
#[derive(Debug, Default)]
pub struct CrashFiles {
    state: Mutex<State>,
}

#[derive(Debug, Default, Clone)]
struct State {
    files: BTreeMap<String, TwoHalves>,
    aside: BTreeMap<String, Vec<u8>>,
    changes: u64,
    cut_after: Option<u64>,
    is_off: bool,
}

#[derive(Debug, Default, Clone)]
struct TwoHalves {
    /// `None`: removed.
    live: Option<Vec<u8>>,
    durable: Vec<u8>,
    /// Whether a sync of the folder has reached the name.
    name_is_durable: bool,
}

impl CrashFiles {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Cuts the power at the first change (write, sync, truncation, removal) after `changes` more of them.
    pub fn cut_after(&self, changes: u64) {
        let mut state = self.state();
        state.cut_after = Some(state.changes + changes);
    }

    /// How many changes there have been.
    pub fn changes(&self) -> u64 {
        self.state().changes
    }

    /// Flips bits of a byte in both halves: damage on the disk.
    pub fn damage(&self, name: &str, offset: usize, bits: u8) {
        if let Some(file) = self.state().files.get_mut(name) {
            for half in [Some(&mut file.durable), file.live.as_mut()].into_iter().flatten() {
                if let Some(byte) = half.get_mut(offset) {
                    *byte ^= bits;
                }
            }
        }
    }

    /// What is set aside, by name.
    pub fn aside(&self) -> BTreeMap<String, Vec<u8>> {
        self.state().aside.clone()
    }

    /// The files as they are found when the power is back.
    pub fn after_power_cut(&self, survives: Survives) -> Self {
        let state = self.state();
        let mut chance = Chance(match survives {
            Survives::SomeBeginning(seed) | Survives::SomeSectors(seed) => seed,
            Survives::Nothing | Survives::Everything => 0,
        });
        let mut files = BTreeMap::new();
        for (name, file) in &state.files {
            let new_name_state = match survives {
                Survives::Nothing => false,
                Survives::Everything => true,
                Survives::SomeBeginning(_) | Survives::SomeSectors(_) => chance.below(2) == 1,
            };
            let content = match &file.live {
                Some(live) if file.name_is_durable || new_name_state => {
                    surviving(live, &file.durable, survives, &mut chance)
                }
                None if file.name_is_durable && !new_name_state => file.durable.clone(),
                _ => continue,
            };
            let file = TwoHalves { live: Some(content.clone()), durable: content, name_is_durable: true };
            files.insert(name.clone(), file);
        }
        let aside = state.aside.clone();
        Self { state: Mutex::new(State { files, aside, ..State::default() }) }
    }
}

fn surviving(live: &[u8], durable: &[u8], survives: Survives, chance: &mut Chance) -> Vec<u8> {
    let Some(new) = live.strip_prefix(durable) else {
        // A truncation that no sync has reached: done or not done.
        let done = match survives {
            Survives::Nothing => false,
            Survives::Everything => true,
            Survives::SomeBeginning(_) | Survives::SomeSectors(_) => chance.below(2) == 1,
        };
        return if done { live.to_vec() } else { durable.to_vec() };
    };
    let mut kept = durable.to_vec();
    match survives {
        Survives::Nothing => {}
        Survives::Everything => kept.extend_from_slice(new),
        Survives::SomeBeginning(_) => kept.extend_from_slice(&new[..chance.below(new.len() + 1)]),
        Survives::SomeSectors(_) => {
            let end = durable.len() + chance.below(new.len() + 1);
            let mut lost = false;
            for (at, byte) in live.iter().enumerate().take(end).skip(durable.len()) {
                if at == durable.len() || at % SECTOR == 0 {
                    lost = chance.below(2) == 1;
                }
                kept.push(if lost { 0 } else { *byte });
            }
        }
    }
    kept
}

/// Chance from a seed (SplitMix64), so that a failing test can be repeated.
struct Chance(u64);

impl Chance {
    fn below(&mut self, bound: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        // The remainder is below `bound`, so it fits; bounds here are far below what would bias it.
        usize::try_from(z % (bound.max(1) as u64)).unwrap_or(0)
    }
}

impl State {
    fn power(&self) -> io::Result<()> {
        if self.is_off { Err(io::Error::other("the power is off")) } else { Ok(()) }
    }

    /// Counts a change; `true`: the power goes off during it.
    fn change(&mut self) -> io::Result<bool> {
        self.power()?;
        self.changes += 1;
        self.is_off = self.cut_after.is_some_and(|last| self.changes > last);
        Ok(self.is_off)
    }

    fn live(&self, name: &str) -> io::Result<&Vec<u8>> {
        self.power()?;
        let file = self.files.get(name).and_then(|file| file.live.as_ref());
        file.ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))
    }
}

impl FileLayer for CrashFiles {
    fn list(&self) -> io::Result<Vec<String>> {
        let state = self.state();
        state.power()?;
        let there = state.files.iter().filter(|(_, file)| file.live.is_some());
        Ok(there.map(|(name, _)| name.clone()).collect())
    }

    fn read(&self, name: &str) -> io::Result<Vec<u8>> {
        self.state().live(name).cloned()
    }

    fn read_at(&self, name: &str, offset: u64, len: usize) -> io::Result<Vec<u8>> {
        let state = self.state();
        let start = usize::try_from(offset).map_err(io::Error::other)?;
        let bytes = state.live(name)?.get(start..).and_then(|rest| rest.get(..len));
        bytes.map(<[u8]>::to_vec).ok_or_else(|| io::Error::from(io::ErrorKind::UnexpectedEof))
    }

    fn append(&self, name: &str, bytes: &[u8]) -> io::Result<()> {
        let mut state = self.state();
        // The bytes reach the live half even when the power goes off now: what survives of them is the
        // rule's.
        state.change()?;
        let file = state.files.entry(name.to_owned()).or_default();
        file.live.get_or_insert_default().extend_from_slice(bytes);
        state.power()
    }

    fn sync(&self, name: &str) -> io::Result<()> {
        let mut state = self.state();
        if state.change()? {
            return state.power();
        }
        let live = state.live(name)?.clone();
        if let Some(file) = state.files.get_mut(name) {
            file.durable = live;
        }
        Ok(())
    }

    fn sync_folder(&self) -> io::Result<()> {
        let mut state = self.state();
        if state.change()? {
            return state.power();
        }
        state.files.retain(|_, file| file.live.is_some());
        state.files.values_mut().for_each(|file| file.name_is_durable = true);
        Ok(())
    }

    fn truncate(&self, name: &str, len: u64) -> io::Result<()> {
        let mut state = self.state();
        state.change()?;
        let len = usize::try_from(len).map_err(io::Error::other)?;
        if let Some(live) = state.files.get_mut(name).and_then(|file| file.live.as_mut()) {
            live.truncate(len);
        }
        state.power()
    }

    fn remove(&self, name: &str) -> io::Result<()> {
        let mut state = self.state();
        state.change()?;
        if let Some(file) = state.files.get_mut(name) {
            file.live = None;
        }
        state.power()
    }

    fn set_aside(&self, name: &str, bytes: &[u8]) -> io::Result<String> {
        let mut state = self.state();
        state.power()?;
        state.aside.insert(name.to_owned(), bytes.to_vec());
        Ok(format!("quarantine/{name}"))
    }

    fn show(&self, name: &str) -> String {
        name.to_owned()
    }
}

/// A store on [`CrashFiles`].
#[derive(Debug)]
pub struct CrashStore {
    files: Arc<CrashFiles>,
    store: ArchiveStore,
}

impl CrashStore {
    /// A store on these files.
    pub fn open(files: CrashFiles) -> Result<(Self, OpenReport), StoreError> {
        let files = Arc::new(files);
        let (store, report) = ArchiveStore::open_on(Arc::<CrashFiles>::clone(&files), None)?;
        Ok((Self { files, store }, report))
    }

    /// The files under it.
    pub fn files(&self) -> &CrashFiles {
        &self.files
    }

    /// Cuts the power now and opens what is found afterwards.
    pub fn power_cut(self, survives: Survives) -> Result<(Self, OpenReport), StoreError> {
        Self::open(self.files.after_power_cut(survives))
    }
}

impl EventStore for CrashStore {
    fn append(
        &self,
        stream: StreamId,
        expected: Expected,
        records: &[NewRecord],
    ) -> Result<Appended, StoreError> {
        self.store.append(stream, expected, records)
    }

    fn read(&self, stream: StreamId, from_seq: u64, limit: u32) -> Result<Vec<Record>, StoreError> {
        self.store.read(stream, from_seq, limit)
    }

    fn head(&self, stream: StreamId) -> Result<Option<Head>, StoreError> {
        self.store.head(stream)
    }

    fn streams(&self) -> Result<Vec<StreamId>, StoreError> {
        self.store.streams()
    }

    fn delete(&self, stream: StreamId, proof: Head) -> Result<(), StoreError> {
        self.store.delete(stream, proof)
    }

    fn health(&self) -> Health {
        self.store.health()
    }

    fn recover(&self) -> Result<Recovered, StoreError> {
        self.store.recover()
    }
}

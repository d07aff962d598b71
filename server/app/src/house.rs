//! What the server itself must remember: keys, classes, join codes, seats. A stream of its own in the same store.

use crate::clock;
use crate::secret::Hashed;
use deadship_store::{EventStore, Expected, NewRecord, StoreError, StreamId};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError, RwLock, RwLockReadGuard};
use uuid::Uuid;

/// The stream of the house. No run can have this id: run ids are random (version 4), this one is custom (version 8).
pub const HOUSE_STREAM: StreamId = StreamId(Uuid::from_u128(0x6465_6164_7368_8970_8000_0000_0000_0001));

/// The newest format of its records. Records of a kind that every version knows have format 1.
const FORMAT: u32 = 2;

/// Records in one read.
const PAGE: u32 = 1_000;

/// Something to remember.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "name", rename_all = "kebab-case")]
pub(crate) enum HouseRecord {
    /// A key for instructors; the one before is no longer good.
    KeyMade {
        /// Hash of the key.
        hash: Hashed,
    },
    /// A class was opened.
    ClassOpened {
        /// Class; in records from before classes had one, that of its first run.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        class: Option<Uuid>,
        /// Title.
        title: String,
        /// Name of the drill.
        drill: String,
        /// Who opened it.
        by: String,
        /// Procedure of the robot crew.
        crew: Option<String>,
        /// Its runs.
        runs: Vec<HouseRun>,
    },
    /// A class is held by another instructor from now on.
    ClassHanded {
        /// Class.
        class: Uuid,
        /// Who holds it now.
        to: String,
    },
    /// Somebody joined a run.
    SeatGiven {
        /// Run.
        run: Uuid,
        /// Name.
        person: String,
        /// Hash of the token.
        token: Hashed,
    },
    /// A name is free again: its token is no longer good.
    SeatFreed {
        /// Run.
        run: Uuid,
        /// Name.
        person: String,
    },
    /// A run is over: it need not be brought back after a restart.
    RunOver {
        /// Run.
        run: Uuid,
        /// Why.
        reason: String,
        /// Its last tick.
        tick: u64,
    },
    /// A person was removed from these records and from those of runs, which were written anew.
    PersonRemoved {
        /// Runs they were removed from.
        runs: Vec<Uuid>,
    },
    /// Runs were removed, with what stood of them here, because they had been kept for as long as they may be.
    RunsExpired {
        /// How many.
        runs: u64,
        /// For how many days runs were kept.
        keep_days: u32,
    },
}

impl HouseRecord {
    fn format(&self) -> u32 {
        match self {
            HouseRecord::PersonRemoved { .. } | HouseRecord::RunsExpired { .. } => 2,
            _ => 1,
        }
    }
}

/// A run as the house knows it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct HouseRun {
    /// Run.
    pub(crate) run: Uuid,
    /// Team.
    pub(crate) team: String,
    /// Join code.
    pub(crate) code: String,
}

#[derive(Serialize, Deserialize)]
struct Written {
    format: u32,
    at: String,
    record: serde_json::Value,
}

/// What a run was opened as, and who sits where.
#[derive(Clone, Debug)]
pub(crate) struct Entry {
    /// Place in the order of opening.
    pub(crate) order: usize,
    /// Its class.
    pub(crate) class: Uuid,
    /// Drill.
    pub(crate) drill: String,
    /// Procedure of the robot crew.
    pub(crate) crew: Option<String>,
    /// Team.
    pub(crate) team: String,
    /// Join code.
    pub(crate) code: String,
    /// Tokens by name.
    pub(crate) seats: BTreeMap<String, Hashed>,
    /// Why it is over, and its last tick.
    pub(crate) over: Option<(String, u64)>,
}

/// The runs that were opened together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Class {
    /// Title.
    pub(crate) title: String,
    /// The instructor who holds it.
    pub(crate) holder: String,
    /// Its runs, in the order of the teams.
    pub(crate) runs: Vec<Uuid>,
}

/// All that is remembered.
#[derive(Clone, Debug, Default)]
pub(crate) struct Memory {
    /// Hash of the key.
    pub(crate) key: Option<Hashed>,
    /// Runs.
    pub(crate) runs: BTreeMap<Uuid, Entry>,
    /// Classes.
    pub(crate) classes: BTreeMap<Uuid, Class>,
}

impl Memory {
    fn apply(&mut self, record: HouseRecord) {
        match record {
            HouseRecord::KeyMade { hash } => self.key = Some(hash),
            HouseRecord::ClassOpened { class, title, drill, by, crew, runs } => {
                let class = class.or_else(|| runs.first().map(|first| first.run)).unwrap_or_default();
                let ids = runs.iter().map(|run| run.run).collect();
                self.classes.insert(class, Class { title, holder: by, runs: ids });
                for HouseRun { run, team, code } in runs {
                    let order = self.runs.len();
                    let (drill, crew) = (drill.clone(), crew.clone());
                    let seats = BTreeMap::new();
                    self.runs.insert(run, Entry { order, class, drill, crew, team, code, seats, over: None });
                }
            }
            HouseRecord::ClassHanded { class, to } => {
                if let Some(class) = self.classes.get_mut(&class) {
                    class.holder = to;
                }
            }
            HouseRecord::SeatGiven { run, person, token } => {
                if let Some(entry) = self.runs.get_mut(&run) {
                    entry.seats.insert(person, token);
                }
            }
            HouseRecord::SeatFreed { run, person } => {
                if let Some(entry) = self.runs.get_mut(&run) {
                    entry.seats.remove(&person);
                }
            }
            HouseRecord::RunOver { run, reason, tick } => {
                if let Some(entry) = self.runs.get_mut(&run) {
                    entry.over = Some((reason, tick));
                }
            }
            // Said for whoever reads the file; what they speak of is not there any more.
            HouseRecord::PersonRemoved { .. } | HouseRecord::RunsExpired { .. } => {}
        }
    }

    /// Whatever of these records can be read, for those who only want names.
    pub(crate) fn read_what_can_be(payloads: impl Iterator<Item = String>) -> Memory {
        let mut memory = Memory::default();
        payloads.filter_map(|payload| read(&payload).ok()).for_each(|record| memory.apply(record));
        memory
    }

    /// The class of a run.
    pub(crate) fn class_of(&self, run: Uuid) -> Option<&Class> {
        self.classes.get(&self.runs.get(&run)?.class)
    }

    /// The run that a code belongs to.
    pub(crate) fn by_code(&self, code: &str) -> Option<Uuid> {
        let wanted = Hashed::of(code);
        self.runs.iter().find(|(_, entry)| Hashed::of(&entry.code) == wanted).map(|(run, _)| *run)
    }

    /// The seat that a token belongs to: run and name.
    pub(crate) fn by_token(&self, token: &str) -> Option<(Uuid, String)> {
        let wanted = Hashed::of(token);
        let mut seats =
            self.runs.iter().flat_map(|(run, entry)| entry.seats.iter().map(move |seat| (run, seat)));
        seats.find(|(_, (_, kept))| **kept == wanted).map(|(run, (name, _))| (*run, name.clone()))
    }
}

/// Why the house's own records cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum HouseError {
    /// They are damaged.
    #[error(
        "the server's own records (key, join codes, seats) are damaged: {0}; to start all the same, move that file out \
         of the archive folder: what the read copy has of it is then kept in the quarantine folder"
    )]
    Damaged(StoreError),
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A record that this version does not read.
    #[error(
        "record {seq} of the server's own stream cannot be read by this version: {what}; use a newer deadship for it"
    )]
    Record {
        /// Which.
        seq: u64,
        /// What is wrong with it.
        what: String,
    },
}

/// What the server remembers, and the one way to make it remember more.
pub(crate) struct House {
    store: Arc<dyn EventStore>,
    /// Sequence number of the last record. Held while writing, so that writers queue here and readers never wait
    /// for the disk.
    last_seq: Mutex<u64>,
    memory: RwLock<Memory>,
}

impl House {
    /// Reads the stream.
    pub(crate) fn open(store: Arc<dyn EventStore>) -> Result<House, HouseError> {
        let (mut memory, mut last_seq) = (Memory::default(), 0);
        loop {
            let page = store.read(HOUSE_STREAM, last_seq + 1, PAGE).map_err(|error| match error {
                StoreError::Corrupt { .. } => HouseError::Damaged(error),
                other => HouseError::Store(other),
            })?;
            if page.is_empty() {
                break;
            }
            for record in page {
                last_seq = record.seq;
                memory
                    .apply(read(&record.payload).map_err(|what| HouseError::Record { seq: last_seq, what })?);
            }
        }
        Ok(House { store, last_seq: Mutex::new(last_seq), memory: RwLock::new(memory) })
    }

    /// What is remembered now. The guard must not be held across an await.
    pub(crate) fn memory(&self) -> RwLockReadGuard<'_, Memory> {
        self.memory.read().unwrap_or_else(PoisonError::into_inner)
    }

    /// Remembers, on disk first. Blocks.
    pub(crate) fn remember(&self, record: HouseRecord) -> Result<(), StoreError> {
        self.remember_if(record, |_| true).map(|_| ())
    }

    /// The same, if the condition holds once it is this record's turn. Says whether it did.
    pub(crate) fn remember_if(
        &self,
        record: HouseRecord,
        condition: impl FnOnce(&Memory) -> bool,
    ) -> Result<bool, StoreError> {
        let mut last_seq = self.last_seq.lock().unwrap_or_else(PoisonError::into_inner);
        if !condition(&self.memory()) {
            return Ok(false);
        }
        let new = NewRecord { event_id: Uuid::new_v4(), payload: encode(&clock::now(), &record) };
        let appended = self.store.append(HOUSE_STREAM, Expected::Exact(*last_seq), &[new])?;
        *last_seq = appended.last();
        self.memory.write().unwrap_or_else(PoisonError::into_inner).apply(record);
        Ok(true)
    }
}

fn read(payload: &str) -> Result<HouseRecord, String> {
    decode(payload).map(|(_, record)| record)
}

/// A record and when it was written.
pub(crate) fn decode(payload: &str) -> Result<(String, HouseRecord), String> {
    let written: Written = serde_json::from_str(payload).map_err(|error| error.to_string())?;
    if written.format > FORMAT {
        return Err(format!("it has format {}, this version reads up to {FORMAT}", written.format));
    }
    let record = serde_json::from_value(written.record).map_err(|error| error.to_string())?;
    Ok((written.at, record))
}

/// The payload of a record.
pub(crate) fn encode(at: &str, record: &HouseRecord) -> String {
    // Plain data with text keys always serialises.
    let value = serde_json::to_value(record).unwrap_or_default();
    let written = Written { format: record.format(), at: at.to_owned(), record: value };
    serde_json::to_string(&written).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use deadship_store::MemoryStore;

    #[test]
    fn what_is_remembered_is_there_after_opening_again() {
        let store: Arc<dyn EventStore> = Arc::new(MemoryStore::default());
        let house = House::open(Arc::clone(&store)).unwrap();
        let run = Uuid::new_v4();
        let runs = vec![HouseRun { run, team: "Red".into(), code: "ABC234".into() }];
        let (title, drill, by) = ("Monday".to_owned(), "drill".to_owned(), "Ada".to_owned());
        house.remember(HouseRecord::KeyMade { hash: Hashed::of("KEY") }).unwrap();
        house.remember(HouseRecord::ClassOpened { class: None, title, drill, by, crew: None, runs }).unwrap();
        house.remember(HouseRecord::ClassHanded { class: run, to: "Cy".into() }).unwrap();
        let token = Hashed::of("token");
        house.remember(HouseRecord::SeatGiven { run, person: "Bo".into(), token }).unwrap();
        let again = House::open(store).unwrap();
        let memory = again.memory();
        assert!(memory.key.is_some_and(|key| key.is("KEY")));
        assert_eq!(memory.by_code("ABC234"), Some(run));
        assert!(memory.class_of(run).is_some_and(|class| class.holder == "Cy" && class.title == "Monday"));
        assert_eq!(memory.by_code("ABC235"), None);
        assert_eq!(memory.by_token("token"), Some((run, "Bo".to_owned())));
    }

    #[test]
    fn records_of_a_later_format_are_refused() {
        let store: Arc<dyn EventStore> = Arc::new(MemoryStore::default());
        let payload = r#"{"format":3,"at":"","record":{"name":"something"}}"#.to_owned();
        let new = NewRecord { event_id: Uuid::new_v4(), payload };
        store.append(HOUSE_STREAM, Expected::NoStream, &[new]).unwrap();
        let error = House::open(store).err().unwrap().to_string();
        assert!(error.contains("format 3"), "{error}");
    }
}

//! The server's own records without a person, or without some runs.

use crate::clock;
use crate::house::{HOUSE_STREAM, HouseRecord, decode, encode};
use deadship_run::names::{Names, is_same};
use deadship_store::{NewRecord, Record, Rewriting, StoreError};
use std::collections::BTreeSet;
use uuid::Uuid;

/// What stands in the place of a name here. No seat is left that would have to be told from others.
const NOBODY: &str = "anonymous";

/// The records after something was removed.
pub(super) struct Changed {
    payloads: Vec<(Uuid, String)>,
    /// How many have changed or gone.
    pub(super) count: u64,
}

impl Changed {
    /// Writes them, and that this was done.
    pub(super) fn write(mut self, rewriting: &mut Rewriting, done: &HouseRecord) -> Result<(), StoreError> {
        self.payloads.push((Uuid::new_v4(), encode(&clock::now(), done)));
        let record = |(event_id, payload)| vec![NewRecord { event_id, payload }];
        let appends: Vec<_> = self.payloads.into_iter().map(record).collect();
        rewriting.replace(HOUSE_STREAM, &appends)
    }
}

/// Without a person: their seats are gone and their tokens with them; where they opened or held a class it says `anonymous`.
/// `only`: in these runs; empty: in all.
pub(super) fn without_person(records: &[Record], name: &str, only: &[Uuid]) -> Result<Changed, StoreError> {
    let concerns = |run: &Uuid| only.is_empty() || only.contains(run);
    // Classes that are concerned, and of these, those that this person had to do with: only there a part of a name is theirs.
    let (mut classes, mut theirs) = (BTreeSet::new(), BTreeSet::new());
    for record in records {
        match read(record)?.1 {
            HouseRecord::ClassOpened { class, by, runs, .. } if runs.iter().any(|run| concerns(&run.run)) => {
                let class = class.or_else(|| runs.first().map(|first| first.run));
                classes.extend(class);
                theirs.extend(runs.iter().map(|run| run.run).filter(|_| is_same(&by, name)));
            }
            HouseRecord::SeatGiven { run, person, .. } if is_same(&person, name) => {
                theirs.insert(run);
            }
            _ => {}
        }
    }
    let parts = Names::one(name, NOBODY);
    change(records, |record| {
        Some(match record {
            HouseRecord::SeatGiven { run, ref person, .. } | HouseRecord::SeatFreed { run, ref person }
                if concerns(&run) && is_same(person, name) =>
            {
                return None;
            }
            HouseRecord::ClassOpened { class, mut title, drill, mut by, crew, mut runs }
                if runs.iter().any(|run| concerns(&run.run)) =>
            {
                if is_same(&by, name) {
                    NOBODY.clone_into(&mut by);
                }
                if runs.iter().any(|run| theirs.contains(&run.run)) {
                    title = parts.text(&title);
                    runs.iter_mut().for_each(|run| run.team = parts.text(&run.team));
                }
                HouseRecord::ClassOpened { class, title, drill, by, crew, runs }
            }
            HouseRecord::ClassHanded { class, to } if classes.contains(&class) && is_same(&to, name) => {
                HouseRecord::ClassHanded { class, to: NOBODY.to_owned() }
            }
            HouseRecord::RunOver { run, reason, tick } if theirs.contains(&run) && concerns(&run) => {
                HouseRecord::RunOver { run, reason: parts.text(&reason), tick }
            }
            other => other,
        })
    })
}

/// Without some runs, and without classes that have none left.
pub(super) fn without_runs(records: &[Record], gone: &BTreeSet<Uuid>) -> Result<Changed, StoreError> {
    let mut empty = BTreeSet::new();
    change(records, |record| {
        Some(match record {
            HouseRecord::SeatGiven { run, .. }
            | HouseRecord::SeatFreed { run, .. }
            | HouseRecord::RunOver { run, .. }
                if gone.contains(&run) =>
            {
                return None;
            }
            HouseRecord::ClassOpened { class, title, drill, by, crew, mut runs } => {
                let class = class.or_else(|| runs.first().map(|first| first.run));
                runs.retain(|run| !gone.contains(&run.run));
                if runs.is_empty() {
                    empty.extend(class);
                    return None;
                }
                HouseRecord::ClassOpened { class, title, drill, by, crew, runs }
            }
            HouseRecord::ClassHanded { class, .. } if empty.contains(&class) => return None,
            other => other,
        })
    })
}

/// Each record as `of` wants it, or not at all. The time at which it was written stays.
fn change(
    records: &[Record],
    mut of: impl FnMut(HouseRecord) -> Option<HouseRecord>,
) -> Result<Changed, StoreError> {
    let mut changed = Changed { payloads: Vec::new(), count: 0 };
    for record in records {
        let (at, known) = read(record)?;
        match of(known.clone()) {
            // As it was written, to the byte.
            Some(same) if same == known => changed.payloads.push((record.event_id, record.payload.clone())),
            Some(other) => {
                changed.payloads.push((record.event_id, encode(&at, &other)));
                changed.count += 1;
            }
            None => changed.count += 1,
        }
    }
    Ok(changed)
}

fn read(record: &Record) -> Result<(String, HouseRecord), StoreError> {
    decode(&record.payload).map_err(|what| StoreError::Corrupt {
        stream: HOUSE_STREAM,
        seq: record.seq,
        what,
    })
}

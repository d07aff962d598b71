//! Bringing runs back from their logs.

use super::opening::crew;
use super::{Room, Rooms};
use crate::clock;
use crate::fault::Fault;
use crate::house::{Entry, HOUSE_STREAM};
use crate::run_task::{RunHandle, Start};
use deadship_protocol::RunState;
use deadship_run::replay::{Until, rebuild, rebuild_from};
use deadship_run::{Envelope, Recorder};
use deadship_store::{Expected, NewRecord, Rescued, StreamId};
use std::sync::Arc;
use uuid::Uuid;

/// Records in one read.
const PAGE: u32 = 2_000;

/// What came back after a start.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CameBack {
    /// Runs on hold at their last durable tick: team and time.
    pub on_hold: Vec<(String, String)>,
    /// Runs that are over.
    pub over: usize,
    /// Runs that could not be brought back: team and why.
    pub failed: Vec<(String, String)>,
}

impl Rooms {
    /// Brings back every run that is not over, on hold, several at a time. Those that cannot be brought back are named
    /// and keep nobody from the others.
    pub(crate) async fn bring_back(self: &Arc<Self>, rescued: &[Rescued]) -> CameBack {
        let mut came = CameBack::default();
        let entries = self.house.memory().runs.clone();
        let mut waiting = Vec::new();
        for (run, entry) in entries {
            let rest = at_rest(run, &entry);
            let over = entry.over.is_some();
            if let Some(rescued) = rescued.iter().find(|rescued| rescued.stream == StreamId(run)) {
                // To go on from an earlier record would make what was rescued worthless.
                let why = lost(rescued);
                let rest = RunState { failed: Some(why.clone()), ..rest };
                came.failed.push((entry.team, why));
                self.rooms_mut().insert(run, Room { handle: None, rest });
                continue;
            }
            self.rooms_mut().insert(run, Room { handle: None, rest });
            if over {
                came.over += 1;
            } else {
                waiting.push((run, entry));
            }
        }
        self.note_strangers();
        let lanes = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        let mut running = tokio::task::JoinSet::new();
        let mut waiting = waiting.into_iter();
        loop {
            while running.len() < lanes {
                let Some((run, entry)) = waiting.next() else { break };
                let rooms = Arc::clone(self);
                running.spawn_blocking(move || {
                    // A log that breaks the program shall not keep the other runs from coming back.
                    let load = std::panic::AssertUnwindSafe(|| rooms.load(run, &entry));
                    let loaded = std::panic::catch_unwind(load)
                        .unwrap_or_else(|_| Err("reading its log met a fault of the program".to_owned()));
                    (run, entry.team, loaded)
                });
            }
            let Some(done) = running.join_next().await else { break };
            let Ok((run, team, loaded)) = done else { continue };
            match loaded {
                Ok(start) => self.note_back(start, team, &mut came),
                Err(why) => {
                    if let Some(room) = self.rooms_mut().get_mut(&run) {
                        room.rest.failed = Some(why.clone());
                    }
                    came.failed.push((team, why));
                }
            }
        }
        came.on_hold.sort();
        came
    }

    fn note_back(self: &Arc<Self>, start: Start, team: String, came: &mut CameBack) {
        let ended = start.recorder.run().state.ended.is_some();
        let time = crate::convert::time(start.recorder.run().tick());
        self.launch(start);
        if ended {
            came.over += 1;
        } else {
            came.on_hold.push((team, time));
        }
    }

    /// Archives that were put into the data folder by hand can be read, too.
    fn note_strangers(&self) {
        let Ok(streams) = self.store.streams() else { return };
        let mut rooms = self.rooms_mut();
        for StreamId(run) in streams {
            if StreamId(run) == HOUSE_STREAM || rooms.contains_key(&run) {
                continue;
            }
            let last_seq = self.store.head(StreamId(run)).ok().flatten().map_or(0, |head| head.seq);
            let rest = RunState { last_seq, ended: Some("not opened here".to_owned()), ..nothing(run) };
            rooms.insert(run, Room { handle: None, rest });
        }
    }

    /// Brings one run back for reading and notes.
    pub(super) async fn wake(self: &Arc<Self>, run: Uuid) -> Result<RunHandle, Fault> {
        let entry = self.house.memory().runs.get(&run).cloned();
        let entry =
            entry.ok_or_else(|| Fault::run_failed("it was not opened here; its archive can be fetched"))?;
        let rooms = Arc::clone(self);
        let loaded = tokio::task::spawn_blocking(move || rooms.load(run, &entry)).await;
        match loaded {
            Ok(Ok(start)) => Ok(self.launch(start)),
            Ok(Err(why)) => Err(Fault::run_failed(&why)),
            Err(_) => Err(Fault::run_failed("reading its log met a fault of the program")),
        }
    }

    /// From a log to a run on hold, with everything that it brings in the store. Blocks.
    fn load(&self, run: Uuid, entry: &Entry) -> Result<Start, String> {
        let log = self.read_log(run)?;
        if log.is_empty() {
            let why = "its archive file is missing or empty; if the quarantine folder holds a copy of it, stop the \
                       server and put that back into the archive folder";
            return Err(format!("{why} as {run}.jsonl"));
        }
        let checkpoint = self.checkpoints.latest_at_or_before(StreamId(run), u64::MAX);
        let rebuilt = match &checkpoint {
            Some((_, bytes)) => rebuild_from(&log, bytes),
            None => rebuild(&log, Until::End),
        };
        let rebuilt = rebuilt.map_err(|error| error.to_string())?;
        if let Some(difference) = rebuilt.difference {
            return Err(format!("it can be read, but not gone on with: {difference}"));
        }
        let mut recorder: Recorder = rebuilt.recorder;
        let known = log.len() as u64;
        let mut new: Vec<Envelope> = rebuilt.pending;
        new.extend(recorder.hold("the server was started again", &clock::now()));
        if !new.is_empty() {
            let record =
                |envelope: &Envelope| NewRecord { event_id: envelope.event_id, payload: envelope.encode() };
            let records: Vec<NewRecord> = new.iter().map(record).collect();
            let appended = self.store.append(StreamId(run), Expected::Exact(known), &records);
            appended.map_err(|error| error.to_string())?;
        }
        let crew = crew(&recorder.run().setup, entry.crew.as_deref()).map_err(|fault| fault.text)?;
        let holder = self.house.memory().class_of(run).map_or_else(String::new, |class| class.holder.clone());
        Ok(Start { recorder, crew, team: entry.team.clone(), holder, boost: 1.0 })
    }

    fn read_log(&self, run: Uuid) -> Result<Vec<Envelope>, String> {
        let mut log: Vec<Envelope> = Vec::new();
        loop {
            let from = log.len() as u64 + 1;
            let page = self.store.read(StreamId(run), from, PAGE).map_err(|error| error.to_string())?;
            if page.is_empty() {
                return Ok(log);
            }
            for record in page {
                log.push(Envelope::decode(&record.payload).map_err(|error| error.to_string())?);
            }
        }
    }
}

/// What became of records that the archive has lost and the read copy still had, and what to do.
pub(crate) fn lost(rescued: &Rescued) -> String {
    let Rescued { stream, from, to, saved } = rescued;
    let what = match from {
        1 => format!("its archive file is missing or empty, and had {to} records"),
        _ => format!("its archive ends at record {}, and records up to {to} had been acknowledged", from - 1),
    };
    match (saved, from) {
        (Err(why), _) => {
            format!("{what}; they could not be saved: {why}; start the server again to go on without them")
        }
        (Ok(path), 1) => format!(
            "{what}: they are kept in {path}; stop the server and put that file into the archive folder as {stream}.jsonl"
        ),
        (Ok(path), _) => format!(
            "{what}: they are kept in {path}; stop the server and add that file to the end of {stream}.jsonl in the \
             archive folder, or start it once more to go on without them"
        ),
    }
}

fn at_rest(run: Uuid, entry: &Entry) -> RunState {
    let tick = entry.over.as_ref().map_or(0, |(_, tick)| *tick);
    RunState {
        team: entry.team.clone(),
        drill: entry.drill.clone(),
        tick,
        time: crate::convert::time(tick),
        ended: entry.over.as_ref().map(|(reason, _)| reason.clone()),
        ..nothing(run)
    }
}

fn nothing(run: Uuid) -> RunState {
    RunState {
        run,
        team: String::new(),
        drill: String::new(),
        last_seq: 0,
        tick: 0,
        time: crate::convert::time(0),
        speed: 1.0,
        reached_speed: None,
        hold: None,
        ended: None,
        failed: None,
    }
}

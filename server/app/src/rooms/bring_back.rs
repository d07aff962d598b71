//! Bringing runs back from their logs.

use super::{Room, Rooms};
use crate::fault::Fault;
use crate::house::{Entry, HOUSE_STREAM};
use crate::loading::{LoadError, load};
use crate::run_task::{RunHandle, Start};
use deadship_protocol::RunState;
use deadship_store::{Rescued, StreamId};
use std::sync::Arc;
use uuid::Uuid;

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
                self.rooms_mut().insert(run, Room::at_rest(rest));
                continue;
            }
            self.rooms_mut().insert(run, Room::at_rest(rest));
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
                    let loaded = std::panic::catch_unwind(load).unwrap_or_else(|_| {
                        Err(LoadError::Log("reading its log met a fault of the program".to_owned()))
                    });
                    (run, entry.team, loaded)
                });
            }
            let Some(done) = running.join_next().await else { break };
            let Ok((run, team, loaded)) = done else { continue };
            match loaded {
                Ok(start) => self.note_back(start, team, &mut came),
                Err(error) => {
                    self.note_not_back(run, &error);
                    came.failed.push((team, error.to_string()));
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

    /// What fails for want of a disk that can be written is tried again with the store.
    fn note_not_back(&self, run: Uuid, error: &LoadError) {
        let may_pass = matches!(error, LoadError::Store(error) if error.may_pass());
        if let Some(room) = self.rooms_mut().get_mut(&run) {
            room.rest.failed = Some(error.to_string());
            room.waits_for_store = may_pass;
        }
    }

    /// Brings those back that could not be for want of a disk that can be written. `false`: some still wait.
    pub(super) async fn bring_back_waiting(self: &Arc<Self>) -> bool {
        let waits = |(run, room): (&Uuid, &Room)| room.waits_for_store.then_some(*run);
        let waiting: Vec<Uuid> = self.rooms().iter().filter_map(waits).collect();
        for run in waiting {
            let _alone = self.waking.lock().await;
            let _ = self.wake(run).await;
        }
        !self.rooms().values().any(|room| room.waits_for_store)
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
            rooms.insert(run, Room::at_rest(rest));
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
            Ok(Err(error)) => {
                self.note_not_back(run, &error);
                Err(match error {
                    LoadError::Store(error) => error.into(),
                    LoadError::Log(why) => Fault::run_failed(&why),
                })
            }
            Err(_) => Err(Fault::run_failed("reading its log met a fault of the program")),
        }
    }

    /// From a log to a run on hold, with everything that it brings in the store. Blocks.
    fn load(&self, run: Uuid, entry: &Entry) -> Result<Start, LoadError> {
        let procedure = entry.crew.clone();
        let loaded =
            load(&self.sources(), run, procedure.as_deref(), u64::MAX, "the server was started again")?;
        let holder = self.house.memory().class_of(run).map_or_else(String::new, |class| class.holder.clone());
        let (recorder, crew, team) = (loaded.recorder, loaded.crew, entry.team.clone());
        Ok(Start { recorder, crew, procedure, team, holder, boost: 1.0 })
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

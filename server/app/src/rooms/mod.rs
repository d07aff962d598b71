//! All runs of this server: opening, joining, finding, bringing back, stopping.

mod bring_back;
mod classes;
mod joining;
mod opening;
mod recovery;
mod stopping;

pub(crate) use classes::Presence;
pub(crate) use joining::Guest;
pub(crate) use opening::{ClassWanted, check_name, crew};

pub(crate) use bring_back::lost;

pub use bring_back::CameBack;

use crate::fault::Fault;
use crate::house::{House, HouseRecord};
use crate::loading::Sources;
use crate::metrics::Metrics;
use crate::run_task::clients::Frame;
use crate::run_task::{RunHandle, RunTask, Start, Status};
use crate::setups::Setups;
use deadship_protocol::{DrillInfo, ErrorCode, Pulse, RunInfo, RunState};
use deadship_run::library::Library;
use deadship_store::{CheckpointCache, EventStore, Health};
use std::collections::{BTreeMap, VecDeque};
use std::net::IpAddr;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};
use std::time::{Duration, Instant};
use tokio::sync::{Notify, watch};
use uuid::Uuid;

/// Most runs that go at a time.
const MOST_LIVE: usize = 400;

/// Wrong codes, keys and tokens from one address within [`TRY_WINDOW`].
const MOST_TRIES: usize = 20;
const TRY_WINDOW: Duration = Duration::from_secs(60);

/// One run.
struct Room {
    /// The way to its task; `None`: it is over and was not asked for since the start, or cannot be brought back.
    handle: Option<RunHandle>,
    /// What was last known of it where there is no task.
    rest: RunState,
    /// It could not be brought back because nothing can be written; that may pass.
    waits_for_store: bool,
}

impl Room {
    fn at_rest(rest: RunState) -> Room {
        Room { handle: None, rest, waits_for_store: false }
    }

    /// What others can see of it.
    fn status(&self) -> Status {
        match &self.handle {
            Some(handle) => handle.status.borrow().clone(),
            None => Status { state: self.rest.clone(), pulse: Pulse::default(), people: Vec::new() },
        }
    }
}

/// All runs.
pub(crate) struct Rooms {
    pub(crate) house: House,
    pub(crate) store: Arc<dyn EventStore>,
    /// Wakes when a change of the store failed.
    trouble: Arc<Notify>,
    /// Where runs were a while ago; may be empty at any time.
    pub(crate) checkpoints: Arc<dyn CheckpointCache>,
    pub(crate) library: Library,
    /// Is a team shown ratings that are given when its run is over? `None`: as each drill says.
    team_sees_ratings: Option<bool>,
    /// What is counted.
    pub(crate) metrics: Metrics,
    setups: Arc<Setups>,
    drills: OnceLock<Vec<DrillInfo>>,
    runtime: tokio::runtime::Handle,
    rooms: RwLock<BTreeMap<Uuid, Room>>,
    tries: Mutex<BTreeMap<IpAddr, VecDeque<Instant>>>,
    /// Held while a run that is over is brought back for reading.
    waking: tokio::sync::Mutex<()>,
    stopping: watch::Sender<bool>,
    next_client: AtomicU64,
    /// The board, encoded once for all who look at it.
    board: watch::Sender<Option<Frame>>,
    /// Instructors on a link, by name: how many links.
    instructors: Mutex<BTreeMap<String, usize>>,
}

impl Rooms {
    /// Without runs yet.
    pub(crate) fn new(
        house: House,
        (store, trouble): (Arc<dyn EventStore>, Arc<Notify>),
        checkpoints: Arc<dyn CheckpointCache>,
        library: Library,
    ) -> Rooms {
        Rooms {
            house,
            store,
            trouble,
            checkpoints,
            library,
            team_sees_ratings: None,
            metrics: Metrics::default(),
            setups: Arc::default(),
            drills: OnceLock::new(),
            runtime: tokio::runtime::Handle::current(),
            rooms: RwLock::default(),
            tries: Mutex::default(),
            waking: tokio::sync::Mutex::default(),
            stopping: watch::channel(false).0,
            next_client: AtomicU64::new(1),
            board: watch::channel(None).0,
            instructors: Mutex::default(),
        }
    }

    /// Counts there from now on.
    pub(crate) fn counted_by(self, metrics: Metrics) -> Rooms {
        Rooms { metrics, ..self }
    }

    /// The same, with other rights of teams to see how they are rated.
    pub(crate) fn showing_ratings(self, team_sees_ratings: Option<bool>) -> Rooms {
        Rooms { team_sees_ratings, ..self }
    }

    /// Where runs are loaded from.
    fn sources(&self) -> Sources {
        let (store, checkpoints) = (Arc::clone(&self.store), Arc::clone(&self.checkpoints));
        Sources { store, checkpoints, setups: Arc::clone(&self.setups) }
    }

    /// A number for a new client.
    pub(crate) fn new_client(&self) -> u64 {
        self.next_client.fetch_add(1, Ordering::Relaxed)
    }

    fn rooms(&self) -> RwLockReadGuard<'_, BTreeMap<Uuid, Room>> {
        self.rooms.read().unwrap_or_else(PoisonError::into_inner)
    }

    fn rooms_mut(&self) -> RwLockWriteGuard<'_, BTreeMap<Uuid, Room>> {
        self.rooms.write().unwrap_or_else(PoisonError::into_inner)
    }

    /// True once the server stops.
    pub(crate) fn stopping(&self) -> watch::Receiver<bool> {
        self.stopping.subscribe()
    }

    /// Starts the task of a run, and looks after it: a task that breaks marks its run failed and harms no other.
    fn launch(self: &Arc<Self>, start: Start) -> RunHandle {
        let run = start.recorder.run().id;
        let (task, handle, status) = RunTask::new(start, self.sources(), self.metrics.clone());
        let rest = handle.status.borrow().state.clone();
        self.rooms_mut().insert(run, Room { handle: Some(handle.clone()), ..Room::at_rest(rest) });
        let running = self.runtime.spawn(task.go());
        let rooms = Arc::downgrade(self);
        self.runtime.spawn(async move {
            if let Err(error) = running.await
                && error.is_panic()
            {
                mark_failed(&status);
                tracing::error!(%run, "a run is on hold: its task broke by a fault of the program; the others go on");
                if let Some(rooms) = rooms.upgrade()
                    && let Some(room) = rooms.rooms_mut().get_mut(&run)
                {
                    room.rest = status.borrow().state.clone();
                    room.handle = None;
                }
            }
        });
        self.note_ends(run, handle.clone());
        handle
    }

    /// Remembers the end of a run, so that it is not brought back after a restart.
    fn note_ends(self: &Arc<Self>, run: Uuid, handle: RunHandle) {
        let rooms = Arc::downgrade(self);
        let mut status = handle.status;
        self.runtime.spawn(async move {
            // The task may be gone before the run is over; then there is nothing to note.
            let over = status.wait_for(|status| status.state.ended.is_some()).await;
            let over = over.map(|over| (over.state.ended.clone().unwrap_or_default(), over.state.tick));
            let Ok((reason, tick)) = over else { return };
            let Some(rooms) = rooms.upgrade() else { return };
            let known = rooms.house.memory().runs.get(&run).is_none_or(|entry| entry.over.is_some());
            if !known {
                tracing::info!(%run, tick, reason, "a run is over");
                let record = HouseRecord::RunOver { run, reason, tick };
                let noted = tokio::task::spawn_blocking(move || rooms.house.remember(record)).await;
                if let Ok(Err(error)) = noted {
                    tracing::error!(%run, %error, "the end of a run could not be noted");
                }
            }
        });
    }

    /// The way to a run. One that is over is brought back to be read and noted on.
    pub(crate) async fn find(self: &Arc<Self>, run: Uuid) -> Result<RunHandle, Fault> {
        if let Some(handle) = self.present(run)? {
            return Ok(handle);
        }
        let _alone = self.waking.lock().await;
        match self.present(run)? {
            Some(handle) => Ok(handle),
            None => self.wake(run).await,
        }
    }

    /// The way to a run that has a task.
    fn present(&self, run: Uuid) -> Result<Option<RunHandle>, Fault> {
        if *self.stopping.borrow() {
            return Err(Fault::stopping());
        }
        let rooms = self.rooms();
        let room = rooms.get(&run).ok_or_else(|| Fault::unknown_run(run))?;
        match (&room.handle, &room.rest.failed) {
            (Some(handle), _) => Ok(Some(handle.clone())),
            (None, Some(why)) => Err(Fault::run_failed(why)),
            (None, None) => Ok(None),
        }
    }

    /// How a run is.
    pub(crate) fn state(&self, run: Uuid) -> Option<RunState> {
        let rooms = self.rooms();
        let room = rooms.get(&run)?;
        Some(
            room.handle
                .as_ref()
                .map_or_else(|| room.rest.clone(), |handle| handle.status.borrow().state.clone()),
        )
    }

    /// Shows the state of every run, with the way to those that have a task.
    pub(crate) fn each_run(&self, mut show: impl FnMut(&RunState, Option<&RunHandle>)) {
        for room in self.rooms().values() {
            match &room.handle {
                Some(handle) => show(&handle.status.borrow().state, Some(handle)),
                None => show(&room.rest, None),
            }
        }
    }

    /// All runs, those that are not over first. Codes only where they may be seen.
    pub(crate) fn list(&self, with_codes: bool) -> Vec<RunInfo> {
        let memory = self.house.memory();
        let mut runs: Vec<(usize, RunInfo)> = Vec::new();
        for (run, room) in self.rooms().iter() {
            let entry = memory.runs.get(run);
            let status = room.status();
            let info = RunInfo {
                class_id: entry.map(|entry| entry.class),
                class: memory.class_of(*run).map_or_else(String::new, |class| class.title.clone()),
                holder: memory.class_of(*run).map_or_else(String::new, |class| class.holder.clone()),
                code: entry.filter(|_| with_codes).map(|entry| entry.code.clone()),
                state: status.state,
                people: status.people,
            };
            runs.push((entry.map_or(usize::MAX, |entry| entry.order), info));
        }
        runs.sort_by_key(|(order, info)| (info.state.ended.is_some(), *order));
        runs.into_iter().map(|(_, info)| info).collect()
    }

    /// Runs that are not over.
    pub(crate) fn live(&self) -> usize {
        let rooms = self.rooms();
        let over = |room: &Room| match &room.handle {
            Some(handle) => handle.status.borrow().state.ended.is_some(),
            None => true,
        };
        rooms.values().filter(|room| !over(room)).count()
    }

    /// How the store is.
    pub(crate) fn health(&self) -> Health {
        self.store.health()
    }

    /// May this address try a secret? Counts only what [`Rooms::wrong`] was told.
    pub(crate) fn may_try(&self, from: Option<IpAddr>) -> Result<(), Fault> {
        let Some(from) = from else { return Ok(()) };
        let now = Instant::now();
        let mut tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        tries.retain(|_, times| {
            times.retain(|time| now.saturating_duration_since(*time) < TRY_WINDOW);
            !times.is_empty()
        });
        match tries.get(&from).is_some_and(|times| times.len() >= MOST_TRIES) {
            true => Err(Fault::new(
                ErrorCode::TooManyTries,
                "too many wrong codes, keys or tokens came from this address",
                "wait a minute",
            )),
            false => Ok(()),
        }
    }

    /// A wrong secret came from this address.
    pub(crate) fn wrong(&self, from: Option<IpAddr>) {
        let Some(from) = from else { return };
        let mut tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        tries.entry(from).or_default().push_back(Instant::now());
    }
}

fn mark_failed(status: &watch::Sender<Status>) {
    status.send_modify(|status| {
        status.state.failed = Some("its task broke by a fault of the program".to_owned());
        status.state.hold = Some("a fault of the program".to_owned());
        status.people.clear();
    });
}

#[cfg(test)]
mod tests;

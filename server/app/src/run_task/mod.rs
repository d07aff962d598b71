//! The task that owns a run: the single writer of its log.
//!
//! A turn takes orders, steps the ticks that are due, appends what came of it to the store, and only then shows it.
//! The task awaits the disk, never a socket: what goes to people goes through bounded queues.

pub(crate) mod clients;
mod gauges;
pub(crate) mod lines;
mod pace;
mod pulse;
mod restore;
mod screens;
mod turn;

use crate::fault::Fault;
use crate::loading::Sources;
use crate::metrics::{Meter, Metrics};
use clients::{ClientId, Clients, Outlet};
use deadship_protocol::{Pulse, RunState, ServerMessage, StationInfo};
use deadship_run::crew::Crew;
use deadship_run::setup::Setup;
use deadship_run::{Recorder, Who};
use gauges::Gauges;
use pace::Pace;
use pulse::Beat;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::{mpsc, oneshot, watch};
use uuid::Uuid;

/// Messages that may wait for a run. When it is full, lines are answered `busy` at once.
pub(crate) const RUN_QUEUE: usize = 256;

/// Messages taken in one turn.
const MOST_MESSAGES: usize = 64;

/// What a run is asked.
pub(crate) enum ToRun {
    /// Somebody comes.
    Attach(Box<Attach>),
    /// Somebody is gone.
    Detach(ClientId),
    /// The class is held by another instructor from now on.
    Handed {
        /// Who held it.
        from: String,
        /// Who holds it now.
        to: String,
    },
    /// A trainee's name was freed: whoever is here under it must go.
    Freed(String),
    /// A line of a client; the reply goes into its queue.
    Line {
        /// Who sent it.
        client: ClientId,
        /// Its id.
        id: Uuid,
        /// The words.
        text: String,
    },
    /// A client wants to be sent how things stand, or no more.
    Screen {
        /// Which.
        client: ClientId,
        /// From now on, or no more?
        on: bool,
    },
    /// A line of somebody without a link.
    Script {
        /// Who.
        who: Who,
        /// Its id.
        id: Uuid,
        /// The words.
        text: String,
        /// For the reply.
        reply: oneshot::Sender<ServerMessage>,
    },
    /// A client has read the store up to this seq: may it be live?
    CaughtUp {
        /// Who.
        client: ClientId,
        /// The last seq that it has read.
        seq: u64,
        /// For the answer.
        reply: oneshot::Sender<bool>,
    },
    /// Go on hold, keep everything, send everybody away, end.
    Stop {
        /// For the state that was kept.
        reply: oneshot::Sender<RunState>,
    },
    /// The store takes appends again: if something could not be kept, begin anew from what is on disk.
    Restore {
        /// For what became of it.
        reply: oneshot::Sender<Restored>,
    },
    /// Break the task, to prove that others live on.
    #[cfg(test)]
    Break,
}

/// What became of a run that could not be kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Restored {
    /// All is well, now or all the time.
    Whole,
    /// The store failed again: to be tried again.
    Again,
    /// Its log gives no run: trying again would not help.
    GivenUp,
}

/// Somebody comes.
pub(crate) struct Attach {
    /// The client.
    pub(crate) client: ClientId,
    /// Who it is.
    pub(crate) who: Who,
    /// The queues to it.
    pub(crate) outlet: Outlet,
    /// Will it read the past from the store first?
    pub(crate) wants_past: bool,
    /// Station to take at once.
    pub(crate) station: Option<String>,
    /// For the answer.
    pub(crate) reply: oneshot::Sender<Result<Attached, Fault>>,
}

/// The answer to somebody who comes.
pub(crate) struct Attached {
    /// How the run is.
    pub(crate) state: RunState,
    /// Station held.
    pub(crate) station: Option<String>,
}

/// What does not change while a run goes on.
pub(crate) struct About {
    /// Team.
    pub(crate) team: String,
    /// What the team is told.
    pub(crate) brief: String,
    /// Stations.
    pub(crate) stations: Vec<StationInfo>,
    /// Ship and drill.
    pub(crate) setup: Arc<Setup>,
}

/// What others can see of a run without asking it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Status {
    /// How it is.
    pub(crate) state: RunState,
    /// What an instructor would like to know of it.
    pub(crate) pulse: Pulse,
    /// Who is on a link.
    pub(crate) people: Vec<String>,
}

/// The way to a run.
#[derive(Clone)]
pub(crate) struct RunHandle {
    /// Its queue.
    pub(crate) to: mpsc::Sender<ToRun>,
    /// How it is.
    pub(crate) status: watch::Receiver<Status>,
    /// A `state` frame, new when hold, speed, end or failure changed.
    pub(crate) notice: watch::Receiver<Option<clients::Frame>>,
    /// What does not change.
    pub(crate) about: Arc<About>,
    /// What it shows of itself besides.
    pub(crate) meter: Arc<Meter>,
}

/// What a task is made of.
pub(crate) struct Start {
    /// The run; everything in it is in the store.
    pub(crate) recorder: Recorder,
    /// Its robot crew.
    pub(crate) crew: Crew,
    /// What that works by.
    pub(crate) procedure: Option<String>,
    /// Team.
    pub(crate) team: String,
    /// The instructor who holds its class.
    pub(crate) holder: String,
    /// Multiplies the run's own speed: for demonstrations.
    pub(crate) boost: f64,
}

/// Ticks between two checkpoints that are kept: a minute of ship's time. A hundred runs that come back at once replay half
/// of it each, on the whole.
const CHECKPOINT_TICKS: u64 = 1_200;

/// The task.
pub(crate) struct RunTask {
    recorder: Recorder,
    crew: Crew,
    procedure: Option<String>,
    boost: f64,
    about: Arc<About>,
    sources: Sources,
    /// Tick from which the next checkpoint is due.
    checkpoint_at: u64,
    /// The run at its last digest on disk, unless it is kept already: tick and bytes.
    at_digest: Option<(u64, Vec<u8>)>,
    inbox: mpsc::Receiver<ToRun>,
    /// The last event on disk.
    stored_seq: u64,
    clients: Clients,
    pace: Pace,
    status: Arc<watch::Sender<Status>>,
    notice: watch::Sender<Option<clients::Frame>>,
    /// Why nothing more can be kept. The run is further than its log then.
    broken: Option<Fault>,
    /// How it was when all of it was on disk last.
    kept_state: RunState,
    /// Readings that are watched.
    gauges: Gauges,
    /// How things stand, as it was shown.
    screens: screens::Screens,
    /// The instructor whose orders it takes.
    holder: String,
    /// What an instructor would like to know of it.
    beat: Beat,
    /// When others were last told how it is.
    status_at: Instant,
    /// Counts lines.
    metrics: Metrics,
    meter: Arc<Meter>,
}

impl RunTask {
    /// A task and the way to it.
    pub(crate) fn new(
        start: Start,
        sources: Sources,
        metrics: Metrics,
    ) -> (RunTask, RunHandle, Arc<watch::Sender<Status>>) {
        let Start { recorder, crew, procedure, team, holder, boost } = start;
        let run = recorder.run();
        let stored_seq = run.last_seq;
        let checkpoint_at = run.tick() + CHECKPOINT_TICKS;
        let drill = &run.setup.drill;
        let (brief, stations) = (drill.full_brief(), crate::convert::stations(drill));
        let state = crate::convert::run_state(run, &team, stored_seq);
        let setup = Arc::clone(&run.setup);
        let about = Arc::new(About { team, brief, stations, setup });
        let (to, inbox) = mpsc::channel(RUN_QUEUE);
        let (status_to, status) =
            watch::channel(Status { state: state.clone(), pulse: Pulse::default(), people: Vec::new() });
        let (notice_to, notice) = watch::channel(None);
        let status_to = Arc::new(status_to);
        let meter = Arc::new(Meter::default());
        let now = Instant::now();
        let task = RunTask {
            recorder,
            crew,
            procedure,
            boost,
            about: Arc::clone(&about),
            sources,
            checkpoint_at,
            at_digest: None,
            inbox,
            stored_seq,
            clients: Clients::default(),
            pace: Pace::new(now),
            status: Arc::clone(&status_to),
            notice: notice_to,
            broken: None,
            kept_state: state,
            gauges: Gauges::default(),
            screens: screens::Screens::default(),
            holder,
            beat: Beat::default(),
            status_at: now,
            metrics,
            meter: Arc::clone(&meter),
        };
        (task, RunHandle { to, status, notice, about, meter }, status_to)
    }

    /// Runs until it is told to stop, or nobody knows it any more.
    pub(crate) async fn go(mut self) {
        loop {
            self.set_pace();
            let Some(messages) = self.wait().await else { return };
            if !self.turn(messages).await {
                return;
            }
            // Others wait for this thread, too.
            tokio::task::yield_now().await;
        }
    }

    fn set_pace(&mut self) {
        let run = self.recorder.run();
        let goes = run.goes() && self.broken.is_none();
        let speed = if goes { run.state.speed * self.boost } else { 0.0 };
        self.pace.set(speed, Instant::now());
    }

    /// Waits for messages or for the next tick. `None`: nobody can ask anything any more.
    async fn wait(&mut self) -> Option<Vec<ToRun>> {
        let lag_check = self.clients.any_lagging().then_some(Duration::from_secs(1));
        let wait = [self.pace.wait(), lag_check].into_iter().flatten().min();
        let first = match wait {
            None => Some(self.inbox.recv().await?),
            Some(wait) => {
                tokio::select! {
                    biased;
                    message = self.inbox.recv() => Some(message?),
                    () = tokio::time::sleep(wait) => None,
                }
            }
        };
        let mut messages: Vec<ToRun> = first.into_iter().collect();
        while !messages.is_empty() && messages.len() < MOST_MESSAGES {
            match self.inbox.try_recv() {
                Ok(message) => messages.push(message),
                Err(_) => break,
            }
        }
        Some(messages)
    }
}

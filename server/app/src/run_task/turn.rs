//! One turn: take, step, keep, show.

use super::clients::ClientId;
use super::{Attach, Attached, CHECKPOINT_TICKS, Restored, RunTask, Status, ToRun};
use crate::fault::Fault;
use crate::{clock, convert};
use deadship_protocol::{ByeCode, ErrorCode, RunState, ServerMessage};
use deadship_run::{Command, Envelope, Role, Who};
use deadship_store::{Expected, NewRecord, StoreError, StreamId};
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::oneshot;
use uuid::Uuid;

/// Shortest time between two looks of others at how a run is, unless something changed that they must know at once.
const STATUS_EVERY: Duration = Duration::from_millis(200);

/// Longest time that a run may step before others have their turn. A run that needs more is slow, and says so.
const TURN_BUDGET: Duration = Duration::from_millis(4);

/// Where a reply goes.
pub(super) enum ReplyTo {
    /// Into a client's queue.
    Client(ClientId),
    /// To somebody who waits for it.
    Once(oneshot::Sender<ServerMessage>),
}

/// What a turn has brought so far. Nothing of it is shown before it is kept.
#[derive(Default)]
pub(super) struct Turn {
    pub(super) envelopes: Vec<Envelope>,
    pub(super) replies: Vec<(ReplyTo, Uuid, ServerMessage)>,
    attached: Vec<(oneshot::Sender<Result<Attached, Fault>>, Who)>,
    caught_up: Vec<(ClientId, u64, oneshot::Sender<bool>)>,
    stop: Option<oneshot::Sender<RunState>>,
    restore: Option<oneshot::Sender<Restored>>,
    /// The run as it was at the last digest of this turn: tick and bytes.
    at_digest: Option<(u64, Vec<u8>)>,
}

impl RunTask {
    /// One turn. `false`: it was the last.
    pub(super) async fn turn(&mut self, messages: Vec<ToRun>) -> bool {
        let mut turn = Turn::default();
        let asked = !messages.is_empty();
        for message in messages {
            self.take(message, &mut turn);
        }
        if turn.stop.is_some() && self.broken.is_none() {
            turn.envelopes.extend(self.recorder.hold("the server was stopped", &clock::now()));
        }
        self.step(&mut turn);
        let kept = self.keep(&turn.envelopes).await;
        if kept.is_ok() {
            self.keep_checkpoint(&mut turn).await;
        }
        let restore = turn.restore.take();
        let goes_on = self.show(turn, kept, asked);
        if let Some(reply) = restore {
            let _ = reply.send(self.restore().await);
        }
        goes_on
    }

    fn take(&mut self, message: ToRun, turn: &mut Turn) {
        match message {
            ToRun::Attach(attach) => self.attach(*attach, turn),
            ToRun::Detach(client) => self.clients.remove(client),
            ToRun::Handed { from, to } => self.handed(&from, to, turn),
            ToRun::Freed(name) => self.clients.freed(&name),
            ToRun::Line { client, id, text } => {
                if let Some(who) = self.clients.get(client).map(|client| client.who.clone()) {
                    let reply = self.line(Some(client), &who, id, &text, turn);
                    self.metrics.line(&reply);
                    turn.replies.push((ReplyTo::Client(client), id, reply));
                }
            }
            ToRun::Screen { client, on } => self.screen(client, on),
            ToRun::Script { who, id, text, reply } => {
                let message = self.line(None, &who, id, &text, turn);
                self.metrics.line(&message);
                turn.replies.push((ReplyTo::Once(reply), id, message));
            }
            ToRun::CaughtUp { client, seq, reply } => turn.caught_up.push((client, seq, reply)),
            ToRun::Stop { reply } => turn.stop = Some(reply),
            ToRun::Restore { reply } => turn.restore = Some(reply),
            #[cfg(test)]
            ToRun::Break => panic!("broken to see what becomes of the others"),
        }
    }

    fn attach(&mut self, attach: Attach, turn: &mut Turn) {
        let Attach { client, who, outlet, wants_past, station, reply } = attach;
        let known = self.recorder.run().person(&who);
        let another = known.is_some_and(|person| person.who.role() != who.role());
        if another || self.clients.is_name_taken(&who) {
            let text = "somebody in another role has this name in the run";
            let _ = reply.send(Err(Fault::new(ErrorCode::NameTaken, text, "choose another name")));
            return;
        }
        let seated = known.is_some_and(|person| person.station.is_some());
        self.clients.add(client, who.clone(), outlet, wants_past);
        if let Some(station) = station.filter(|_| !seated && self.broken.is_none()) {
            let outcome = self.recorder.command(&Command::TakeStation { station }, &who, None, &clock::now());
            turn.envelopes.extend(outcome.envelopes);
            if let Some(refusal) = outcome.refusal {
                let id = Uuid::new_v4();
                let refused = ServerMessage::Refused { id, reasons: convert::reasons(&refusal) };
                turn.replies.push((ReplyTo::Client(client), id, refused));
            }
        }
        turn.attached.push((reply, who));
    }

    /// Another instructor holds the class now; the debrief wants to know.
    fn handed(&mut self, from: &str, to: String, turn: &mut Turn) {
        let note = Command::Note { text: format!("the class was handed from {from} to {to}") };
        let who = Who::person(from, Role::Instructor);
        if self.broken.is_none() {
            turn.envelopes.extend(self.recorder.command(&note, &who, None, &clock::now()).envelopes);
        }
        self.holder = to;
    }

    /// Steps the ticks that are due.
    fn step(&mut self, turn: &mut Turn) {
        let due = self.pace.due(Instant::now());
        if due == 0 || self.broken.is_some() {
            return;
        }
        let (at, began) = (clock::now(), Instant::now());
        for done in 0..due {
            if !self.recorder.run().goes() {
                return;
            }
            if began.elapsed() > TURN_BUDGET {
                self.pace.not_done(due - done);
                return;
            }
            turn.envelopes.extend(self.crew.act(&mut self.recorder, &at));
            turn.envelopes.extend(self.recorder.tick(&at));
            self.note_digest(turn);
        }
    }

    /// Notes how the run is when the last event is a digest, so that it can be proved.
    fn note_digest(&self, turn: &mut Turn) {
        if let Some(bytes) = turn.envelopes.last().and_then(|last| self.recorder.checkpoint(last)) {
            turn.at_digest = Some((self.recorder.run().tick(), bytes));
        }
    }

    /// Keeps a checkpoint, once its events are on disk: every minute, and where the run stops for a while. The one before
    /// is no longer needed.
    async fn keep_checkpoint(&mut self, turn: &mut Turn) {
        if turn.at_digest.is_some() {
            self.at_digest = turn.at_digest.take();
        }
        let due =
            |tick: &u64| *tick >= self.checkpoint_at || turn.stop.is_some() || !self.recorder.run().goes();
        let Some((tick, bytes)) = self.at_digest.take_if(|(tick, _)| due(tick)) else { return };
        self.checkpoint_at = tick + CHECKPOINT_TICKS;
        let (checkpoints, stream) = (Arc::clone(&self.sources.checkpoints), StreamId(self.recorder.run().id));
        let put = move || {
            checkpoints.put(stream, tick, &bytes);
            checkpoints.forget_before(stream, tick);
        };
        // A cache that fails is an empty cache: the run is replayed from its log then.
        let _ = tokio::task::spawn_blocking(put).await;
    }

    /// Appends; returns when it is on disk. What cannot be kept breaks the run: it is further than its log then.
    async fn keep(&mut self, envelopes: &[Envelope]) -> Result<(), Fault> {
        if let Some(fault) = &self.broken {
            return Err(fault.clone());
        }
        let Some(last) = envelopes.last() else { return Ok(()) };
        let record =
            |envelope: &Envelope| NewRecord { event_id: envelope.event_id, payload: envelope.encode() };
        let records: Vec<NewRecord> = envelopes.iter().map(record).collect();
        let (store, stream) = (Arc::clone(&self.sources.store), StreamId(self.recorder.run().id));
        let expected = Expected::Exact(self.stored_seq);
        let appended = tokio::task::spawn_blocking(move || store.append(stream, expected, &records)).await;
        let failure = match appended {
            Ok(Ok(_)) => {
                self.stored_seq = last.seq;
                return Ok(());
            }
            Ok(Err(error)) => error,
            Err(error) => StoreError::Poisoned { reason: error.to_string() },
        };
        let fault = Fault::from(failure);
        tracing::error!(run = %stream, team = self.about.team, %fault, "a run is on hold: nothing can be kept");
        self.broken = Some(fault.clone());
        Err(fault)
    }

    /// Shows what is kept, or says that it could not be.
    fn show(&mut self, turn: Turn, kept: Result<(), Fault>, asked: bool) -> bool {
        let now = Instant::now();
        let run = self.recorder.run();
        let near = |who: &Who, component: &str| {
            let at = run.person(who).and_then(|person| person.stands_at(run.tick()));
            convert::is_near(&run.setup, at, component)
        };
        if kept.is_ok() {
            for envelope in &turn.envelopes {
                self.beat.follow(envelope);
                let message = convert::event(envelope);
                let is_read = |procedure: &str| convert::team_reads(&run.setup, procedure);
                let audience = convert::audience(envelope, is_read);
                self.clients.publish(envelope.seq, audience, &message, &near, now);
            }
        }
        for (to, id, message) in turn.replies {
            let message = match &kept {
                Ok(()) => message,
                Err(fault) => fault.message(Some(id)),
            };
            match to {
                ReplyTo::Once(reply) => drop(reply.send(message)),
                ReplyTo::Client(client) => {
                    if let Some(client) = self.clients.get(client) {
                        client.reply(&message);
                    }
                }
            }
        }
        for (client, seq, reply) in turn.caught_up {
            let _ = reply.send(self.clients.caught_up(client, seq, self.stored_seq, &near));
        }
        let state = self.state();
        for (reply, who) in turn.attached {
            let station = self.recorder.run().person(&who).and_then(|person| person.station.clone());
            let _ = reply.send(Ok(Attached { state: state.clone(), station }));
        }
        self.clients.check_lags(now);
        self.show_state(state.clone(), asked, now);
        // What is not on disk is not shown.
        if self.clients.any_watching() && self.broken.is_none() {
            self.gauges.show(self.recorder.run(), self.clients.iter_mut(), now);
        }
        // Nothing stands differently unless something happened, or somebody has only just asked.
        if (asked || !turn.envelopes.is_empty()) && self.broken.is_none() {
            self.screens.show(self.recorder.run(), self.clients.iter_mut());
        }
        let Some(stop) = turn.stop else { return true };
        for client in self.clients.iter_mut() {
            client.leave(ByeCode::Stopping, "the server is stopping; the run is kept");
        }
        let _ = stop.send(state);
        false
    }

    /// How the run is, as far as it is on disk.
    pub(super) fn state(&mut self) -> RunState {
        if let Some(fault) = &self.broken {
            let hold = "nothing can be kept; it goes back to what is on disk once the server can write again";
            let (hold, failed) = (Some(hold.to_owned()), Some(fault.to_string()));
            return RunState { hold, failed, reached_speed: None, ..self.kept_state.clone() };
        }
        let mut state = convert::run_state(self.recorder.run(), &self.about.team, self.stored_seq);
        state.reached_speed = self.pace.reached();
        self.kept_state = state.clone();
        state
    }

    /// Everyone can look at the state; a frame goes out when more of it changed than the time.
    pub(super) fn show_state(&mut self, state: RunState, asked: bool, now: Instant) {
        let changed = {
            let last = &self.status.borrow().state;
            last.hold != state.hold
                || last.speed != state.speed
                || last.reached_speed != state.reached_speed
                || last.ended != state.ended
                || last.failed != state.failed
        };
        // Time alone is not worth telling at every tick.
        if !changed && !asked && now.saturating_duration_since(self.status_at) < STATUS_EVERY {
            return;
        }
        self.status_at = now;
        self.meter.note(self.pace.behind_s(), self.clients.waiting());
        let run = self.recorder.run();
        let people = self.clients.people().map(|who| convert::who(&run.known(who))).collect();
        let pulse = self.beat.pulse(run);
        self.status.send_replace(Status { state: state.clone(), pulse, people });
        if changed {
            // Whoever watches shall not be left with readings from before a hold.
            self.gauges.hurry();
            self.notice.send_replace(Some(ServerMessage::State(state).encode().into()));
        }
    }
}

//! Coming in, following a run, catching up.

use super::seat::Seat;
use super::{End, HELLO_PATIENCE, Link, bye};
use crate::convert::{self, Standing};
use crate::fault::Fault;
use crate::rooms::Guest;
use crate::run_task::clients::{ClientId, queues};
use crate::run_task::{About, Attach, Attached, ToRun};
use actix_ws::AggregatedMessage;
use deadship_protocol::{
    ByeCode, ClientMessage, ErrorCode, ServerMessage, VERSION, WelcomeMessage, decode_client,
};
use deadship_run::setup::Setup;
use deadship_run::{Envelope, Who};
use deadship_store::{Record, StreamId};
use futures_util::StreamExt as _;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::time::Instant;
use tokio::sync::oneshot;
use uuid::Uuid;

/// Records in one read while catching up.
const PAGE: u32 = 500;

impl Link {
    /// The first message must say who this is.
    pub(super) async fn hello(&mut self) -> ControlFlow<End> {
        let text = loop {
            match tokio::time::timeout(HELLO_PATIENCE, self.stream.next()).await {
                Err(_) => return bye(ByeCode::Idle, "no hello came within 10 seconds"),
                Ok(None) => return ControlFlow::Break(None),
                Ok(Some(Err(error))) => return self.broken(&error).await,
                Ok(Some(Ok(AggregatedMessage::Text(text)))) => break text,
                Ok(Some(Ok(AggregatedMessage::Close(_)))) => return ControlFlow::Break(None),
                Ok(Some(Ok(AggregatedMessage::Binary(_)))) => {
                    let text = "frames are text, this one is binary";
                    return self.refuse(Fault::new(ErrorCode::BadFrame, text, "send JSON as text")).await;
                }
                Ok(Some(Ok(_))) => {}
            }
        };
        self.heard = Instant::now();
        let (identity, run, last_seq) = match decode_client(&text) {
            Ok(ClientMessage::Hello { version, .. }) if version != VERSION => {
                let text =
                    format!("the client speaks version {version} of the protocol, this server {VERSION}");
                let remedy = "use the client that came with this server";
                return self.refuse(Fault::new(ErrorCode::WrongVersion, text, remedy)).await;
            }
            Ok(ClientMessage::Hello { identity, run, last_seq, .. }) => (identity, run, last_seq),
            Ok(_) => {
                let text = "the first message must be `hello`";
                return self.refuse(Fault::new(ErrorCode::HelloFirst, text, "say who you are first")).await;
            }
            Err(bad) => {
                let fault = Fault::new(bad.code(), bad.to_string(), "see the protocol's documentation");
                return self.refuse(fault).await;
            }
        };
        let guest = match self.rooms.admit(identity, self.from).await {
            Ok(guest) => guest,
            Err(fault) => {
                self.rooms.metrics.not_let_in.inc();
                let (client, from) = (self.number, self.from.map(tracing::field::display));
                tracing::warn!(client, from, code = fault.code.word(), "a client was not let in");
                return self.refuse(fault).await;
            }
        };
        self.welcome(guest, run, last_seq).await
    }

    async fn refuse(&mut self, fault: Fault) -> ControlFlow<End> {
        self.error(&fault, None).await?;
        bye(ByeCode::Refused, fault.text)
    }

    async fn welcome(&mut self, guest: Guest, run: Option<Uuid>, last_seq: Option<u64>) -> ControlFlow<End> {
        let Guest { who, run: own, station, token, new_seat } = guest;
        self.seat = Some(Seat::new(who.clone(), &self.rooms));
        let mut about = None;
        let mut attached = None;
        if let Some(run) = own.or(run) {
            match self.attach(run, last_seq.is_some(), station).await {
                Ok((of, answer)) => (about, attached) = (Some(of), Some(answer)),
                Err(fault) => {
                    // Whoever cannot come in must not keep the name from others, least of all from the staff.
                    if new_seat {
                        let _ = self.rooms.free(run, &who.key().unwrap_or_default()).await;
                    }
                    return self.refuse(fault).await;
                }
            }
        }
        let (name, role) = (who.key().unwrap_or_default(), who.role());
        let (run_state, station) =
            attached.map_or((None, None), |Attached { state, station }| (Some(state), station));
        let message = WelcomeMessage {
            version: VERSION,
            server: env!("CARGO_PKG_VERSION").to_owned(),
            role: convert::role(role),
            name,
            station,
            token,
            run: run_state,
            stations: about.as_ref().map_or_else(Vec::new, |about| about.stations.clone()),
            brief: about.as_ref().map_or_else(String::new, |about| about.brief.clone()),
        };
        let follows = message.run.is_some();
        let (client, from) = (self.number, self.from.map(tracing::field::display));
        let run = message.run.as_ref().map(|state| tracing::field::display(state.run));
        let (name, station) = (&message.name, &message.station);
        tracing::info!(client, run, role = role.word(), name, station, from, "a client has come in");
        self.send(&ServerMessage::Welcome(Box::new(message))).await?;
        match last_seq {
            Some(last_seq) if follows => self.refill(last_seq.saturating_add(1), false).await,
            _ => ControlFlow::Continue(()),
        }
    }

    /// Follows a run.
    pub(super) async fn attach(
        &mut self,
        run: Uuid,
        wants_past: bool,
        station: Option<String>,
    ) -> Result<(Arc<About>, Attached), Fault> {
        let Some(seat) = &mut self.seat else { return Err(Fault::unknown_run(run)) };
        if seat.is_staff() && self.rooms.is_seat(run, &seat.who) {
            let text = "somebody of the team has this name";
            return Err(Fault::new(ErrorCode::NameTaken, text, "come in under another name"));
        }
        let mut handle = self.rooms.find(run).await?;
        let (outlet, inlet) = queues();
        let client = ClientId(self.rooms.new_client());
        let (reply, answer) = oneshot::channel();
        let attach = Attach { client, who: seat.who.clone(), outlet, wants_past, station, reply };
        let gone = || Fault::run_failed("its task ended");
        handle.to.send(ToRun::Attach(Box::new(attach))).await.map_err(|_| gone())?;
        let attached = answer.await.map_err(|_| gone())??;
        // What the answer says already need not be said again.
        handle.notice.mark_unchanged();
        let about = Arc::clone(&handle.about);
        seat.follow(run, client, handle, inlet);
        Ok((about, attached))
    }

    /// Sends from the store what was missed, from this seq on, and then asks to be live.
    pub(super) async fn refill(&mut self, from_seq: u64, lagged: bool) -> ControlFlow<End> {
        let Some(following) = self.seat.as_ref().and_then(Seat::following) else {
            return ControlFlow::Continue(());
        };
        let (run, client, to) = (following.run, following.client, following.handle.to.clone());
        let setup = Arc::clone(&following.handle.about.setup);
        if lagged {
            self.send(&ServerMessage::Lagging { run, from_seq }).await?;
        }
        // Where a trainee stood decides what they were told: that is in the log from its beginning.
        let mut standing = Standing::default();
        let mut next = if self.seat.as_ref().is_some_and(Seat::is_staff) { from_seq.max(1) } else { 1 };
        loop {
            let page = match self.read(run, next).await {
                Ok(page) => page,
                Err(fault) => {
                    self.error(&fault, None).await?;
                    return bye(ByeCode::RunGone, "the events could not be read");
                }
            };
            let full = page.len() == PAGE as usize;
            for record in page {
                next = record.seq + 1;
                let Some(envelope) = self.followed(&record, &setup, &mut standing) else { continue };
                if record.seq >= from_seq {
                    self.send(&convert::event(&envelope)).await?;
                }
            }
            if full {
                continue;
            }
            let (reply, live) = oneshot::channel();
            let asked = to.send(ToRun::CaughtUp { client, seq: next - 1, reply }).await;
            match (asked, live.await) {
                (Ok(()), Ok(true)) => break,
                (Ok(()), Ok(false)) => {}
                _ => return self.run_gone().await,
            }
        }
        if lagged && let Some(state) = self.rooms.state(run) {
            self.send(&ServerMessage::State(state)).await?;
        }
        ControlFlow::Continue(())
    }

    async fn read(&self, run: Uuid, from: u64) -> Result<Vec<Record>, Fault> {
        let store = Arc::clone(&self.rooms.store);
        let read = tokio::task::spawn_blocking(move || store.read(StreamId(run), from, PAGE)).await;
        read.map_err(|_| Fault::stopping())?.map_err(Fault::from)
    }

    /// The event of a record, if this person was told of it.
    fn followed(&self, record: &Record, setup: &Setup, standing: &mut Standing) -> Option<Envelope> {
        let who: &Who = &self.seat.as_ref()?.who;
        let envelope = Envelope::decode(&record.payload).ok()?;
        standing.follow(setup, who, &envelope);
        let near = |component: &str| convert::is_near(setup, standing.at(envelope.tick), component);
        let is_read = |procedure: &str| convert::team_reads(setup, procedure);
        convert::audience(&envelope, is_read).has(who, near).then_some(envelope)
    }
}

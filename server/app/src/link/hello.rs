//! Coming in, choosing a run, catching up, asking.

use super::seat::Seat;
use super::{End, HELLO_PATIENCE, Link, bye};
use crate::convert::{self, Standing};
use crate::fault::Fault;
use crate::rooms::{ClassWanted, Guest};
use crate::run_task::clients::{ClientId, queues};
use crate::run_task::{About, Attach, Attached, ToRun};
use actix_ws::AggregatedMessage;
use deadship_protocol::{
    ByeCode, ClientMessage, ErrorCode, LONGEST_LINE, ServerMessage, VERSION, WelcomeMessage, decode_client,
};
use deadship_run::setup::Setup;
use deadship_run::{Envelope, Role, Who};
use deadship_store::{Record, StreamId};
use futures_util::StreamExt as _;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::time::Instant;
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::oneshot;
use uuid::Uuid;

/// Records in one read while catching up.
const PAGE: u32 = 500;

/// Bytes of an archive in one frame, about.
const ARCHIVE_PART: usize = 64 * 1024;

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
            Err(fault) => return self.refuse(fault).await,
        };
        self.welcome(guest, run, last_seq).await
    }

    async fn refuse(&mut self, fault: Fault) -> ControlFlow<End> {
        self.error(&fault, None).await?;
        bye(ByeCode::Refused, fault.text)
    }

    async fn welcome(&mut self, guest: Guest, run: Option<Uuid>, last_seq: Option<u64>) -> ControlFlow<End> {
        let Guest { who, run: own, station, token, new_seat } = guest;
        self.seat = Some(Seat::new(who.clone()));
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
        self.send(&ServerMessage::Welcome(Box::new(message))).await?;
        match last_seq {
            Some(last_seq) if follows => self.refill(last_seq.saturating_add(1), false).await,
            _ => ControlFlow::Continue(()),
        }
    }

    /// Follows a run.
    async fn attach(
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
        convert::audience(&envelope).has(who, near).then_some(envelope)
    }

    /// A line: to the run, or one of the few that are about seats.
    pub(super) async fn line(&mut self, id: Uuid, text: String) -> ControlFlow<End> {
        if !self.limit.take(Instant::now()) {
            let fault = Fault::new(ErrorCode::TooFast, "these lines come too fast", "wait a second");
            return self.error(&fault, Some(id)).await;
        }
        let length = text.chars().count();
        if length > LONGEST_LINE || text.trim().is_empty() {
            let text = format!("a line has 1 to {LONGEST_LINE} characters");
            return self.error(&Fault::new(ErrorCode::LineLength, text, "say it shorter"), Some(id)).await;
        }
        let Some(seat) = &mut self.seat else { return ControlFlow::Continue(()) };
        let Some(following) = seat.following() else {
            let fault = Fault::new(ErrorCode::NoRun, "no run was chosen yet", "choose one with `use`");
            return self.error(&fault, Some(id)).await;
        };
        if let Some(name) = text.trim().strip_prefix("free ").map(str::trim) {
            let (run, name) = (following.run, name.to_owned());
            return self.free(id, run, &name).await;
        }
        let (to, client) = (following.handle.to.clone(), following.client);
        if !seat.open_line() {
            return self.send(&ServerMessage::Busy { id }).await;
        }
        match to.try_send(ToRun::Line { client, id, text }) {
            Ok(()) => ControlFlow::Continue(()),
            Err(TrySendError::Full(_)) => {
                seat.close_line();
                self.send(&ServerMessage::Busy { id }).await
            }
            Err(TrySendError::Closed(_)) => self.run_gone().await,
        }
    }

    async fn free(&mut self, id: Uuid, run: Uuid, name: &str) -> ControlFlow<End> {
        if self.seat.as_ref().is_none_or(|seat| seat.who.role() != Role::Instructor) {
            return self.error(&Fault::not_your_role("the instructor"), Some(id)).await;
        }
        let message = match self.rooms.free(run, name).await {
            Ok(true) => {
                ServerMessage::Answer { id, lines: vec![format!("{name} can join again with the code")] }
            }
            Ok(false) => {
                let reason = deadship_protocol::Reason {
                    code: "unknown-name".to_owned(),
                    text: format!("nobody called {name} has joined this run"),
                };
                ServerMessage::Refused { id, reasons: vec![reason] }
            }
            Err(fault) => fault.message(Some(id)),
        };
        self.send(&message).await
    }

    /// Requests that are not lines.
    pub(super) async fn request(&mut self, message: ClientMessage) -> ControlFlow<End> {
        let Some(who) = self.seat.as_ref().map(|seat| seat.who.clone()) else {
            return ControlFlow::Continue(());
        };
        let (instructor, staff) = (who.role() == Role::Instructor, convert::is_staff(who.role()));
        match message {
            ClientMessage::Drills {} => self.drills().await,
            ClientMessage::Runs {} => {
                let mut runs = self.rooms.list(instructor);
                let own = self.seat.as_ref().and_then(Seat::run);
                runs.retain(|info| staff || Some(info.state.run) == own);
                self.send(&ServerMessage::Runs { runs }).await
            }
            ClientMessage::Open { id, drill, teams, title, seed, hold, crew } if instructor => {
                let by = who.key().unwrap_or_default();
                let wanted = ClassWanted { by, drill, teams, title, seed, hold, crew, boost: 1.0 };
                match self.rooms.open_class(wanted).await {
                    Ok(opened) => {
                        let (title, runs) = (opened.title, opened.runs);
                        self.send(&ServerMessage::Opened { id, title, runs }).await
                    }
                    Err(fault) => self.error(&fault, Some(id)).await,
                }
            }
            ClientMessage::Use { run, last_seq } if staff => self.use_run(run, last_seq).await,
            ClientMessage::Archive { run } if staff => self.archive(run).await,
            ClientMessage::Open { id, .. } => {
                self.error(&Fault::not_your_role("the instructor"), Some(id)).await
            }
            _ => self.error(&Fault::not_your_role("the instructor or the facilitator"), None).await,
        }
    }

    async fn use_run(&mut self, run: Uuid, last_seq: Option<u64>) -> ControlFlow<End> {
        match self.attach(run, last_seq.is_some(), None).await {
            Ok((_, attached)) => {
                self.send(&ServerMessage::State(attached.state)).await?;
                match last_seq {
                    Some(last_seq) => self.refill(last_seq.saturating_add(1), false).await,
                    None => ControlFlow::Continue(()),
                }
            }
            Err(fault) => self.error(&fault, None).await,
        }
    }

    async fn drills(&mut self) -> ControlFlow<End> {
        let rooms = Arc::clone(&self.rooms);
        match tokio::task::spawn_blocking(move || rooms.drills().to_vec()).await {
            Ok(drills) => self.send(&ServerMessage::Drills { drills }).await,
            Err(_) => {
                let text = "the drills could not be read by a fault of the program";
                self.error(&Fault::new(ErrorCode::RunFailed, text, "see the server's log"), None).await
            }
        }
    }

    async fn archive(&mut self, run: Uuid) -> ControlFlow<End> {
        let store = Arc::clone(&self.rooms.store);
        let text = tokio::task::spawn_blocking(move || crate::archive::text(&*store, run)).await;
        let text = match text.map_err(|_| Fault::stopping()).and_then(|text| text) {
            Ok(text) => text,
            Err(fault) => return self.error(&fault, None).await,
        };
        let mut rest = text.as_str();
        loop {
            // Parts are whole lines.
            let about = ARCHIVE_PART.min(rest.len());
            let line_end = rest.as_bytes()[about..].iter().position(|byte| *byte == b'\n');
            let (part, left) = rest.split_at(line_end.map_or(rest.len(), |at| about + at + 1));
            let (text, last) = (part.to_owned(), left.is_empty());
            self.send(&ServerMessage::Archive { run, text, last }).await?;
            if last {
                return ControlFlow::Continue(());
            }
            rest = left;
        }
    }
}

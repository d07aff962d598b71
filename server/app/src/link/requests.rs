//! What is asked on a link: lines, lists, other runs.

use super::seat::Seat;
use super::{End, Link};
use crate::convert;
use crate::fault::Fault;
use crate::rooms::ClassWanted;
use crate::run_task::ToRun;
use deadship_protocol::{ClientMessage, ErrorCode, ServerMessage};
use deadship_run::Role;
use deadship_run::view::Chart;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::time::Instant;
use tokio::sync::mpsc::error::TrySendError;
use uuid::Uuid;

/// Bytes of an archive in one frame, about.
const ARCHIVE_PART: usize = 64 * 1024;

fn no_run() -> Fault {
    Fault::new(ErrorCode::NoRun, "no run was chosen yet", "choose one with `use`")
}

impl Link {
    /// A line: to the run, or one of the few that are about seats.
    pub(super) async fn line(&mut self, id: Uuid, text: String) -> ControlFlow<End> {
        if let Err(fault) = self.check_line(&text) {
            return self.error(&fault, Some(id)).await;
        }
        let Some(seat) = &mut self.seat else { return ControlFlow::Continue(()) };
        let Some(following) = seat.following() else {
            return self.error(&no_run(), Some(id)).await;
        };
        if let Some(name) = text.trim().strip_prefix("free ").map(str::trim) {
            let (run, name) = (following.run, name.to_owned());
            return self.free(id, run, &name).await;
        }
        let (to, client) = (following.handle.to.clone(), following.client);
        if !seat.open_line() {
            return self.busy(id).await;
        }
        match to.try_send(ToRun::Line { client, id, text }) {
            Ok(()) => ControlFlow::Continue(()),
            Err(TrySendError::Full(_)) => {
                seat.close_line();
                self.busy(id).await
            }
            Err(TrySendError::Closed(_)) => self.run_gone().await,
        }
    }

    async fn busy(&mut self, id: Uuid) -> ControlFlow<End> {
        let busy = ServerMessage::Busy { id };
        self.rooms.metrics.line(&busy);
        self.send(&busy).await
    }

    /// Lines may be neither too many nor too long.
    pub(super) fn check_line(&mut self, text: &str) -> Result<(), Fault> {
        if !self.limit.take(Instant::now()) {
            return Err(Fault::new(ErrorCode::TooFast, "these lines come too fast", "wait a second"));
        }
        Fault::of_line_length(text).map_or(Ok(()), Err)
    }

    async fn free(&mut self, id: Uuid, run: Uuid, name: &str) -> ControlFlow<End> {
        if self.seat.as_ref().is_none_or(|seat| seat.who.role() != Role::Instructor) {
            return self.error(&Fault::not_your_role("the instructor"), Some(id)).await;
        }
        if let Some(holder) = self.seat.as_ref().and_then(|seat| self.rooms.held_by_another(run, &seat.who)) {
            return self.error(&Fault::not_your_class(&holder), Some(id)).await;
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
            ClientMessage::ClassLine { id, class, teams, text } if instructor => {
                self.class_line(&who, id, class, &teams, &text).await
            }
            ClientMessage::Hand { id, class, to } if instructor => self.hand(&who, id, class, &to).await,
            ClientMessage::Board { on } if staff => self.show_board(on).await,
            ClientMessage::Open { id, drill, teams, title, seed, difficulty, stress, hold, crew, from }
                if instructor =>
            {
                let by = who.key().unwrap_or_default();
                let dials = convert::dials(difficulty, stress);
                let wanted =
                    ClassWanted { by, drill, teams, title, seed, dials, hold, crew, from, boost: 1.0 };
                match self.rooms.open_class(wanted).await {
                    Ok(opened) => {
                        let (class, title, runs) = (opened.class, opened.title, opened.runs);
                        self.send(&ServerMessage::Opened { id, class, title, runs }).await
                    }
                    Err(fault) => self.error(&fault, Some(id)).await,
                }
            }
            ClientMessage::Use { run, last_seq } if staff => self.use_run(run, last_seq).await,
            ClientMessage::Chart {} => self.chart(staff).await,
            ClientMessage::Screen { on } => self.screen(on).await,
            ClientMessage::Archive { run } if staff => self.archive(run).await,
            ClientMessage::Open { id, .. }
            | ClientMessage::ClassLine { id, .. }
            | ClientMessage::Hand { id, .. } => {
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

    /// The drawing does not change, so it needs no question to the run.
    async fn chart(&mut self, all: bool) -> ControlFlow<End> {
        let Some(following) = self.seat.as_ref().and_then(Seat::following) else {
            return self.error(&no_run(), None).await;
        };
        let (run, about) = (following.run, Arc::clone(&following.handle.about));
        // Plain data with text keys always serialises.
        let chart = serde_json::to_value(Chart::new(&about.setup, all)).unwrap_or_default();
        self.send(&ServerMessage::Chart { run, chart }).await
    }

    async fn screen(&mut self, on: bool) -> ControlFlow<End> {
        let Some(following) = self.seat.as_ref().and_then(Seat::following) else {
            return self.error(&no_run(), None).await;
        };
        match following.handle.to.try_send(ToRun::Screen { client: following.client, on }) {
            Ok(()) => ControlFlow::Continue(()),
            Err(TrySendError::Full(_)) => {
                let fault = Fault::new(ErrorCode::TooFast, "the run has too much to do", "ask again");
                self.error(&fault, None).await
            }
            Err(TrySendError::Closed(_)) => self.run_gone().await,
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

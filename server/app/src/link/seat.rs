//! Who is at the other end of a link, and its queues to the run that it follows.

use crate::convert::is_staff;
use crate::metrics::Counted;
use crate::rooms::{Presence, Rooms};
use crate::run_task::clients::{ClientId, Frame, Inlet, Order, REPLY_QUEUE};
use crate::run_task::{RunHandle, ToRun};
use deadship_protocol::ByeCode;
use deadship_run::{Role, Who};
use std::sync::Arc;
use uuid::Uuid;

/// Who is at the other end.
pub(super) struct Seat {
    /// Who.
    pub(super) who: Who,
    /// Counts an instructor as here.
    _presence: Option<Presence>,
    /// Counts everybody.
    _counted: Counted,
    /// The run that they follow.
    following: Option<Following>,
}

/// A run that is followed.
pub(super) struct Following {
    pub(super) run: Uuid,
    pub(super) client: ClientId,
    pub(super) handle: RunHandle,
    inlet: Inlet,
    /// Lines that have no reply yet.
    open_lines: usize,
    /// Events from this seq on are to be read from the store, once the queue is empty.
    refill_from: Option<u64>,
}

/// What comes from the run.
pub(super) enum FromRun {
    Frame(Frame),
    Leave(ByeCode, String),
    Nothing,
    Gone,
}

impl Seat {
    pub(super) fn new(who: Who, rooms: &Arc<Rooms>) -> Seat {
        let name = who.key().filter(|_| who.role() == Role::Instructor);
        let presence = name.map(|name| rooms.present_instructor(&name));
        let counted = rooms.metrics.client(who.role());
        Seat { who, _presence: presence, _counted: counted, following: None }
    }

    pub(super) fn is_staff(&self) -> bool {
        is_staff(self.who.role())
    }

    pub(super) fn run(&self) -> Option<Uuid> {
        self.following.as_ref().map(|following| following.run)
    }

    pub(super) fn following(&self) -> Option<&Following> {
        self.following.as_ref()
    }

    /// Follows this run instead of another.
    pub(super) fn follow(&mut self, run: Uuid, client: ClientId, handle: RunHandle, inlet: Inlet) {
        self.detach();
        self.following = Some(Following { run, client, handle, inlet, open_lines: 0, refill_from: None });
    }

    /// Follows no run.
    pub(super) fn detach(&mut self) {
        if let Some(following) = self.following.take() {
            // If the run's queue is full it finds out by the closed queues.
            let _ = following.handle.to.try_send(ToRun::Detach(following.client));
        }
    }

    /// May one more line go to the run? Every line gets a reply, and the queue of replies has so much room.
    pub(super) fn open_line(&mut self) -> bool {
        match &mut self.following {
            Some(following) if following.open_lines < REPLY_QUEUE => {
                following.open_lines += 1;
                true
            }
            _ => false,
        }
    }

    /// A line that could not be given to the run.
    pub(super) fn close_line(&mut self) {
        if let Some(following) = &mut self.following {
            following.open_lines = following.open_lines.saturating_sub(1);
        }
    }

    /// What was queued before a lag has been sent: it is time to read the rest.
    pub(super) fn refill_due(&mut self) -> Option<u64> {
        let following = self.following.as_mut()?;
        if following.inlet.events.is_empty() { following.refill_from.take() } else { None }
    }

    /// The next thing to send. Can be dropped and called again without loss.
    pub(super) async fn next(&mut self) -> FromRun {
        let Some(following) = &mut self.following else { return std::future::pending().await };
        let Following { inlet, handle, open_lines, refill_from, .. } = following;
        tokio::select! {
            biased;
            changed = inlet.orders.changed() => match changed {
                Err(_) => FromRun::Gone,
                Ok(()) => match inlet.orders.borrow_and_update().clone() {
                    Order::Go => FromRun::Nothing,
                    Order::Refill(from_seq) => {
                        *refill_from = Some(from_seq);
                        FromRun::Nothing
                    }
                    Order::Leave(code, reason) => FromRun::Leave(code, reason),
                },
            },
            Some(frame) = inlet.replies.recv() => {
                *open_lines = open_lines.saturating_sub(1);
                FromRun::Frame(frame)
            }
            Some(frame) = inlet.events.recv() => FromRun::Frame(frame),
            Ok(()) = handle.notice.changed() => {
                let frame = handle.notice.borrow_and_update().clone();
                frame.map_or(FromRun::Nothing, FromRun::Frame)
            }
            Ok(()) = inlet.situation.changed() => {
                let frame = inlet.situation.borrow_and_update().clone();
                frame.map_or(FromRun::Nothing, FromRun::Frame)
            }
            // The full ones first: the others are laid over them.
            Ok(()) = inlet.gauges.changed() => {
                let frame = inlet.gauges.borrow_and_update().clone();
                frame.map_or(FromRun::Nothing, FromRun::Frame)
            }
            Ok(()) = inlet.changes.changed() => {
                let frame = inlet.changes.borrow_and_update().clone();
                frame.map_or(FromRun::Nothing, FromRun::Frame)
            }
        }
    }

    /// Resolves when the run says that the client must go.
    pub(super) async fn sent_away(&mut self) -> (ByeCode, String) {
        let Some(following) = &mut self.following else { return std::future::pending().await };
        // A look that does not mark the order as seen: `next` shall find it, too.
        let mut orders = following.inlet.orders.clone();
        let leave =
            orders.wait_for(|order| matches!(order, Order::Leave(..))).await.map(|order| order.clone());
        match leave {
            Ok(Order::Leave(code, reason)) => (code, reason),
            _ => std::future::pending().await,
        }
    }
}

//! What an instructor asks of a whole class.

use super::{End, Link};
use crate::fault::Fault;
use deadship_protocol::ServerMessage;
use deadship_run::Who;
use std::ops::ControlFlow;
use std::sync::Arc;
use uuid::Uuid;

impl Link {
    /// The same line to some or all teams.
    pub(super) async fn class_line(
        &mut self,
        who: &Who,
        id: Uuid,
        class: Uuid,
        teams: &[String],
        text: &str,
    ) -> ControlFlow<End> {
        if let Err(fault) = self.check_line(text) {
            return self.error(&fault, Some(id)).await;
        }
        let rooms = Arc::clone(&self.rooms);
        match rooms.class_line(who, id, class, teams, text).await {
            Ok(replies) => self.send(&ServerMessage::ClassAnswer { id, replies }).await,
            Err(fault) => self.error(&fault, Some(id)).await,
        }
    }

    /// Hands a class over.
    pub(super) async fn hand(&mut self, who: &Who, id: Uuid, class: Uuid, to: &str) -> ControlFlow<End> {
        let rooms = Arc::clone(&self.rooms);
        match rooms.hand(who, class, to).await {
            Ok(()) => self.send(&ServerMessage::Handed { id, class, holder: to.to_owned() }).await,
            Err(fault) => self.error(&fault, Some(id)).await,
        }
    }

    /// The board, now and as it changes; or no more.
    pub(super) async fn show_board(&mut self, on: bool) -> ControlFlow<End> {
        if !on {
            self.board = None;
            return ControlFlow::Continue(());
        }
        let mut board = self.rooms.board();
        let now = board.borrow_and_update().clone();
        self.board = Some(board);
        match now {
            Some(frame) => self.send_frame(&frame).await,
            None => self.error(&Fault::stopping(), None).await,
        }
    }
}

//! How things stand, for those who have a screen: made once for all who may know the same.

use super::RunTask;
use super::clients::{Client, ClientId, Frame};
use crate::convert::is_staff;
use deadship_protocol::ServerMessage;
use deadship_run::Run;
use deadship_run::view::Situation;

/// What was shown last: to the team, and to those who run the class.
#[derive(Default)]
pub(super) struct Screens {
    team: Option<(Situation, Frame)>,
    staff: Option<(Situation, Frame)>,
}

impl Screens {
    /// Shows each client with a screen how things stand, when that has changed.
    pub(super) fn show<'c>(&mut self, run: &Run, clients: impl Iterator<Item = &'c mut Client>) {
        let (mut team, mut staff) = (None, None);
        for client in clients.filter(|client| client.has_screen) {
            let all = is_staff(client.who.role());
            let (made, last) = if all { (&mut staff, &mut self.staff) } else { (&mut team, &mut self.team) };
            client.show_situation(made.get_or_insert_with(|| frame(run, all, last)));
        }
    }
}

/// The same frame as last time while nothing has changed: then it is not sent again.
fn frame(run: &Run, all: bool, last: &mut Option<(Situation, Frame)>) -> Frame {
    let situation = Situation::new(run, all);
    if let Some((shown, frame)) = last
        && *shown == situation
    {
        return Frame::clone(frame);
    }
    // Plain data with text keys always serialises.
    let value = serde_json::to_value(&situation).unwrap_or_default();
    let frame: Frame =
        ServerMessage::Situation { run: run.id, tick: run.tick(), situation: value }.encode().into();
    *last = Some((situation, Frame::clone(&frame)));
    frame
}

impl RunTask {
    /// A client wants to be sent how things stand, or no more.
    pub(super) fn screen(&mut self, client: ClientId, on: bool) {
        if let Some(client) = self.clients.get_mut(client) {
            client.screen(on);
        }
    }
}

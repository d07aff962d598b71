//! Classes: lines for several teams, handing over, the board.

use super::Rooms;
use super::opening::check_name;
use crate::fault::Fault;
use crate::house::{Class, HouseRecord};
use crate::run_task::clients::Frame;
use crate::run_task::{RunHandle, Status, ToRun};
use deadship_protocol::{BoardClass, BoardTeam, ErrorCode, ServerMessage, TeamReply};
use deadship_run::Who;
use std::collections::BTreeMap;
use std::sync::{Arc, PoisonError};
use std::time::Duration;
use tokio::sync::{mpsc, oneshot, watch};
use uuid::Uuid;

/// How often the board is drawn while somebody looks at it.
const BOARD_EVERY: Duration = Duration::from_secs(1);

/// An instructor's link; counted as long as it lives, so that a class whose holder is gone can be taken over.
pub(crate) struct Presence {
    rooms: Arc<Rooms>,
    name: String,
}

impl Drop for Presence {
    fn drop(&mut self) {
        let mut present = self.rooms.instructors.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(links) = present.get_mut(&self.name) {
            *links -= 1;
            if *links == 0 {
                present.remove(&self.name);
            }
        }
    }
}

impl Rooms {
    /// An instructor has come.
    pub(crate) fn present_instructor(self: &Arc<Self>, name: &str) -> Presence {
        let mut present = self.instructors.lock().unwrap_or_else(PoisonError::into_inner);
        *present.entry(name.to_owned()).or_default() += 1;
        Presence { rooms: Arc::clone(self), name: name.to_owned() }
    }

    fn class(&self, class: Uuid) -> Result<Class, Fault> {
        self.house.memory().classes.get(&class).cloned().ok_or_else(|| {
            let text = format!("there is no class {class}");
            Fault::new(ErrorCode::UnknownClass, text, "list the runs to see the classes")
        })
    }

    /// The runs of a class that are meant: those of the named teams, or all that are not over.
    fn meant(&self, class: &Class, teams: &[String]) -> Result<Vec<(Uuid, String)>, Fault> {
        let memory = self.house.memory();
        let team = |run: &Uuid| memory.runs.get(run).map_or_else(String::new, |entry| entry.team.clone());
        let all = class.runs.iter().map(|run| (*run, team(run)));
        if teams.is_empty() {
            let live = |run: Uuid| self.state(run).is_some_and(|state| state.ended.is_none());
            return Ok(all.filter(|(run, _)| live(*run)).collect());
        }
        let all: Vec<(Uuid, String)> = all.collect();
        let named = |wanted: &String| {
            all.iter().find(|(_, team)| team.eq_ignore_ascii_case(wanted)).cloned().ok_or_else(|| {
                let known: Vec<&str> = all.iter().map(|(_, team)| team.as_str()).collect();
                let text =
                    format!("no team of this class is called {wanted}; its teams: {}", known.join(", "));
                Fault::new(ErrorCode::BadRequest, text, "name teams of this class")
            })
        };
        teams.iter().map(named).collect()
    }

    /// The same line to several runs, all at once. Each does it by itself: one that refuses keeps none from it.
    pub(crate) async fn class_line(
        self: &Arc<Self>,
        who: &Who,
        id: Uuid,
        class: Uuid,
        teams: &[String],
        text: &str,
    ) -> Result<Vec<TeamReply>, Fault> {
        let meant = self.meant(&self.class(class)?, teams)?;
        let asked = meant.into_iter().map(|(run, team)| async move {
            let reply = self.script(run, who, id, text).await.unwrap_or_else(|fault| fault.message(Some(id)));
            TeamReply { run, team, reply: Box::new(reply) }
        });
        Ok(futures_util::future::join_all(asked).await)
    }

    /// One line of somebody without a link to that run, and its reply.
    pub(crate) async fn script(
        self: &Arc<Self>,
        run: Uuid,
        who: &Who,
        id: Uuid,
        text: &str,
    ) -> Result<ServerMessage, Fault> {
        let handle: RunHandle = self.find(run).await?;
        let (reply, answer) = oneshot::channel();
        match handle.to.try_send(ToRun::Script { who: who.clone(), id, text: text.to_owned(), reply }) {
            Ok(()) => {}
            Err(mpsc::error::TrySendError::Full(_)) => return Ok(ServerMessage::Busy { id }),
            Err(mpsc::error::TrySendError::Closed(_)) => return Err(Fault::run_failed("its task ended")),
        }
        answer.await.map_err(|_| Fault::run_failed("its task ended"))
    }

    /// Hands a class over. Whoever holds it may; others only when the holder is on no link.
    pub(crate) async fn hand(self: &Arc<Self>, who: &Who, class: Uuid, to: &str) -> Result<(), Fault> {
        check_name(to)?;
        let Class { holder, runs, .. } = self.class(class)?;
        let by = who.key().unwrap_or_default();
        if by != holder && self.is_present(&holder) {
            return Err(Fault::not_your_class(&holder));
        }
        let rooms = Arc::clone(self);
        let record = HouseRecord::ClassHanded { class, to: to.to_owned() };
        let unchanged = holder.clone();
        let handed = tokio::task::spawn_blocking(move || {
            rooms.house.remember_if(record, |memory| {
                memory.classes.get(&class).is_some_and(|class| class.holder == unchanged)
            })
        });
        if !handed.await.map_err(|_| Fault::stopping())?? {
            let text = "somebody else has just handed this class over";
            return Err(Fault::new(ErrorCode::NotYourClass, text, "list the runs to see who holds it"));
        }
        for run in runs {
            // A run without a task learns of it when it is brought back.
            if let Ok(Some(handle)) = self.present(run) {
                let _ = handle.to.send(ToRun::Handed { from: holder.clone(), to: to.to_owned() }).await;
            }
        }
        Ok(())
    }

    /// The instructor who holds the class of this run, if it is somebody else.
    pub(crate) fn held_by_another(&self, run: Uuid, who: &Who) -> Option<String> {
        let holder = self.house.memory().class_of(run)?.holder.clone();
        (who.key().as_ref() != Some(&holder)).then_some(holder)
    }

    fn is_present(&self, instructor: &str) -> bool {
        self.instructors.lock().unwrap_or_else(PoisonError::into_inner).contains_key(instructor)
    }

    /// The board as it is now, and as it changes.
    pub(crate) fn board(&self) -> watch::Receiver<Option<Frame>> {
        let looking = self.board.subscribe();
        self.draw_board();
        looking
    }

    /// Draws the board while somebody looks at it.
    pub(crate) fn keep_board(self: &Arc<Self>) {
        let rooms = Arc::downgrade(self);
        self.runtime.spawn(async move {
            loop {
                tokio::time::sleep(BOARD_EVERY).await;
                let Some(rooms) = rooms.upgrade() else { return };
                if rooms.board.receiver_count() > 0 {
                    rooms.draw_board();
                }
            }
        });
    }

    fn draw_board(&self) {
        let frame = ServerMessage::Board { classes: self.board_now() }.encode();
        self.board.send_if_modified(|shown| {
            let new = shown.as_deref() != Some(frame.as_str());
            if new {
                *shown = Some(frame.as_str().into());
            }
            new
        });
    }

    /// Every class that has a run which is not over.
    pub(crate) fn board_now(&self) -> Vec<BoardClass> {
        let memory = self.house.memory();
        let mut teams: BTreeMap<Uuid, BoardTeam> = BTreeMap::new();
        for (run, room) in self.rooms().iter() {
            let Status { state, pulse, people } = room.status();
            teams.insert(*run, BoardTeam { state, pulse, people });
        }
        let mut classes: Vec<(usize, BoardClass)> = Vec::new();
        for (id, class) in &memory.classes {
            let order =
                class.runs.first().and_then(|run| memory.runs.get(run)).map_or(0, |entry| entry.order);
            let teams: Vec<BoardTeam> = class.runs.iter().filter_map(|run| teams.remove(run)).collect();
            if teams.iter().any(|team| team.state.ended.is_none()) {
                let (title, holder) = (class.title.clone(), class.holder.clone());
                classes.push((order, BoardClass { class: *id, title, holder, teams }));
            }
        }
        classes.sort_by_key(|(order, _)| *order);
        classes.into_iter().map(|(_, class)| class).collect()
    }
}

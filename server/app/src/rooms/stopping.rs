//! Stopping: every run is put on hold and kept, in a time that does not grow with their number.

use super::Rooms;
use crate::run_task::{RunHandle, ToRun};
use deadship_protocol::RunState;
use std::time::Duration;
use tokio::sync::oneshot;
use tokio::task::JoinSet;

/// How long all runs together may take to keep their last turn.
const PATIENCE: Duration = Duration::from_secs(10);

impl Rooms {
    /// Puts every run on hold, keeps it, and ends its task. Gives how each was left, by team; those that are over and
    /// at rest need not be told of.
    pub(crate) async fn stop(&self) -> Vec<RunState> {
        self.stop_within(PATIENCE).await
    }

    async fn stop_within(&self, patience: Duration) -> Vec<RunState> {
        self.stopping.send_replace(true);
        let (mut asked, mut left) = (JoinSet::new(), Vec::new());
        for room in self.rooms().values() {
            match &room.handle {
                Some(handle) => drop(asked.spawn(stop_run(handle.clone(), patience))),
                None if room.rest.failed.is_some() => left.push(room.rest.clone()),
                None => {}
            }
        }
        while let Some(stopped) = asked.join_next().await {
            left.extend(stopped);
        }
        for room in self.rooms_mut().values_mut() {
            room.handle = None;
        }
        left.sort_by(|one, other| one.team.cmp(&other.team));
        left
    }
}

/// Asks one run. One that does not answer hangs on the disk: what it had acknowledged is on it already.
async fn stop_run(handle: RunHandle, patience: Duration) -> RunState {
    let (reply, answer) = oneshot::channel();
    let asked = async {
        handle.to.send(ToRun::Stop { reply }).await.ok()?;
        answer.await.ok()
    };
    if let Ok(Some(state)) = tokio::time::timeout(patience, asked).await {
        return state;
    }
    let mut state = handle.status.borrow().state.clone();
    let unanswered = || format!("it did not answer within {:.0} s", patience.as_secs_f64());
    state.failed.get_or_insert_with(unanswered);
    tracing::error!(run = %state.run, team = state.team, "a run did not stop in time");
    state
}

#[cfg(test)]
mod tests {
    use super::super::{ClassWanted, Room};
    use super::*;
    use crate::house::House;
    use crate::metrics::Metrics;
    use crate::watched_store::WatchedStore;
    use deadship_run::dials::Dials;
    use deadship_run::library::Library;
    use deadship_store::{EventStore, MemoryCheckpoints, MemoryStore, StreamId};
    use std::sync::Arc;
    use std::time::Instant;
    use uuid::Uuid;

    /// Teams of the test.
    const TEAMS: usize = 24;

    async fn class(store: &Arc<dyn EventStore>) -> Arc<Rooms> {
        let files = [
            ("ships/tender/ship.toml", include_str!("../../tests/fixtures/ship.toml")),
            ("library/tank.toml", include_str!("../../tests/fixtures/drill.toml")),
        ];
        let library = Library::default().with(files.map(|(name, text)| (name.to_owned(), text.to_owned())));
        let (store, trouble) = WatchedStore::over(Arc::clone(store), Metrics::default());
        let house = House::open(Arc::clone(&store)).unwrap();
        let checkpoints = Arc::new(MemoryCheckpoints::default());
        let rooms = Arc::new(Rooms::new(house, (store, trouble), checkpoints, library));
        let wanted = ClassWanted {
            by: "Iris".into(),
            drill: "tank".into(),
            teams: (1..=TEAMS).map(|team| format!("Team {team:02}")).collect(),
            title: None,
            seed: None,
            dials: Dials::default(),
            hold: false,
            crew: None,
            from: None,
            boost: 1.0,
        };
        rooms.open_class(wanted).await.unwrap();
        rooms
    }

    #[tokio::test(flavor = "multi_thread")]
    async fn all_runs_are_kept_and_what_is_said_of_them_is_what_is_stored() {
        let store: Arc<dyn EventStore> = Arc::new(MemoryStore::default());
        let left = class(&store).await.stop().await;
        assert_eq!(left.len(), TEAMS);
        assert!(left.is_sorted_by_key(|state| state.team.clone()));
        for state in left {
            assert_eq!(state.failed, None);
            let head = store.head(StreamId(state.run)).unwrap().unwrap();
            assert_eq!(head.seq, state.last_seq);
            let last = store.read(StreamId(state.run), head.seq, 1).unwrap().remove(0);
            assert!(last.payload.contains("the server was stopped"), "{}", last.payload);
        }
    }

    #[tokio::test(flavor = "multi_thread")]
    async fn runs_that_hang_are_named_and_cost_the_same_time_together() {
        let store: Arc<dyn EventStore> = Arc::new(MemoryStore::default());
        let rooms = class(&store).await;
        let mut nobody_reads = Vec::new();
        for number in 0..20 {
            let mut handle = rooms.rooms().values().find_map(|room| room.handle.clone()).unwrap();
            let (to, inbox) = tokio::sync::mpsc::channel(1);
            handle.to = to;
            let mut rest = handle.status.borrow().state.clone();
            rest.team = format!("Hangs {number:02}");
            handle.status = tokio::sync::watch::channel(crate::run_task::Status {
                state: rest.clone(),
                pulse: Default::default(),
                people: Vec::new(),
            })
            .1;
            nobody_reads.push(inbox);
            rooms.rooms_mut().insert(Uuid::new_v4(), Room { handle: Some(handle), ..Room::at_rest(rest) });
        }
        let (patience, began) = (Duration::from_millis(500), Instant::now());
        let left = rooms.stop_within(patience).await;
        // One after the other they would take twenty times as long.
        assert!(began.elapsed() < patience * 15, "{:?}", began.elapsed());
        assert_eq!(left.len(), TEAMS + 20);
        let hang = |state: &&RunState| state.failed.is_some();
        assert!(left.iter().filter(hang).all(|state| state.team.starts_with("Hangs")));
        assert_eq!(left.iter().filter(hang).count(), 20);
    }
}

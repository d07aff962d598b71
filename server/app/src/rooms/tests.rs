use super::*;
use crate::rooms::ClassWanted;
use crate::run_task::ToRun;
use deadship_run::{Role, Who};
use deadship_store::{
    Appended, Expected, Head, MemoryCheckpoints, MemoryStore, NewRecord, Record, StoreError, StreamId,
};
use std::sync::atomic::AtomicBool;
use tokio::sync::oneshot;

/// A store whose disk can be made to fail.
#[derive(Default)]
struct Disk {
    beneath: MemoryStore,
    full: AtomicBool,
}

impl EventStore for Disk {
    fn append(
        &self,
        stream: StreamId,
        expected: Expected,
        records: &[NewRecord],
    ) -> Result<Appended, StoreError> {
        if self.full.load(Ordering::SeqCst) {
            return Err(StoreError::Full { doing: "appending".into() });
        }
        self.beneath.append(stream, expected, records)
    }

    fn read(&self, stream: StreamId, from_seq: u64, limit: u32) -> Result<Vec<Record>, StoreError> {
        self.beneath.read(stream, from_seq, limit)
    }

    fn head(&self, stream: StreamId) -> Result<Option<Head>, StoreError> {
        self.beneath.head(stream)
    }

    fn streams(&self) -> Result<Vec<StreamId>, StoreError> {
        self.beneath.streams()
    }

    fn delete(&self, stream: StreamId, proof: Head) -> Result<(), StoreError> {
        self.beneath.delete(stream, proof)
    }

    fn health(&self) -> Health {
        self.beneath.health()
    }
}

fn library() -> Library {
    let files = [
        ("ships/tender/ship.toml", include_str!("../../tests/fixtures/ship.toml")),
        ("library/tank.toml", include_str!("../../tests/fixtures/drill.toml")),
    ];
    Library::default().with(files.map(|(name, text)| (name.to_owned(), text.to_owned())))
}

async fn class(store: &Arc<Disk>) -> (Arc<Rooms>, Vec<Uuid>) {
    let store: Arc<dyn EventStore> = Arc::<Disk>::clone(store);
    let rooms = Arc::new(Rooms::new(
        House::open(Arc::clone(&store)).unwrap(),
        store,
        Arc::new(MemoryCheckpoints::default()),
        library(),
    ));
    let wanted = ClassWanted {
        by: "Iris".into(),
        drill: "tank".into(),
        teams: vec!["Red".into(), "Blue".into()],
        title: None,
        seed: None,
        hold: true,
        crew: None,
        boost: 1.0,
    };
    let opened = rooms.open_class(wanted).await.unwrap();
    (rooms, opened.runs.iter().map(|run| run.run).collect())
}

async fn say(handle: &RunHandle) -> deadship_protocol::ServerMessage {
    let (reply, answer) = oneshot::channel();
    let who = Who::person("Iris", Role::Instructor);
    let text = "say hello".to_owned();
    handle.to.send(ToRun::Script { who, id: Uuid::new_v4(), text, reply }).await.ok().unwrap();
    answer.await.unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_task_that_breaks_marks_its_run_and_harms_no_other() {
    let store = Arc::new(Disk::default());
    let (rooms, runs) = class(&store).await;
    let red = rooms.find(runs[0]).await.unwrap();
    red.to.send(ToRun::Break).await.ok().unwrap();
    let mut status = red.status.clone();
    let failed = status.wait_for(|status| status.state.failed.is_some()).await.unwrap().state.clone();
    assert!(failed.hold.is_some());
    red.to.closed().await;
    let blue = rooms.find(runs[1]).await.unwrap();
    assert!(matches!(say(&blue).await, deadship_protocol::ServerMessage::Accepted { .. }));
    // A new start brings it back from its log.
    let store: Arc<dyn EventStore> = store;
    let again = Arc::new(Rooms::new(
        House::open(Arc::clone(&store)).unwrap(),
        store,
        Arc::new(MemoryCheckpoints::default()),
        library(),
    ));
    assert_eq!(again.bring_back(&[]).await.on_hold.len(), 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_cannot_be_kept_is_not_shown_and_the_run_stands() {
    let store = Arc::new(Disk::default());
    let (rooms, runs) = class(&store).await;
    let red = rooms.find(runs[0]).await.unwrap();
    let before = store.head(StreamId(runs[0])).unwrap().unwrap().seq;
    store.full.store(true, Ordering::SeqCst);
    for _ in 0..2 {
        let answer = say(&red).await;
        assert!(
            matches!(&answer, deadship_protocol::ServerMessage::Error { code: ErrorCode::StoreFailed, .. }),
            "{answer:?}"
        );
    }
    let state = rooms.state(runs[0]).unwrap();
    assert_eq!(state.last_seq, before);
    assert!(state.failed.is_some() && state.hold.is_some());
    // The disk has room again: nothing is written after what was lost.
    store.full.store(false, Ordering::SeqCst);
    assert!(matches!(say(&red).await, deadship_protocol::ServerMessage::Error { .. }));
    assert_eq!(store.head(StreamId(runs[0])).unwrap().unwrap().seq, before);
}

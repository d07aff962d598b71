use super::*;
use crate::metrics::Metrics;
use crate::rooms::ClassWanted;
use crate::run_task::clients::{ClientId, Inlet, queues};
use crate::run_task::{Attach, ToRun};
use crate::watched_store::WatchedStore;
use deadship_protocol::ServerMessage;
use deadship_run::dials::Dials;
use deadship_run::{Role, Who};
use deadship_store::{MemoryCheckpoints, MemoryStore, StoreError, StreamId};
use tokio::sync::oneshot;

fn library() -> Library {
    let files = [
        ("ships/tender/ship.toml", include_str!("../../tests/fixtures/ship.toml")),
        ("library/tank.toml", include_str!("../../tests/fixtures/drill.toml")),
    ];
    Library::default().with(files.map(|(name, text)| (name.to_owned(), text.to_owned())))
}

fn rooms_on(store: &Arc<dyn EventStore>) -> Arc<Rooms> {
    let (store, trouble) = WatchedStore::over(Arc::clone(store), Metrics::default());
    let house = House::open(Arc::clone(&store)).unwrap();
    Arc::new(Rooms::new(house, (store, trouble), Arc::new(MemoryCheckpoints::default()), library()))
}

fn full() -> StoreError {
    StoreError::Full { doing: "writing an archive".into() }
}

async fn class(store: &Arc<MemoryStore>) -> (Arc<Rooms>, Vec<Uuid>) {
    let store: Arc<dyn EventStore> = Arc::<MemoryStore>::clone(store);
    let rooms = rooms_on(&store);
    let wanted = ClassWanted {
        by: "Iris".into(),
        drill: "tank".into(),
        teams: vec!["Red".into(), "Blue".into()],
        title: None,
        seed: None,
        dials: Dials::default(),
        hold: true,
        crew: None,
        from: None,
        boost: 1.0,
    };
    let opened = rooms.open_class(wanted).await.unwrap();
    (rooms, opened.runs.iter().map(|run| run.run).collect())
}

async fn attach(handle: &RunHandle) -> (ClientId, Inlet) {
    let (outlet, inlet) = queues();
    let (reply, answer) = oneshot::channel();
    let (client, who) = (ClientId(7), Who::person("Iris", Role::Instructor));
    let attach = Attach { client, who, outlet, wants_past: false, station: None, reply };
    handle.to.send(ToRun::Attach(Box::new(attach))).await.ok().unwrap();
    assert!(answer.await.unwrap().is_ok());
    (client, inlet)
}

/// A line on a link, and its reply.
async fn line(handle: &RunHandle, inlet: &mut Inlet, client: ClientId, text: &str) -> ServerMessage {
    let line = ToRun::Line { client, id: Uuid::new_v4(), text: text.to_owned() };
    handle.to.send(line).await.ok().unwrap();
    deadship_protocol::decode_server(&inlet.replies.recv().await.unwrap()).unwrap()
}

async fn say(handle: &RunHandle) -> ServerMessage {
    let (reply, answer) = oneshot::channel();
    let who = Who::person("Iris", Role::Instructor);
    let text = "say hello".to_owned();
    handle.to.send(ToRun::Script { who, id: Uuid::new_v4(), text, reply }).await.ok().unwrap();
    answer.await.unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_task_that_breaks_marks_its_run_and_harms_no_other() {
    let store = Arc::new(MemoryStore::default());
    let (rooms, runs) = class(&store).await;
    let red = rooms.find(runs[0]).await.unwrap();
    red.to.send(ToRun::Break).await.ok().unwrap();
    let mut status = red.status.clone();
    let failed = status.wait_for(|status| status.state.failed.is_some()).await.unwrap().state.clone();
    assert!(failed.hold.is_some());
    red.to.closed().await;
    let blue = rooms.find(runs[1]).await.unwrap();
    assert!(matches!(say(&blue).await, ServerMessage::Accepted { .. }));
    // A new start brings it back from its log.
    let store: Arc<dyn EventStore> = store;
    let again = rooms_on(&store);
    assert_eq!(again.bring_back(&[]).await.on_hold.len(), 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_cannot_be_kept_is_not_shown_and_the_run_stands() {
    let store = Arc::new(MemoryStore::default());
    let (rooms, runs) = class(&store).await;
    let red = rooms.find(runs[0]).await.unwrap();
    let before = store.head(StreamId(runs[0])).unwrap().unwrap().seq;
    store.break_down(full());
    for _ in 0..2 {
        let answer = say(&red).await;
        let ServerMessage::Error { code: ErrorCode::StoreFailed, text, remedy, .. } = &answer else {
            panic!("{answer:?}")
        };
        assert!(text.contains("the disk is full") && remedy.contains("free some space"), "{answer:?}");
    }
    let state = rooms.state(runs[0]).unwrap();
    assert_eq!(state.last_seq, before);
    assert!(state.failed.is_some_and(|why| why.contains("free some space")) && state.hold.is_some());
    // Another run meets it at its own first order.
    let blue = rooms.find(runs[1]).await.unwrap();
    assert!(matches!(say(&blue).await, ServerMessage::Error { code: ErrorCode::StoreFailed, .. }));
    // While the disk is full nothing comes back, and nothing is written after what was lost.
    assert!(rooms.try_recovery(&mut None).await.is_continue());
    assert!(matches!(say(&red).await, ServerMessage::Error { .. }));
    assert_eq!(store.head(StreamId(runs[0])).unwrap().unwrap().seq, before);
}

#[tokio::test(flavor = "multi_thread")]
async fn when_writing_works_again_a_run_is_what_its_log_says() {
    let store = Arc::new(MemoryStore::default());
    let (rooms, runs) = class(&store).await;
    let red = rooms.find(runs[0]).await.unwrap();
    let (client, mut inlet) = attach(&red).await;
    assert!(matches!(line(&red, &mut inlet, client, "resume").await, ServerMessage::Accepted { .. }));
    assert!(matches!(line(&red, &mut inlet, client, "watch *.level").await, ServerMessage::Answer { .. }));
    // It goes on for a while, then is further than its log.
    let mut status = red.status.clone();
    status.wait_for(|status| status.state.tick > 40).await.unwrap();
    store.break_down(full());
    let answer = line(&red, &mut inlet, client, "speed 2").await;
    assert!(matches!(answer, ServerMessage::Error { code: ErrorCode::StoreFailed, .. }), "{answer:?}");
    let broken = status.wait_for(|status| status.state.failed.is_some()).await.unwrap().state.clone();
    assert_eq!(broken.speed, 1.0, "what is not on disk is not shown");
    store.mend();
    assert!(rooms.try_recovery(&mut None).await.is_break());
    let back = status.borrow_and_update().state.clone();
    assert_eq!((back.failed, back.speed), (None, 1.0));
    assert_eq!(back.hold.as_deref(), Some("nothing could be kept for a while"));
    let head = store.head(StreamId(runs[0])).unwrap().unwrap().seq;
    assert_eq!(back.last_seq, head);
    assert!(store.health().poisoned.is_none());
    // Whoever is on it has stayed, was told of the hold as an event, and the run waits for a person.
    let told = loop {
        let frame = inlet.events.recv().await.unwrap();
        if frame.contains("hold-set") {
            break frame;
        }
    };
    assert!(told.contains(&format!("\"seq\":{head}")), "{told}");
    assert!(inlet.gauges.borrow().is_some());
    assert!(matches!(line(&red, &mut inlet, client, "speed 2").await, ServerMessage::Accepted { .. }));
    assert!(matches!(line(&red, &mut inlet, client, "resume").await, ServerMessage::Accepted { .. }));
    status.wait_for(|status| status.state.tick > back.tick + 20 && status.state.speed == 2.0).await.unwrap();
    // Its log is one whole run, and so is that of a run that nothing had happened to.
    rooms.stop().await;
    let store: Arc<dyn EventStore> = store;
    let again = rooms_on(&store);
    let came = again.bring_back(&[]).await;
    assert_eq!((came.on_hold.len(), came.failed), (2, vec![]));
}

#[tokio::test(flavor = "multi_thread")]
async fn the_one_task_brings_every_run_back_by_itself() {
    let store = Arc::new(MemoryStore::default());
    let (rooms, runs) = class(&store).await;
    rooms.keep_recovering();
    let handles = [rooms.find(runs[0]).await.unwrap(), rooms.find(runs[1]).await.unwrap()];
    store.break_down(full());
    for handle in &handles {
        assert!(matches!(say(handle).await, ServerMessage::Error { .. }));
    }
    store.mend();
    for handle in &handles {
        let mut status = handle.status.clone();
        let wait = status.wait_for(|status| status.state.failed.is_none());
        tokio::time::timeout(Duration::from_secs(30), wait).await.unwrap().unwrap();
        assert!(matches!(say(handle).await, ServerMessage::Accepted { .. }));
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn runs_that_find_the_disk_full_at_the_start_come_back_later() {
    let store = Arc::new(MemoryStore::default());
    let (rooms, runs) = class(&store).await;
    let red = rooms.find(runs[0]).await.unwrap();
    let (client, mut inlet) = attach(&red).await;
    assert!(matches!(line(&red, &mut inlet, client, "resume").await, ServerMessage::Accepted { .. }));
    // Its task is gone without a word: the run was not put on hold.
    red.to.send(ToRun::Break).await.ok().unwrap();
    red.to.closed().await;
    drop(rooms);
    store.break_down(full());
    let held: Arc<dyn EventStore> = Arc::<MemoryStore>::clone(&store);
    let again = rooms_on(&held);
    let came = again.bring_back(&[]).await;
    assert_eq!((came.on_hold.len(), came.failed.len()), (1, 1));
    assert!(again.find(runs[0]).await.is_err());
    assert!(again.try_recovery(&mut None).await.is_continue());
    store.mend();
    assert!(again.try_recovery(&mut None).await.is_break());
    let red = again.find(runs[0]).await.unwrap();
    assert!(red.status.borrow().state.hold.is_some());
    assert!(matches!(say(&red).await, ServerMessage::Accepted { .. }));
}

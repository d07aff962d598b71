//! A class that begins where a run was: the team tries again from that instant.

mod common;

use common::Bench;
use deadship_protocol::{BeginFrom, ClientMessage, ErrorCode, OpenedRun, ServerMessage};
use deadship_run::{Envelope, Event};
use uuid::Uuid;

fn again(from: BeginFrom) -> ClientMessage {
    ClientMessage::Open {
        id: Uuid::new_v4(),
        drill: String::new(),
        teams: vec!["Red again".to_owned(), "Blue too".to_owned()],
        title: None,
        seed: None,
        difficulty: None,
        stress: None,
        hold: false,
        crew: None,
        from: Some(from),
    }
}

/// The events of a run as they are kept.
async fn log_of(bench: &Bench, run: &OpenedRun) -> Vec<Envelope> {
    let path = format!("/api/runs/{}/events", run.run);
    let (status, body) = bench.http("GET", &path, Some(&bench.key), "").await;
    assert_eq!(status, 200);
    body.lines().map(|line| Envelope::decode(line).expect("an event")).collect()
}

/// What was done until then is in it, nobody is, it is on hold, and its first event names where it comes from.
#[tokio::test(flavor = "multi_thread")]
async fn a_team_tries_again_from_an_instant() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red"], false).await;
    let (_ada, _) = bench.join(&runs[0], "Ada", "pumps").await;
    teacher.line("note they hesitate").await;
    teacher.line("mark slip").await;
    teacher.line("fault header.tank.leaks").await;
    let tick_of = |log: &[Envelope], name: &str| {
        log.iter().rev().find(|envelope| envelope.event.name() == name).map(|envelope| envelope.tick)
    };
    let set = tick_of(&log_of(&bench, &runs[0]).await, "fault-set").unwrap();
    // The ship goes on by at least one tick before it is lifted.
    while tick_of(&log_of(&bench, &runs[0]).await, "digest").is_none_or(|tick| tick <= set) {}
    teacher.line("lift header.tank.leaks").await;
    let from = BeginFrom { run: runs[0].run, tick: set };
    teacher.send(&again(from)).await;
    let opened = teacher.until(|message| matches!(message, ServerMessage::Opened { .. })).await;
    let ServerMessage::Opened { title, runs: new, .. } = opened else { unreachable!() };
    assert_eq!(new.iter().map(|run| run.team.as_str()).collect::<Vec<_>>(), ["Red again", "Blue too"]);
    assert!(!title.is_empty());
    for run in &new {
        let log = log_of(&bench, run).await;
        let Event::RunOpened(opening) = &log[0].event else { panic!() };
        let parent = opening.parent.as_ref().unwrap();
        assert_eq!((parent.run, parent.tick), (runs[0].run, set));
        let has = |name: &str| log.iter().any(|envelope| envelope.event.name() == name);
        assert!(has("fault-set") && has("station-taken") && has("station-left") && has("hold-set"));
        assert!(!has("fault-lifted"), "that was later");
        assert!(!has("noted"), "what was noted of the first try is not about the second");
        assert_eq!(log.last().unwrap().tick, set);
    }
    // The seat is free for whoever tries.
    let (mut bo, welcome) = bench.join(&new[0], "Ada", "pumps").await;
    assert!(welcome.run.is_some_and(|run| run.hold.is_some()));
    teacher.send(&ClientMessage::Use { run: new[0].run, last_seq: None }).await;
    teacher.until(|message| matches!(message, ServerMessage::State(_))).await;
    teacher.line("resume").await;
    bo.line("start pump").await;
    while tick_of(&log_of(&bench, &new[0]).await, "digest").is_none_or(|tick| tick <= set) {}
}

#[tokio::test(flavor = "multi_thread")]
async fn instants_that_are_none() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red"], true).await;
    for (run, tick, code) in
        [(Uuid::new_v4(), 0, ErrorCode::UnknownRun), (runs[0].run, 1_000_000, ErrorCode::BadRequest)]
    {
        teacher.send(&again(BeginFrom { run, tick })).await;
        let error = teacher.until(|message| matches!(message, ServerMessage::Error { .. })).await;
        assert!(matches!(error, ServerMessage::Error { code: of, .. } if of == code));
    }
}

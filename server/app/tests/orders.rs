//! Orders, events, gauges: what people on one run see of each other.

mod common;

use common::{Bench, Client};
use deadship_protocol::{
    ByeCode, ClientMessage, ErrorCode, EventMessage, Identity, LONGEST_FRAME, ServerMessage, VERSION,
};
use uuid::Uuid;

fn seqs(events: &[EventMessage]) -> Vec<u64> {
    events.iter().map(|event| event.seq).collect()
}

/// All events up to and with this seq.
async fn events_to(client: &mut Client, last: u64) -> Vec<EventMessage> {
    let mut events: Vec<EventMessage> = Vec::new();
    while events.last().is_none_or(|event| event.seq < last) {
        if let ServerMessage::Event(event) = client.next().await {
            events.push(*event);
        }
    }
    events
}

#[tokio::test(flavor = "multi_thread")]
async fn two_people_at_one_valve_both_see_the_order() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], false).await;
    let (mut ada, _) = bench.join(&runs[0], "Ada", "pumps").await;
    let (mut bo, _) = bench.join(&runs[0], "Bo", "pumps").await;
    let seq = ada.order("open header.valve").await;
    let (to_ada, to_bo) = (ada.event("act-done").await, bo.event("act-done").await);
    assert_eq!(to_ada, to_bo);
    assert_eq!(
        (to_bo.seq, to_bo.who.as_str(), to_bo.text.as_str()),
        (seq, "Ada (pumps)", "open header.valve")
    );
    assert_eq!(to_bo.data["component"], "header.valve");
    bo.order("close header.valve").await;
    assert_eq!(ada.event("act-done").await.who, "Bo (pumps)");
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_mistyped_is_named_with_the_nearest() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], false).await;
    let (mut ada, _) = bench.join(&runs[0], "Ada", "pumps").await;
    let reasons = ada.refused("open header.valv").await;
    assert_eq!(reasons[0].0, "unknown-name");
    assert!(reasons[0].1.contains("header.valve"), "{reasons:?}");
    assert_eq!(ada.refused("opne header.valve").await[0].0, "unknown-word");
    let answer = ada.line("help").await;
    let ServerMessage::Answer { lines, .. } = answer else { panic!("{answer:?}") };
    assert!(lines.iter().any(|line| line.starts_with("watch")));
    // Only the instructor's words may set faults, and only they see them.
    assert_eq!(ada.refused("fault header.tank.leaks").await[0].0, "not-your-role");
}

#[tokio::test(flavor = "multi_thread")]
async fn nonsense_is_answered_and_harms_nobody() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], false).await;
    let (mut ada, _) = bench.join(&runs[0], "Ada", "pumps").await;
    let error = |message: &ServerMessage| matches!(message, ServerMessage::Error { .. });
    let huge = format!("{{\"type\":\"ping\",\"x\":\"{}\"}}", "y".repeat(LONGEST_FRAME));
    let wrong = [
        ("what?", ErrorCode::BadFrame),
        ("{\"type\":\"dance\"}", ErrorCode::UnknownMessage),
        ("{\"type\":\"line\",\"text\":\"look\"}", ErrorCode::BadFrame),
        (huge.as_str(), ErrorCode::FrameTooLong),
    ];
    for (frame, expected) in wrong {
        ada.send_text(frame).await;
        let ServerMessage::Error { code, .. } = ada.until(error).await else { unreachable!() };
        assert_eq!(code, expected);
    }
    let long = ada.line(&"x".repeat(2_001)).await;
    assert!(matches!(long, ServerMessage::Error { code: ErrorCode::LineLength, .. }));
    // It still goes on.
    ada.order("open header.valve").await;
    // Beyond all measure the link is closed, with a reason.
    ada.send_text(&"z".repeat(10 * LONGEST_FRAME)).await;
    let bye = ada.until(|message| matches!(message, ServerMessage::Bye { .. })).await;
    assert!(matches!(bye, ServerMessage::Bye { code: ByeCode::Misbehaving, .. }));
}

#[tokio::test(flavor = "multi_thread")]
async fn too_many_lines_are_slowed_down() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], true).await;
    let (mut ada, _) = bench.join(&runs[0], "Ada", "pumps").await;
    for _ in 0..200 {
        ada.send(&ClientMessage::Line { id: Uuid::new_v4(), text: "who".into() }).await;
    }
    let (mut answers, mut too_fast) = (0, 0);
    while answers + too_fast < 200 {
        match ada.next().await {
            ServerMessage::Answer { .. } => answers += 1,
            ServerMessage::Error { code: ErrorCode::TooFast, .. } => too_fast += 1,
            _ => {}
        }
    }
    assert!(answers >= 40 && too_fast > 0, "{answers} answers, {too_fast} too fast");
}

#[tokio::test(flavor = "multi_thread")]
async fn who_comes_back_gets_what_they_missed() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red"], true).await;
    let (mut ada, welcome) = bench.join(&runs[0], "Ada", "pumps").await;
    let (mut bo, _) = bench.join(&runs[0], "Bo", "pumps").await;
    let (mut witness, _) = bench.join(&runs[0], "Cy", "boards").await;
    let seen = ada.order("say I am here").await;
    drop(ada);
    for i in 0..20 {
        bo.order(&format!("say number {i}")).await;
    }
    let fault = teacher.order("fault header.tank.leaks").await;
    let last = bo.order("say done").await;
    let mut expected = events_to(&mut witness, last).await;
    let token = Identity::Token { token: welcome.token.unwrap() };
    let (mut ada, welcome) = Client::hello(bench.address(), token.clone(), None, Some(seen)).await;
    assert!(welcome.run.unwrap().last_seq >= last);
    let missed = events_to(&mut ada, last).await;
    expected.retain(|event| event.seq > seen);
    assert_eq!(missed, expected);
    assert!(!seqs(&missed).contains(&fault), "a team is not told of faults");
    // And what is new comes after it, once.
    let next = bo.order("say new").await;
    assert_eq!(seqs(&events_to(&mut ada, next).await), [next]);
    // From the beginning: the opening is told without what the drill has in store.
    let (mut ada, _) = Client::hello(bench.address(), token, None, Some(0)).await;
    let all = events_to(&mut ada, next).await;
    assert_eq!((all[0].seq, all[0].kind.as_str()), (1, "run-opened"));
    assert!(!all[0].data.to_string().contains("[drill]"));
    assert!(seqs(&all).is_sorted());
    // Whoever runs the class is told of everything.
    let identity = Identity::Watch { key: bench.key.clone(), name: None };
    let (mut watcher, _) = Client::hello(bench.address(), identity, Some(runs[0].run), Some(0)).await;
    assert!(seqs(&events_to(&mut watcher, next).await).contains(&fault));
}

#[tokio::test(flavor = "multi_thread")]
async fn what_a_machine_does_is_noticed_where_it_stands() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], false).await;
    let (mut ada, _) = bench.join(&runs[0], "Ada", "pumps").await;
    let (mut cy, welcome) = bench.join(&runs[0], "Cy", "boards").await;
    cy.order("close shore").await;
    let closed = ada.event("act-done").await.tick;
    // The supply is there once a tick has passed.
    ada.line("watch header.*").await;
    ada.until(|m| matches!(m, ServerMessage::Gauges(gauges) if gauges.tick > closed + 1)).await;
    ada.line("unwatch").await;
    ada.order("start pump").await;
    let started = ada.event("found").await;
    assert!(started.text.starts_with("pump"), "{started:?}");
    let last = ada.order("say it runs").await;
    let token = Identity::Token { token: welcome.token.unwrap() };
    let live = events_to(&mut cy, last).await;
    let (mut cy, _) = Client::hello(bench.address(), token, None, Some(0)).await;
    let read = events_to(&mut cy, last).await;
    for events in [&live, &read] {
        assert!(!seqs(events).contains(&started.seq), "{events:?}");
        assert!(seqs(events).contains(&last));
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn an_order_sent_twice_is_done_once() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], false).await;
    let (mut ada, _) = bench.join(&runs[0], "Ada", "pumps").await;
    let id = Uuid::new_v4();
    let first = ada.line_as(id, "say once").await;
    assert_eq!(ada.line_as(id, "say once").await, first);
    let last = ada.order("say end").await;
    let ServerMessage::Accepted { seq, .. } = first else { panic!("{first:?}") };
    assert_eq!(last, seq + 1);
}

#[tokio::test(flavor = "multi_thread")]
async fn gauges_show_what_can_be_seen() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red"], false).await;
    let (mut ada, _) = bench.join(&runs[0], "Ada", "pumps").await;
    let answer = ada.line("watch header.*").await;
    assert!(matches!(answer, ServerMessage::Answer { .. }), "{answer:?}");
    assert_eq!(ada.refused("watch nothing.*").await[0].0, "unknown-name");
    let gauges = |message: &ServerMessage| matches!(message, ServerMessage::Gauges(_));
    let ServerMessage::Gauges(shown) = ada.until(gauges).await else { unreachable!() };
    let level = shown.readings.iter().find(|gauge| gauge.name == "header.tank.level").expect("a level");
    assert!(level.text.ends_with('%'), "{level:?}");
    // Walking away, the gauges are out of sight.
    ada.order("go control-room").await;
    loop {
        let ServerMessage::Gauges(shown) = ada.until(gauges).await else { unreachable!() };
        if !shown.readings.iter().any(|gauge| gauge.name.starts_with("header.valve")) {
            break;
        }
    }
    // A hold is told to everyone.
    teacher.order("hold").await;
    let held = |m: &ServerMessage| matches!(m, ServerMessage::State(state) if state.hold.is_some());
    ada.until(held).await;
    assert_eq!(ada.refused("open header.valve").await[0].0, "on-hold");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_slow_reader_does_not_hold_the_others() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], true).await;
    let (mut quick, _) = bench.join(&runs[0], "Quick", "pumps").await;
    let mut slow = Client::connect(bench.address(), Some(4_096)).await;
    let identity = Identity::Join { code: runs[0].code.clone(), name: "Slow".into(), station: None };
    slow.send(&ClientMessage::Hello { version: VERSION, identity, run: None, last_seq: Some(0) }).await;
    // From now on it reads nothing, while far more than all buffers hold is said.
    let path = format!("/api/runs/{}/line", runs[0].run);
    let body = format!("{{\"text\":\"say {}\"}}", "\u{1F6A2}".repeat(490));
    let mut last = 0;
    for i in 0..2_500 {
        let (status, answer) = bench.http("POST", &path, Some(&bench.key), &body).await;
        assert_eq!(status, 200, "{answer}");
        if i % 100 == 0 {
            let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
            last = answer["seq"].as_u64().unwrap();
            assert_eq!(events_to(&mut quick, last).await.last().unwrap().seq, last);
        }
    }
    // Now it reads again: nothing is missing, or it was told why it must go. Where its buffers were full to the last
    // byte, the goodbye could not be delivered and the link is simply closed.
    let (mut seen, mut lagged) = (Vec::new(), false);
    loop {
        let Some(message) = slow.next_or_closed().await else {
            lagged = true;
            break;
        };
        match message {
            ServerMessage::Event(event) => {
                seen.push(event.seq);
                if event.seq >= last {
                    break;
                }
            }
            ServerMessage::Lagging { from_seq, .. } => {
                lagged = true;
                assert!(from_seq > *seen.last().unwrap());
            }
            ServerMessage::Bye { code, .. } => {
                assert_eq!(code, ByeCode::TooSlow);
                lagged = true;
                break;
            }
            _ => {}
        }
    }
    assert!(lagged);
    assert!(seen.windows(2).all(|pair| pair[0] < pair[1]));
}

#[tokio::test(flavor = "multi_thread")]
async fn what_differs_is_laid_over_the_full_readings() {
    let bench = Bench::new().await;
    let (_teacher, runs) = bench.class(&["Red"], false).await;
    let (mut ada, _) = bench.join(&runs[0], "Ada", "pumps").await;
    ada.line("watch header.*").await;
    ada.order("open header.valve").await;
    let gauges = |message: &ServerMessage| matches!(message, ServerMessage::Gauges(_));
    let (mut base, mut deltas) = (None, 0);
    // The tank empties: its level changes all the time, what its valve shows does not.
    while deltas < 5 {
        let ServerMessage::Gauges(shown) = ada.until(gauges).await else { unreachable!() };
        let names: Vec<String> = shown.readings.iter().map(|gauge| gauge.name.clone()).collect();
        if shown.base == shown.tick {
            base = Some((shown.tick, names));
        } else if let Some((tick, all)) = &base {
            assert_eq!(shown.base, *tick, "it lies over the full one that came last");
            assert!(names.len() < all.len() && names.iter().all(|name| all.contains(name)), "{names:?}");
            deltas += 1;
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn readings_and_situation_come_anew_to_whoever_asks_again() {
    let bench = Bench::new().await;
    // On hold nothing changes by itself: what comes has come because it was asked for.
    let (mut teacher, runs) = bench.class(&["Red"], true).await;
    let (mut ada, _) = bench.join(&runs[0], "Ada", "pumps").await;
    let full = |m: &ServerMessage| matches!(m, ServerMessage::Gauges(gauges) if gauges.base == gauges.tick);
    let situation = |m: &ServerMessage| matches!(m, ServerMessage::Situation { .. });
    for _ in 0..3 {
        ada.line("watch *").await;
        ada.until(full).await;
        ada.line("unwatch").await;
        ada.send(&ClientMessage::Screen { on: true }).await;
        ada.until(situation).await;
    }
    // And of itself when something happened that the team may know; the plan of the drill stays with the instructor.
    teacher.order("bridge order pumps: empty the tank").await;
    let order = |m: &ServerMessage| match m {
        ServerMessage::Situation { situation, .. } => situation["orders"][0]["number"] == 1,
        _ => false,
    };
    let ServerMessage::Situation { situation: now, .. } = ada.until(order).await else { unreachable!() };
    assert!(now.get("steps").is_none() && now.get("expects").is_none(), "{now}");
    teacher.send(&ClientMessage::Screen { on: true }).await;
    let ServerMessage::Situation { situation: now, .. } = teacher.until(situation).await else {
        unreachable!()
    };
    assert!(now["expects"].as_array().is_some_and(|expects| !expects.is_empty()), "{now}");
}

//! Stopping and starting again; the REST interface.

mod common;

use common::{Bench, Client};
use deadship_protocol::{ByeCode, ErrorCode, Identity, ServerMessage};
use deadship_store::archive::ArchiveReader;
use serde_json::Value;

#[tokio::test(flavor = "multi_thread")]
async fn after_a_restart_runs_are_on_hold_and_nothing_acknowledged_is_lost() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red", "Blue"], false).await;
    let (mut ada, welcome) = bench.join(&runs[0], "Ada", "pumps").await;
    teacher.order("speed 20").await;
    ada.order("open header.valve").await;
    let mut accepted = Vec::new();
    for i in 0..10 {
        accepted.push((ada.order(&format!("say {i}")).await, format!("says: {i}")));
    }
    // The plant goes on meanwhile: the tank runs low.
    ada.event("alert-raised").await;
    let bench = bench.restart().await;
    let bye = ada.until(|message| matches!(message, ServerMessage::Bye { .. })).await;
    assert!(matches!(bye, ServerMessage::Bye { code: ByeCode::Stopping, .. }));
    assert_eq!(bench.server.instructor_key(), None);
    assert_eq!(bench.server.came_back().on_hold.len(), 2);
    assert!(bench.server.runs().iter().all(|run| run.hold.is_some() && run.failed.is_none()));
    let token = Identity::Token { token: welcome.token.unwrap() };
    let (mut ada, welcome) = Client::hello(bench.address(), token, None, Some(0)).await;
    assert_eq!(welcome.station.as_deref(), Some("pumps"));
    let last = welcome.run.unwrap().last_seq;
    let mut events = Vec::new();
    loop {
        if let ServerMessage::Event(event) = ada.next().await {
            let seq = event.seq;
            events.push(*event);
            if seq >= last {
                break;
            }
        }
    }
    for (seq, text) in accepted {
        let kept = events.iter().find(|event| event.seq == seq).expect("kept");
        assert_eq!(kept.text, text);
    }
    // The same code, the same key; and it goes on.
    let (mut bo, _) = bench.join(&runs[0], "Bo", "pumps").await;
    let mut teacher = bench.teach(Some(runs[0].run)).await;
    teacher.order("resume").await;
    bo.order("close header.valve").await;
    let bench = bench.restart().await;
    assert_eq!(bench.server.came_back().failed, []);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_run_that_is_over_can_be_read_and_noted_on_after_a_restart() {
    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red"], false).await;
    teacher.order("end").await;
    let bench = bench.restart().await;
    let run = runs[0].run;
    assert!(bench.server.runs()[0].ended.is_some());
    assert_eq!(bench.server.came_back().over, 1);
    let mut teacher = bench.teach(Some(run)).await;
    teacher.order("note well done").await;
    assert_eq!(teacher.refused("resume").await[0].0, "run-ended");
}

#[tokio::test(flavor = "multi_thread")]
async fn scripts_read_and_write_over_rest() {
    let bench = Bench::new().await;
    let key = Some(bench.key.as_str());
    let json = |text: &str| serde_json::from_str::<Value>(text).expect("JSON");
    let (status, drills) = bench.http("GET", "/api/drills", None, "").await;
    assert_eq!((status, json(&drills)[0]["title"].as_str()), (200, Some("Empty the tank")));
    let body = r#"{"drill":"tank","teams":["Red"],"hold":false}"#;
    let (status, error) = bench.http("POST", "/api/runs", None, body).await;
    assert_eq!((status, json(&error)["code"].as_str()), (401, Some("wrong-key")));
    let (status, error) = bench.http("POST", "/api/runs", key, r#"{"drill":"tonk","teams":["Red"]}"#).await;
    assert_eq!((status, json(&error)["code"].as_str()), (404, Some("unknown-drill")));
    assert!(error.contains("did you mean `tank`?"));
    let (status, opened) = bench.http("POST", "/api/runs", key, body).await;
    assert_eq!(status, 201, "{opened}");
    let opened = json(&opened);
    let (run, code) =
        (opened["runs"][0]["run"].as_str().unwrap(), opened["runs"][0]["code"].as_str().unwrap());
    let (status, answer) =
        bench.http("POST", &format!("/api/runs/{run}/line"), key, r#"{"text":"open header.valve"}"#).await;
    assert_eq!((status, json(&answer)["type"].as_str()), (200, Some("accepted")));
    for path in ["/api/runs".to_owned(), format!("/api/runs/{run}"), "/".to_owned()] {
        let (status, body) = bench.http("GET", &path, None, "").await;
        assert_eq!(status, 200);
        assert!(body.contains("Red") && !body.contains(code), "{path}: {body}");
    }
    let (status, lines) = bench.http("GET", &format!("/api/runs/{run}/events?from=2&limit=1"), key, "").await;
    assert_eq!(status, 200);
    assert_eq!(json(lines.trim())["seq"], 2);
    let (status, _) = bench.http("GET", &format!("/api/runs/{run}/archive"), None, "").await;
    assert_eq!(status, 401);
    let (status, archive) = bench.http("GET", &format!("/api/runs/{run}/archive"), key, "").await;
    assert_eq!(status, 200);
    let reader = ArchiveReader::new("fetched", archive.as_bytes()).expect("an archive");
    let records: Vec<_> = reader.collect::<Result<_, _>>().expect("whole");
    assert!(records.iter().any(|record| record.payload.contains("act-done")));
    let (status, error) = bench.http("GET", "/api/nothing", None, "").await;
    assert_eq!((status, json(&error)["code"].as_str()), (404, Some(ErrorCode::NotFound.word())));
    let (status, health) = bench.http("GET", "/api/healthz", None, "").await;
    assert_eq!((status, &json(&health)["ok"]), (200, &Value::Bool(true)));
}

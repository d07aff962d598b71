//! The figures at `/metrics`: their form, and that they are true.
#![allow(clippy::unwrap_used, reason = "helpers of tests are not seen as tests")]

mod common;

use common::Bench;
use deadship_protocol::{Identity, ServerMessage};
use std::collections::BTreeMap;

/// Reads the text form of OpenMetrics 1.0 (the OpenMetrics specification, "Text Format") as strictly as the figures of
/// this server need: each sample belongs to the family declared last, families are declared once, the text ends in
/// `# EOF`. Gives samples by name with labels.
fn read(text: &str) -> BTreeMap<String, f64> {
    let body = text.strip_suffix("# EOF\n").expect("the end mark");
    let (mut samples, mut types) = (BTreeMap::new(), BTreeMap::new());
    let mut family = String::new();
    for line in body.lines() {
        if let Some(meta) = line.strip_prefix("# ") {
            let mut words = meta.splitn(3, ' ');
            let (what, name) = (words.next().unwrap(), words.next().unwrap());
            let rest = words.next().unwrap_or_else(|| panic!("{line}"));
            match what {
                "HELP" | "UNIT" => {}
                "TYPE" => assert!(types.insert(name.to_owned(), rest.to_owned()).is_none(), "{line}"),
                _ => panic!("{line}"),
            }
            family = name.to_owned();
            continue;
        }
        let (name, value) = line.rsplit_once(' ').unwrap_or_else(|| panic!("{line}"));
        let bare = name.split('{').next().unwrap();
        assert!(bare.chars().all(|c| c.is_ascii_alphanumeric() || c == '_'), "{line}");
        let suffixes: &[&str] = match types[&family].as_str() {
            "counter" => &["_total"],
            "histogram" => &["_bucket", "_sum", "_count"],
            "gauge" => &[""],
            other => panic!("{other}"),
        };
        let tail = bare.strip_prefix(family.as_str()).unwrap_or_else(|| panic!("{line}"));
        assert!(suffixes.contains(&tail), "{line}");
        let number: f64 = value.parse().unwrap_or_else(|_| panic!("{line}"));
        assert!(samples.insert(name.to_owned(), number).is_none(), "{line} stands twice");
    }
    samples
}

async fn figures(bench: &Bench) -> BTreeMap<String, f64> {
    let (status, text) = bench.http("GET", "/metrics", None, "").await;
    assert_eq!(status, 200, "{text}");
    let samples = read(&text);
    // Buckets count up and end with all.
    let buckets = |m: &BTreeMap<String, f64>| m.keys().filter(|name| name.contains("_bucket")).count();
    assert_eq!(buckets(&samples), 15);
    assert_eq!(
        samples["deadship_commit_seconds_bucket{le=\"+Inf\"}"],
        samples["deadship_commit_seconds_count"]
    );
    samples
}

#[tokio::test(flavor = "multi_thread")]
async fn what_happens_is_counted() {
    let bench = Bench::new().await;
    let before = figures(&bench).await;
    assert_eq!(before["deadship_runs{state=\"on-hold\"}"], 0.0);
    assert_eq!(before["deadship_clients{role=\"trainee\"}"], 0.0);
    assert_eq!(before["deadship_store_writable"], 1.0);

    let (mut teacher, runs) = bench.class(&["Red", "Blue", "Green"], true).await;
    let (mut trainee, _) = bench.join(&runs[0], "Bo", "pumps").await;
    teacher.order("resume").await;
    teacher.refused("this-is-no-order").await;
    assert!(matches!(trainee.line("look").await, ServerMessage::Answer { .. }));
    let mut stranger = common::Client::connect(bench.address(), None).await;
    let identity = Identity::Token { token: "none".into() };
    let hello = deadship_protocol::ClientMessage::Hello {
        version: deadship_protocol::VERSION,
        identity,
        run: None,
        last_seq: None,
    };
    stranger.send(&hello).await;
    while stranger.next_or_closed().await.is_some() {}

    let after = figures(&bench).await;
    assert_eq!(after["deadship_runs{state=\"going\"}"], 1.0);
    assert_eq!(after["deadship_runs{state=\"on-hold\"}"], 2.0);
    assert_eq!(after["deadship_clients{role=\"trainee\"}"], 1.0);
    assert_eq!(after["deadship_clients{role=\"instructor\"}"], 1.0);
    assert_eq!(after["deadship_clients_not_let_in_total"], 1.0);
    assert_eq!(after["deadship_lines_total{outcome=\"accepted\"}"], 1.0);
    assert_eq!(after["deadship_lines_total{outcome=\"refused\"}"], 1.0);
    assert_eq!(after["deadship_lines_total{outcome=\"answered\"}"], 1.0);
    assert_eq!(after["deadship_slow_clients_closed_total"], 0.0);
    // Three runs, the class, the seat, the station, the order: seven at least have waited for the disk.
    let commits = after["deadship_commit_seconds_count"] - before["deadship_commit_seconds_count"];
    assert!(commits >= 7.0, "{commits}");
    assert!(after["deadship_commit_seconds_sum"] > 0.0);
    assert!(after["deadship_store_streams"] >= 4.0);
}

#[tokio::test(flavor = "multi_thread")]
async fn health_stands_at_the_top_too_and_a_proxy_needs_the_key() {
    let bench = Bench::new().await;
    assert_eq!(
        bench.http("GET", "/healthz", None, "").await,
        bench.http("GET", "/api/healthz", None, "").await
    );
    let passed_on = "/metrics HTTP/1.1\r\nX-Forwarded-For: 192.0.2.7\r\nX-Rest:";
    assert_eq!(bench.http("GET", passed_on, None, "").await.0, 401);
    assert_eq!(bench.http("GET", passed_on, Some("WRONG"), "").await.0, 401);
    assert_eq!(bench.http("GET", passed_on, Some(&bench.key), "").await.0, 200);
}

//! The log says who came and went, and never a secret.
#![allow(clippy::unwrap_used, reason = "helpers of tests are not seen as tests")]

mod common;

use common::{Bench, Client};
use deadship_protocol::{ClientMessage, Identity, ServerMessage, VERSION};
use deadship_server::{LogForm, log_to};
use std::io::{self, Write};
use std::sync::{Arc, Mutex};
use tracing::level_filters::LevelFilter;

/// Where the log of the test goes.
#[derive(Clone, Default)]
struct Kept(Arc<Mutex<Vec<u8>>>);

impl Write for Kept {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Kept {
    fn text(&self) -> String {
        String::from_utf8(self.0.lock().unwrap().clone()).unwrap()
    }
}

/// Says hello and is not let in.
async fn turned_away(bench: &Bench, identity: Identity) {
    let mut client = Client::connect(bench.address(), None).await;
    client.send(&ClientMessage::Hello { version: VERSION, identity, run: None, last_seq: None }).await;
    client.until(|message| matches!(message, ServerMessage::Error { .. })).await;
    while client.next_or_closed().await.is_some() {}
}

#[tokio::test(flavor = "multi_thread")]
async fn the_log_has_fields_and_no_secret() {
    let kept = Kept::default();
    let writer = kept.clone();
    let log = log_to(LogForm::Json, LevelFilter::TRACE, move || writer.clone());
    tracing::subscriber::set_global_default(log).unwrap();

    let bench = Bench::new().await;
    let (mut teacher, runs) = bench.class(&["Red", "Blue"], true).await;
    let (mut trainee, welcome) = bench.join(&runs[0], "Bo", "pumps").await;
    let token = welcome.token.unwrap();
    teacher.order("resume").await;
    trainee.line("this-is-no-order").await;
    trainee.send_text(&format!("{{\"type\":\"nonsense\",\"key\":\"{}\"}}", bench.key)).await;
    trainee.until(|message| matches!(message, ServerMessage::Error { .. })).await;
    turned_away(&bench, Identity::Teach { key: "WRONG-KEYS-ARE-SECRET".into(), name: None }).await;
    turned_away(&bench, Identity::Token { token: "f00dfeed".into() }).await;
    turned_away(&bench, Identity::Join { code: "QQQQQQ".into(), name: "Cy".into(), station: None }).await;
    // The right code under a name that is taken: the code is good, so it is the more a secret.
    let code = runs[0].code.clone();
    turned_away(&bench, Identity::Join { code, name: "Bo".into(), station: None }).await;
    assert_eq!(bench.http("GET", "/api/board", Some("WRONG-KEYS-ARE-SECRET"), "").await.0, 401);
    assert_eq!(bench.http("GET", "/api/board", Some(&bench.key), "").await.0, 200);
    let identity = Identity::Token { token: token.clone() };
    let (again, _) = Client::hello(bench.address(), identity, None, None).await;
    drop((again, trainee, teacher));
    let key = bench.key.clone();
    let Bench { server, folder: _folder, .. } = bench;
    server.stop().await;

    let text = kept.text();
    let lines: Vec<serde_json::Value> = text
        .lines()
        .map(|line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{line}: {e}")))
        .collect();
    let with = |message: &str| lines.iter().filter(|line| line["message"] == message).collect::<Vec<_>>();
    let opened = with("a run is open");
    assert_eq!(opened.len(), 2, "{text}");
    assert!(opened.iter().all(|line| line["class"].is_string() && line["run"].is_string()), "{text}");
    let came: Vec<_> = with("a client has come in");
    assert_eq!(came.len(), 3, "{text}");
    assert!(came.iter().all(|line| line["client"].is_u64()), "{text}");
    let red = runs[0].run.to_string();
    assert_eq!(came.iter().filter(|line| line["name"] == "Bo" && line["run"] == red).count(), 2, "{text}");
    assert_eq!(with("a client was not let in").len(), 4, "{text}");

    let codes = runs.iter().map(|run| run.code.as_str());
    let bare = key.replace('-', "");
    let secrets = [key.as_str(), &bare, &token, "WRONG-KEYS-ARE-SECRET", "f00dfeed", "QQQQQQ"];
    for secret in secrets.into_iter().chain(codes) {
        assert!(!text.to_uppercase().contains(&secret.to_uppercase()), "{secret} stands on the log:\n{text}");
    }
}

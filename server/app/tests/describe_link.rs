//! The examples of the link, played against a server: every message of a client gets one of the answers that are
//! described for it, and whatever comes fits its schema.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod common;
#[path = "common/described.rs"]
mod described;

use common::{Bench, Client};
use deadship_protocol::{ServerMessage, decode_client};
use deadship_run::library::Library;
use deadship_server::Document;
use described::Described;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use uuid::Uuid;

/// A server, its description, and what stands for the invented ids of the examples.
struct Play {
    bench: Bench,
    described: Described,
    names: Vec<(String, String)>,
    /// Messages of clients that were played.
    played: BTreeSet<String>,
    /// Kinds of event that came and fitted.
    kinds: BTreeSet<String>,
}

/// The beginning of a message: archives are long.
fn short(message: &Value) -> String {
    message.to_string().chars().take(400).collect()
}

fn type_of(message: &Value) -> &str {
    message["type"].as_str().unwrap()
}

impl Play {
    async fn new() -> Play {
        let bench = Bench::with(Library::built_in()).await;
        let described = Described::of(Document::Asyncapi);
        let mut play =
            Play { bench, described, names: vec![], played: BTreeSet::new(), kinds: BTreeSet::new() };
        let key = play
            .examples("hello")
            .iter()
            .find_map(|hello| hello["as"]["teach"]["key"].as_str().map(str::to_owned));
        play.names.push((key.unwrap(), play.bench.key.clone()));
        play
    }

    /// The examples of a message of clients.
    fn examples(&self, kind: &str) -> Vec<Value> {
        let examples =
            &self.described.document["components"]["messages"][format!("client.{kind}")]["examples"];
        examples.as_array().unwrap().iter().map(|example| example["payload"].clone()).collect()
    }

    fn hello(&self, identity: &str) -> Value {
        self.examples("hello").into_iter().find(|hello| hello["as"].get(identity).is_some()).unwrap()
    }

    /// Does this answer come to that message, and does it fit what is described?
    fn fits(&mut self, message: &ServerMessage) -> Value {
        let value = serde_json::to_value(message).unwrap();
        let schema = format!("/components/messages/server.{}/payload", type_of(&value));
        self.described.check(&schema, &value).unwrap_or_else(|error| panic!("{error}: {}", short(&value)));
        if let ServerMessage::Event(event) = message {
            self.kinds.insert(event.kind.clone());
        }
        value
    }

    fn list(&self, operation: &str, part: &str) -> BTreeSet<String> {
        let messages = self.described.document.pointer(&format!("/operations/{operation}/{part}")).unwrap();
        let names = messages.as_array().unwrap().iter().map(|message| message["$ref"].as_str().unwrap());
        names.map(|name| name.rsplit("server.").next().unwrap().to_owned()).collect()
    }

    /// Plays a message and gives its answer: the first that is one of those described for it, with its id where it has
    /// one. What comes before must be among what comes without being asked for.
    async fn play(&mut self, client: &mut Client, example: &Value) -> Value {
        let mut text = example.to_string();
        for (invented, real) in &self.names {
            text = text.replace(invented, real);
        }
        decode_client(&text).unwrap();
        client.send_text(&text).await;
        let kind = type_of(example);
        self.played.insert(kind.to_owned());
        let (answers, untold) = (self.list(kind, "reply/messages"), self.list("tell", "messages"));
        loop {
            let message = client.next().await;
            let value = self.fits(&message);
            let got = type_of(&value);
            let of_this = value.get("id").is_none_or(|id| *id == example["id"]);
            let is_whole = value.get("last").is_none_or(|last| *last == true);
            if answers.contains(got) && of_this && !is_whole {
                continue;
            }
            if answers.contains(got) && of_this {
                return value;
            }
            assert!(untold.contains(got), "{got} came to {example}, undescribed: {}", short(&value));
        }
    }

    /// Plays an example that must not be answered by an error.
    async fn good(&mut self, client: &mut Client, example: &Value) -> Value {
        let answer = self.play(client, example).await;
        assert!(
            !["error", "refused", "busy", "bye"].contains(&type_of(&answer)),
            "{example}: {}",
            short(&answer)
        );
        answer
    }

    async fn come_in(&mut self, hello: &Value) -> (Client, Value) {
        let mut client = Client::connect(self.bench.address(), None).await;
        let welcome = self.good(&mut client, hello).await;
        (client, welcome)
    }

    /// The example becomes what this server has.
    fn stands_for(&mut self, invented: &Value, real: &Value) {
        self.names.push((invented.as_str().unwrap().to_owned(), real.as_str().unwrap().to_owned()));
    }

    /// Each line works for one of these.
    async fn lines(&mut self, clients: &mut [Client]) {
        for example in self.examples("line") {
            let mut refusals = Vec::new();
            for client in &mut *clients {
                let mut example = example.clone();
                // A line under an id that another has used is nobody's.
                example["id"] = json!(Uuid::new_v4());
                let answer = self.play(client, &example).await;
                if ["accepted", "answer"].contains(&type_of(&answer)) {
                    refusals.clear();
                    break;
                }
                refusals.push(answer);
            }
            assert!(refusals.is_empty(), "{example}: {refusals:?}");
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn every_example_of_the_link_works() {
    let mut play = Play::new().await;
    let invented = play.hello("teach")["run"].clone();
    let mut hello = play.hello("teach");
    hello.as_object_mut().unwrap().remove("run");
    let (mut iris, _) = play.come_in(&hello).await;
    let open = play.examples("open").remove(0);
    let opened = play.good(&mut iris, &open).await;
    play.stands_for(&invented, &opened["runs"][0]["run"]);
    let class = play.examples("class-line")[0]["class"].clone();
    play.stands_for(&class, &opened["class"]);
    let code = play.hello("join")["as"]["join"]["code"].clone();
    play.stands_for(&code, &opened["runs"][0]["code"]);

    let (mut ada, welcome) = play.come_in(&play.hello("join")).await;
    let token = play.hello("token")["as"]["token"]["token"].clone();
    let mut ben = play.hello("join");
    ben["as"]["join"]["name"] = json!("Ben");
    ben["as"]["join"]["station"] = json!("boards");
    let (mut ben, _) = play.come_in(&ben).await;
    let uses = play.examples("use").remove(0);
    play.good(&mut iris, &uses).await;
    // The class goes on.
    let line = play.examples("class-line").remove(0);
    let answer = play.good(&mut iris, &line).await;
    assert_eq!(answer["replies"][0]["reply"]["type"], "accepted", "{answer}");
    let mut clients = [ada, ben, iris];
    play.lines(&mut clients).await;
    [ada, ben, iris] = clients;

    for kind in ["drills", "runs", "ping", "chart", "screen"] {
        for example in play.examples(kind) {
            play.good(&mut ada, &example).await;
            play.good(&mut iris, &example).await;
        }
    }
    for kind in ["archive", "board", "hand"] {
        for example in play.examples(kind) {
            play.good(&mut iris, &example).await;
        }
    }
    // The same seat on another link: the first is told and closed.
    play.stands_for(&token, &welcome["token"]);
    play.come_in(&play.hello("token")).await;
    let bye = ada.until(|message| matches!(message, ServerMessage::Bye { .. })).await;
    play.fits(&bye);
    for identity in ["look-on", "watch", "teach"] {
        play.come_in(&play.hello(identity)).await;
    }
    drop((ben, iris));

    let types: BTreeSet<String> =
        play.described.document["operations"].as_object().unwrap().keys().cloned().collect();
    let missing: Vec<_> = types.difference(&play.played).filter(|kind| *kind != "tell").collect();
    assert!(missing.is_empty(), "not played: {missing:?}");
    for kind in
        ["shelved", "unshelved", "order-given", "order-repeated", "order-reported", "reported", "act-done"]
    {
        assert!(play.kinds.contains(kind), "no {kind} came: {:?}", play.kinds);
    }
    play.bench.server.stop().await;
}

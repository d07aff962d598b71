//! The REST interface, driven by its own description: every operation gets what it describes, and then everything that it
//! does not: wrong types, missing and unknown fields, too much, too deep, bytes that are no text, paths that are none.
//! Whatever comes is answered as described, by an error that says what to do where there is one, and never by a fault of
//! the server.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod common;
#[path = "common/described.rs"]
mod described;

use common::{Bench, DRILL, PATIENCE};
use deadship_server::Document;
use described::{Described, Operation, part};
use serde_json::{Value, json};
use std::net::SocketAddr;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;

/// Longest body that the server takes, bytes.
const LONGEST_BODY: usize = 64 * 1024;

/// A request, as bytes: what is wrong may be wrong on that level.
struct Request {
    about: &'static str,
    method: String,
    path: String,
    headers: String,
    body: Vec<u8>,
}

/// Status and body; `None` when the server closed without a word, which it may where more comes than it takes.
async fn answer(address: SocketAddr, request: &Request) -> Option<(u16, String)> {
    let Request { method, path, headers, body, .. } = request;
    let mut stream = TcpStream::connect(address).await.unwrap();
    let length = body.len();
    let head = format!(
        "{method} {path} HTTP/1.1\r\nHost: test\r\nConnection: close\r\n{headers}Content-Length: {length}\r\n\r\n"
    );
    let _ = stream.write_all(&[head.as_bytes(), body].concat()).await;
    let mut answer = Vec::new();
    let _ = tokio::time::timeout(PATIENCE, stream.read_to_end(&mut answer)).await.expect("in time");
    let answer = String::from_utf8(answer).expect("text");
    let (head, body) = answer.split_once("\r\n\r\n")?;
    Some((head.split(' ').nth(1)?.parse().ok()?, body.to_owned()))
}

struct Fuzz<'a> {
    bench: &'a Bench,
    described: &'a Described,
    class: String,
    run: String,
    sent: usize,
}

impl Fuzz<'_> {
    fn headers(&self) -> String {
        format!("Authorization: Bearer {}\r\nContent-Type: application/json\r\n", self.bench.key)
    }

    fn path(&self, operation: &Operation<'_>) -> String {
        operation.path.replace("{class}", &self.class).replace("{run}", &self.run)
    }

    fn request(&self, about: &'static str, operation: &Operation<'_>, body: Vec<u8>) -> Request {
        let (method, path) = (operation.method.to_uppercase(), self.path(operation));
        Request { about, method, path, headers: self.headers(), body }
    }

    /// Sends it; what comes must be described, or a 404 where the path is no longer this operation's.
    async fn send(&mut self, operation: &Operation<'_>, request: Request) {
        self.sent += 1;
        let Request { about, method, path, .. } = &request;
        let place: String = format!("{method} {path} ({about})").chars().take(200).collect();
        let Some((status, body)) = answer(self.bench.address(), &request).await else {
            assert!(request.body.len() > LONGEST_BODY, "{place}: closed without a word");
            return;
        };
        assert_ne!(status, 500, "{place}: {body}");
        let answers = &operation.item["responses"][status.to_string()]["content"];
        match answers.as_object().and_then(|answers| answers.keys().next()) {
            Some(content) if content == "application/json" => {
                let schema = format!(
                    "/paths/{}/{}/responses/{status}/content/{}/schema",
                    part(operation.path),
                    operation.method,
                    part(content)
                );
                let body: Value =
                    serde_json::from_str(&body).unwrap_or_else(|e| panic!("{place}: {e}: {body}"));
                self.described.check(&schema, &body).unwrap_or_else(|e| panic!("{place}: {e}"));
            }
            Some(_) => {}
            None => assert_eq!(status, 404, "{place}: {status} is not described: {body}"),
        }
        if status >= 400 && status != 503 {
            let error: Value = serde_json::from_str(&body).unwrap_or_else(|e| panic!("{place}: {e}: {body}"));
            for field in ["code", "text", "remedy"] {
                assert!(
                    error[field].as_str().is_some_and(|said| !said.is_empty()),
                    "{place}: no {field}: {body}"
                );
            }
        }
    }

    async fn paths(&mut self, operation: &Operation<'_>, body: &[u8]) {
        let path = self.path(operation);
        let (class, run) = (self.class.clone(), self.run.clone());
        let long = "x".repeat(4_000);
        for odd in [
            "00000000-0000-0000-0000-000000000000",
            "x",
            "%00",
            "%ff%fe",
            "..%2f..",
            "%F0%9F%9A%A2",
            "1'--",
            &long,
        ] {
            let mut request = self.request("an odd id", operation, body.to_vec());
            request.path = path.replace(&class, odd).replace(&run, odd);
            if request.path != path {
                self.send(operation, request).await;
            }
        }
        for query in [
            "from=-1",
            "from=18446744073709551615",
            "from=first",
            "limit=0",
            "limit=4294967296",
            "from=1&from=2",
            "%ff=%ff",
            "&&==",
            "[]",
        ] {
            let mut request = self.request("an odd query", operation, body.to_vec());
            request.path = format!("{path}?{query}");
            self.send(operation, request).await;
        }
        for method in ["DELETE", "PUT", "PATCH", "BREW"] {
            let mut request = self.request("another method", operation, Vec::new());
            request.method = method.to_owned();
            self.send(operation, request).await;
        }
    }

    /// Every field missing, of every other type, too long, too deep.
    async fn fields(&mut self, operation: &Operation<'_>, example: &Value) {
        let whole = example.as_object().unwrap();
        let long = "x".repeat(LONGEST_BODY / 2);
        let wrong = [
            json!(null),
            json!(true),
            json!(-1),
            json!(1e300),
            json!(u64::MAX),
            json!(""),
            json!(" "),
            json!(long),
            json!("\u{0}\u{202e}"),
            json!([]),
            json!(["Red", "Red"]),
            json!([null]),
            json!([[[["Red"]]]]),
            json!({}),
            json!({ "a": { "b": [] } }),
            json!(vec!["T"; 3_000]),
            json!("00000000-0000-0000-0000-000000000000"),
        ];
        for name in whole.keys().chain([&"by".to_owned(), &"seed".to_owned(), &"unheard-of".to_owned()]) {
            let mut without = whole.clone();
            without.remove(name);
            let body = Value::from(without.clone()).to_string().into_bytes();
            self.send(operation, self.request("a field missing", operation, body)).await;
            for value in &wrong {
                without.insert(name.clone(), value.clone());
                let body = Value::from(without.clone()).to_string().into_bytes();
                self.send(operation, self.request("a field of another type", operation, body)).await;
            }
        }
    }

    /// Bodies that are no JSON of this kind at all.
    async fn bodies(&mut self, operation: &Operation<'_>, body: &[u8]) {
        let deep = [b"[".repeat(30_000), b"{\"text\":".repeat(5_000)];
        let odd: [(&'static str, Vec<u8>); 7] = [
            ("nothing", Vec::new()),
            ("half a body", body[..body.len() / 2].to_vec()),
            ("no text", [b"{\"text\":\"\xff\xfe\xc0\x80\"}".to_vec(), body.to_vec()].concat()),
            ("another kind", b"[1,2,3]".to_vec()),
            ("zeros", vec![0; 1_000]),
            ("too much", [body.to_vec(), b" ".repeat(LONGEST_BODY)].concat()),
            ("far too much", b"x".repeat(4 << 20)),
        ];
        for (about, body) in odd.into_iter().chain(deep.map(|body| ("deep nesting", body))) {
            self.send(operation, self.request(about, operation, body)).await;
        }
        for content in ["", "Content-Type: text/plain\r\n", "Content-Type: \u{ff}/\r\n"] {
            let mut request = self.request("another content type", operation, body.to_vec());
            request.headers = format!("Authorization: Bearer {}\r\n{content}", self.bench.key);
            self.send(operation, request).await;
        }
    }

    /// Keys that are none. Few: too many wrong ones lock the address out.
    async fn keys(&mut self, operation: &Operation<'_>, body: &[u8]) {
        for header in
            ["", "Authorization: Basic eDp4\r\n", "Authorization: Bearer\r\n", "Authorization: \u{ff}\r\n"]
        {
            let mut request = self.request("no key", operation, body.to_vec());
            request.headers = format!("{header}Content-Type: application/json\r\n");
            self.send(operation, request).await;
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn whatever_comes_is_answered_as_described() {
    let bench = Bench::new().await;
    let described = Described::of(Document::Openapi);
    let open = json!({ "drill": DRILL, "teams": ["Red"] }).to_string();
    let (_, opened) = bench.http("POST", "/api/runs", Some(&bench.key), &open).await;
    let opened: Value = serde_json::from_str(&opened).unwrap();
    let id = |value: &Value| value.as_str().unwrap().to_owned();
    let (class, run) = (id(&opened["class"]), id(&opened["runs"][0]["run"]));
    let mut fuzz = Fuzz { bench: &bench, described: &described, class, run, sent: 0 };
    for operation in described.operations() {
        let mut example = operation.item["requestBody"]["content"]["application/json"]["example"].clone();
        if example.get("drill").is_some() {
            example["drill"] = json!(DRILL);
        }
        let body = if example.is_null() { Vec::new() } else { example.to_string().into_bytes() };
        fuzz.send(&operation, fuzz.request("as described", &operation, body.clone())).await;
        fuzz.paths(&operation, &body).await;
        fuzz.keys(&operation, &body).await;
        if example.is_object() {
            fuzz.fields(&operation, &example).await;
            fuzz.bodies(&operation, &body).await;
        }
    }
    println!("{} requests to {} operations", fuzz.sent, described.operations().len());
    let (status, health) = bench.http("GET", "/api/healthz", None, "").await;
    assert!(status == 200 && health.contains("\"failed\":0"), "{status} {health}");
    bench.teach(None).await;
    bench.server.stop().await;
}

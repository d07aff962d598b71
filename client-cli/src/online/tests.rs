//! The line mode against a server that says what the test wants.

use crate::io::Io;
use deadship_protocol::{
    ByeCode, ClientMessage, ErrorCode, EventMessage, Identity, Reason, Role, RunState, ServerMessage,
    VERSION, WelcomeMessage, decode_client,
};
use futures_util::{SinkExt, StreamExt};
use std::io::{self, Cursor, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::Message;
use uuid::Uuid;

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
        String::from_utf8_lossy(&self.0.lock().unwrap()).into_owned()
    }
}

/// Status, results, talk.
fn call(args: &[&str], typed: &str, state: &Path) -> (u8, String, String) {
    let (out, talk) = (Kept::default(), Kept::default());
    let mut io = Io {
        input: Box::new(Cursor::new(typed.to_owned())),
        out: Box::new(out.clone()),
        talk: Box::new(talk.clone()),
        interactive: false,
        state_folder: Some(state.to_owned()),
    };
    let status = crate::run_with([&["deadship"], args].concat(), &mut io);
    (status, out.text(), talk.text())
}

/// One end of a link.
struct Peer(WebSocketStream<tokio::net::TcpStream>);

impl Peer {
    async fn hear(&mut self) -> ClientMessage {
        loop {
            let frame = self.0.next().await.unwrap().unwrap();
            if let Message::Text(text) = frame {
                let message = decode_client(text.as_str()).unwrap();
                if message != (ClientMessage::Ping {}) {
                    return message;
                }
            }
        }
    }

    async fn line(&mut self) -> (Uuid, String) {
        match self.hear().await {
            ClientMessage::Line { id, text } => (id, text),
            other => panic!("{other:?}"),
        }
    }

    /// Until the client has gone.
    async fn until_left(&mut self) {
        while let Some(Ok(_)) = self.0.next().await {}
    }

    async fn say(&mut self, message: ServerMessage) {
        self.0.send(Message::text(message.encode())).await.unwrap();
    }
}

/// A server for as many links as the test has pieces; its address.
fn server<F, Fut>(links: usize, serve: F) -> (String, JoinHandle<()>)
where
    F: Fn(usize, Peer) -> Fut + Send + 'static,
    Fut: Future<Output = ()>,
{
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap().to_string();
    let thread = std::thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        for link in 0..links {
            let (socket, _): (TcpStream, _) = listener.accept().unwrap();
            socket.set_nonblocking(true).unwrap();
            runtime.block_on(async {
                let socket = tokio::net::TcpStream::from_std(socket).unwrap();
                serve(link, Peer(tokio_tungstenite::accept_async(socket).await.unwrap())).await;
            });
        }
    });
    (address, thread)
}

fn state(last_seq: u64) -> RunState {
    RunState {
        run: Uuid::nil(),
        team: "Red".into(),
        drill: "pump-out".into(),
        last_seq,
        tick: 0,
        time: "0:00.0".into(),
        speed: 1.0,
        reached_speed: None,
        hold: None,
        ended: None,
        failed: None,
    }
}

fn welcome() -> ServerMessage {
    ServerMessage::Welcome(Box::new(WelcomeMessage {
        version: VERSION,
        server: "0.0.0".into(),
        role: Role::Trainee,
        name: "Ada".into(),
        station: Some("deck".into()),
        token: Some("the token".into()),
        run: Some(state(7)),
        stations: Vec::new(),
        brief: "The brief.".into(),
    }))
}

fn event(seq: u64, text: &str) -> ServerMessage {
    ServerMessage::Event(Box::new(EventMessage {
        run: Uuid::nil(),
        seq,
        tick: seq,
        time: "0:01.0".into(),
        who: "Ada (deck)".into(),
        kind: "act-done".into(),
        text: text.into(),
        data: serde_json::Value::Null,
    }))
}

#[test]
fn lines_go_out_one_after_the_other_and_survive_a_lost_link() {
    let (address, server) = server(2, |link, mut peer| async move {
        let hello = peer.hear().await;
        if link == 0 {
            assert!(
                matches!(&hello, ClientMessage::Hello { identity: Identity::Join { code, .. }, .. } if code == "4815")
            );
            peer.say(welcome()).await;
            let (id, text) = peer.line().await;
            assert_eq!(text, "close shore");
            // The event of an order may come before or after its answer; twice it is shown once.
            peer.say(event(8, "close shore")).await;
            peer.say(event(8, "close shore")).await;
            peer.say(ServerMessage::Accepted { id, seq: 8 }).await;
            let (id, _) = peer.line().await;
            peer.say(ServerMessage::Busy { id }).await;
            let (again, text) = peer.line().await;
            assert_eq!((again, text.as_str()), (id, "open shore"));
            let reasons =
                vec![Reason { code: "busy".into(), text: "your hands are busy for 8 s more".into() }];
            peer.say(ServerMessage::Refused { id, reasons }).await;
            let (_, text) = peer.line().await;
            assert_eq!(text, "say hello");
            // The link is lost before the answer.
        } else {
            let ClientMessage::Hello { identity: Identity::Token { token }, last_seq, .. } = hello else {
                panic!("{hello:?}")
            };
            assert_eq!((token.as_str(), last_seq), ("the token", Some(8)));
            peer.say(welcome()).await;
            let (id, text) = peer.line().await;
            assert_eq!(text, "say hello");
            peer.say(ServerMessage::Accepted { id, seq: 9 }).await;
            peer.say(event(9, "says: hello")).await;
            peer.until_left().await;
        }
    });
    let folder = tempfile::tempdir().unwrap();
    let typed = "# a comment\nclose shore\n\nopen shore\nsay hello\n";
    let (status, out, talk) = call(&["join", &address, "4815", "Ada"], typed, folder.path());
    server.join().unwrap();
    assert_eq!(status, 1, "a line was refused: {talk}");
    insta::assert_snapshot!(out, @r"
    The brief.

    Red: pump-out at 0:00.0
    you are Ada, station deck
    0:01.0 Ada (deck): close shore
    refused: open shore: your hands are busy for 8 s more (busy)
    0:01.0 Ada (deck): says: hello
    ");
    assert!(talk.contains("the link is lost") && talk.contains("the link is back"), "{talk}");
    assert!(!talk.contains("the token") && !out.contains("the token"));
}

#[test]
fn a_seat_can_be_taken_back() {
    let (address, server) = server(2, |link, mut peer| async move {
        let hello = peer.hear().await;
        peer.say(welcome()).await;
        if link == 0 {
            peer.say(event(12, "reset pump")).await;
            let (id, _) = peer.line().await;
            peer.say(ServerMessage::Answer { id, lines: vec!["no alerts".into()] }).await;
            peer.until_left().await;
        } else {
            assert!(
                matches!(
                    &hello,
                    ClientMessage::Hello { identity: Identity::Token { .. }, last_seq: Some(12), .. }
                ),
                "{hello:?}"
            );
            peer.until_left().await;
        }
    });
    let folder = tempfile::tempdir().unwrap();
    let (status, out, talk) =
        call(&["join", &address, "4815", "--name", "Ada"], "alerts\nquit\n", folder.path());
    assert_eq!(status, 0, "{talk}");
    assert!(out.ends_with("reset pump\nno alerts\n"), "{out}");
    let (status, out, talk) = call(&["join", &address, "--back"], "", folder.path());
    server.join().unwrap();
    assert_eq!(status, 0, "{talk}");
    assert!(!out.contains("The brief"), "{out}");
    let elsewhere = tempfile::tempdir().unwrap();
    let (status, _, talk) = call(&["join", &address, "--back"], "", elsewhere.path());
    assert_eq!(status, 2);
    assert!(talk.contains("you have no seat"), "{talk}");
}

#[test]
fn a_server_that_says_no_is_believed() {
    let (address, server) = server(2, |link, mut peer| async move {
        peer.hear().await;
        if link == 0 {
            let (text, remedy) = ("no run has this code".into(), "ask the instructor".into());
            peer.say(ServerMessage::Error { id: None, code: ErrorCode::WrongCode, text, remedy }).await;
            peer.say(ServerMessage::Bye { code: ByeCode::Refused, reason: "refused".into() }).await;
        } else {
            peer.say(welcome()).await;
            peer.line().await;
            peer.say(ServerMessage::Bye {
                code: ByeCode::Replaced,
                reason: "somebody took your seat".into(),
            })
            .await;
        }
    });
    let folder = tempfile::tempdir().unwrap();
    let (status, _, talk) = call(&["join", &address, "1", "Ada"], "", folder.path());
    assert_eq!((status, talk.as_str()), (2, "deadship: no run has this code; ask the instructor\n"));
    let (status, _, talk) = call(&["join", &address, "1", "Ada"], "look\n", folder.path());
    server.join().unwrap();
    assert_eq!(status, 2);
    assert!(talk.ends_with("deadship: somebody took your seat\n"), "{talk}");
    let (status, _, talk) = call(&["join", &address, "1", "Ada"], "", folder.path());
    assert_eq!(status, 2);
    assert!(talk.contains("no server answers at"), "{talk}");
}

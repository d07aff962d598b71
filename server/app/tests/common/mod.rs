//! A server on a port of its own, and clients that wait for messages, never for time.
#![allow(dead_code, clippy::expect_used, reason = "every test file uses its part")]

use deadship_protocol::{
    ClientMessage, Identity, OpenedRun, ServerMessage, VERSION, WelcomeMessage, decode_server,
};
use deadship_run::library::Library;
use deadship_server::{Config, Server, StartError, start};
use futures_util::{SinkExt as _, StreamExt as _};
use std::collections::VecDeque;
use std::net::SocketAddr;
use std::path::Path;
use std::time::Duration;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpSocket, TcpStream};
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::Message;
use uuid::Uuid;

/// Nothing takes so long unless it is broken.
pub const PATIENCE: Duration = Duration::from_secs(30);

/// The drill of these tests.
pub const DRILL: &str = "tank";

/// What the servers of these tests know.
pub fn library() -> Library {
    let files = [
        ("ships/tender/ship.toml", include_str!("../fixtures/ship.toml")),
        ("library/tank.toml", include_str!("../fixtures/drill.toml")),
    ];
    Library::default().with(files.map(|(name, text)| (name.to_owned(), text.to_owned())))
}

/// Starts on a free port.
pub async fn start_on(data: &Path) -> Result<Server, StartError> {
    start_with(data, library()).await
}

async fn start_with(data: &Path, library: Library) -> Result<Server, StartError> {
    let listen = SocketAddr::from(([127, 0, 0, 1], 0));
    start(Config {
        listen,
        data: data.to_owned(),
        library,
        new_key: false,
        tls: false,
        keep_days: None,
        team_sees_ratings: None,
    })
    .await
}

/// A server with a folder of its own.
pub struct Bench {
    pub server: Server,
    pub folder: tempfile::TempDir,
    pub key: String,
}

impl Bench {
    pub async fn new() -> Bench {
        Bench::with(library()).await
    }

    pub async fn with(library: Library) -> Bench {
        let folder = tempfile::tempdir().expect("a folder");
        let server = start_with(folder.path(), library).await.expect("a server");
        let key = server.instructor_key().expect("a first start").to_owned();
        Bench { server, folder, key }
    }

    /// Stops and starts again on the same folder.
    pub async fn restart(self) -> Bench {
        let Bench { server, folder, key } = self;
        server.stop().await;
        let server = start_on(folder.path()).await.expect("a server");
        Bench { server, folder, key }
    }

    pub fn address(&self) -> SocketAddr {
        self.server.address()
    }

    pub async fn teach(&self, run: Option<Uuid>) -> Client {
        let identity = Identity::Teach { key: self.key.clone(), name: None };
        Client::hello(self.address(), identity, run, None).await.0
    }

    /// Opens a class and gives the instructor, who uses the first run, and the runs.
    pub async fn class(&self, teams: &[&str], hold: bool) -> (Client, Vec<OpenedRun>) {
        let mut teacher = self.teach(None).await;
        let open = ClientMessage::Open {
            id: Uuid::new_v4(),
            drill: DRILL.to_owned(),
            teams: teams.iter().map(|team| (*team).to_owned()).collect(),
            title: None,
            seed: None,
            difficulty: None,
            stress: None,
            hold,
            crew: None,
            from: None,
        };
        teacher.send(&open).await;
        let opened = teacher.until(|message| matches!(message, ServerMessage::Opened { .. })).await;
        let ServerMessage::Opened { runs, .. } = opened else { unreachable!() };
        teacher.send(&ClientMessage::Use { run: runs[0].run, last_seq: None }).await;
        teacher.until(|message| matches!(message, ServerMessage::State(_))).await;
        (teacher, runs)
    }

    pub async fn join(&self, run: &OpenedRun, name: &str, station: &str) -> (Client, WelcomeMessage) {
        let (code, name) = (run.code.clone(), name.to_owned());
        let identity = Identity::Join { code, name, station: Some(station.to_owned()) };
        Client::hello(self.address(), identity, None, None).await
    }

    /// A request; gives status and body.
    pub async fn http(&self, method: &str, path: &str, key: Option<&str>, body: &str) -> (u16, String) {
        let mut stream = TcpStream::connect(self.address()).await.expect("a connection");
        let key = key.map_or_else(String::new, |key| format!("Authorization: Bearer {key}\r\n"));
        let length = body.len();
        let request = format!(
            "{method} {path} HTTP/1.1\r\nHost: test\r\nConnection: close\r\n{key}Content-Type: \
             application/json\r\nContent-Length: {length}\r\n\r\n{body}"
        );
        stream.write_all(request.as_bytes()).await.expect("sent");
        let mut answer = Vec::new();
        tokio::time::timeout(PATIENCE, stream.read_to_end(&mut answer))
            .await
            .expect("in time")
            .expect("read");
        let answer = String::from_utf8(answer).expect("text");
        let status = answer.split(' ').nth(1).and_then(|status| status.parse().ok()).expect("a status");
        let body = answer.split_once("\r\n\r\n").map_or("", |(_, body)| body);
        (status, body.to_owned())
    }
}

/// A client.
pub struct Client {
    socket: WebSocketStream<TcpStream>,
    /// What came while a reply was waited for.
    kept: VecDeque<ServerMessage>,
}

impl Client {
    /// Connects without a word. A small window makes a slow reader slow.
    pub async fn connect(address: SocketAddr, window: Option<u32>) -> Client {
        let socket = TcpSocket::new_v4().expect("a socket");
        if let Some(window) = window {
            socket.set_recv_buffer_size(window).expect("a window");
        }
        let stream = socket.connect(address).await.expect("a connection");
        let url = format!("ws://{address}{}", deadship_protocol::PATH);
        let (socket, _) = tokio_tungstenite::client_async(url, stream).await.expect("a WebSocket");
        Client { socket, kept: VecDeque::new() }
    }

    /// Connects, says hello, and is welcome.
    pub async fn hello(
        address: SocketAddr,
        identity: Identity,
        run: Option<Uuid>,
        last_seq: Option<u64>,
    ) -> (Client, WelcomeMessage) {
        let (client, answer) = Client::ask_in(address, identity, run, last_seq).await;
        match answer {
            ServerMessage::Welcome(welcome) => (client, *welcome),
            other => panic!("not welcome: {other:?}"),
        }
    }

    /// Connects and says hello; gives the first answer, whatever it is.
    pub async fn ask_in(
        address: SocketAddr,
        identity: Identity,
        run: Option<Uuid>,
        last_seq: Option<u64>,
    ) -> (Client, ServerMessage) {
        let mut client = Client::connect(address, None).await;
        client.send(&ClientMessage::Hello { version: VERSION, identity, run, last_seq }).await;
        let answer = client.next().await;
        (client, answer)
    }

    pub async fn send(&mut self, message: &ClientMessage) {
        self.send_text(&message.encode()).await;
    }

    pub async fn send_text(&mut self, text: &str) {
        self.socket.send(Message::text(text.to_owned())).await.expect("sent");
    }

    /// The same where the server may have closed meanwhile.
    pub async fn try_send_text(&mut self, text: &str) -> bool {
        self.socket.send(Message::text(text.to_owned())).await.is_ok()
    }

    /// The next message.
    pub async fn next(&mut self) -> ServerMessage {
        match self.kept.pop_front() {
            Some(message) => message,
            None => self.receive().await,
        }
    }

    /// The next message; `None` when the link was closed, also without a goodbye: one that cannot be delivered.
    pub async fn next_or_closed(&mut self) -> Option<ServerMessage> {
        let message = async {
            loop {
                match self.socket.next().await {
                    Some(Ok(Message::Text(text))) => {
                        return Some(decode_server(text.as_str()).expect("a message"));
                    }
                    None | Some(Err(_) | Ok(Message::Close(_))) => return None,
                    Some(Ok(_)) => {}
                }
            }
        };
        tokio::time::timeout(PATIENCE, message).await.expect("in time")
    }

    async fn receive(&mut self) -> ServerMessage {
        let message = async {
            loop {
                match self.socket.next().await.expect("not closed").expect("no error") {
                    Message::Text(text) => return decode_server(text.as_str()).expect("a message"),
                    Message::Close(_) => panic!("closed"),
                    _ => {}
                }
            }
        };
        tokio::time::timeout(PATIENCE, message).await.expect("in time")
    }

    /// The next message that is wanted.
    pub async fn until(&mut self, wanted: impl Fn(&ServerMessage) -> bool) -> ServerMessage {
        loop {
            let message = self.next().await;
            if wanted(&message) {
                return message;
            }
        }
    }

    /// The next event that is wanted: seq and kind.
    pub async fn event(&mut self, kind: &str) -> deadship_protocol::EventMessage {
        let wanted = |m: &ServerMessage| matches!(m, ServerMessage::Event(event) if event.kind == kind);
        match self.until(wanted).await {
            ServerMessage::Event(event) => *event,
            _ => unreachable!(),
        }
    }

    /// Sends a line and gives its reply.
    pub async fn line(&mut self, text: &str) -> ServerMessage {
        self.line_as(Uuid::new_v4(), text).await
    }

    pub async fn line_as(&mut self, line: Uuid, text: &str) -> ServerMessage {
        self.send(&ClientMessage::Line { id: line, text: text.to_owned() }).await;
        let is_reply = |message: &ServerMessage| match message {
            ServerMessage::Answer { id, .. }
            | ServerMessage::Accepted { id, .. }
            | ServerMessage::Refused { id, .. }
            | ServerMessage::Busy { id } => *id == line,
            ServerMessage::Error { id, .. } => *id == Some(line),
            _ => false,
        };
        loop {
            let message = self.receive().await;
            if is_reply(&message) {
                return message;
            }
            self.kept.push_back(message);
        }
    }

    /// Sends an order that must be accepted; gives its seq.
    pub async fn order(&mut self, text: &str) -> u64 {
        match self.line(text).await {
            ServerMessage::Accepted { seq, .. } => seq,
            other => panic!("{text}: {other:?}"),
        }
    }

    /// Sends an order that must be refused; gives the reasons as code and text.
    pub async fn refused(&mut self, text: &str) -> Vec<(String, String)> {
        match self.line(text).await {
            ServerMessage::Refused { reasons, .. } => reasons.into_iter().map(|r| (r.code, r.text)).collect(),
            other => panic!("{text}: {other:?}"),
        }
    }
}

//! A real server process, spoken to over real sockets.

use deadship_protocol::{ClientMessage, Identity, PATH, ServerMessage, VERSION, decode_server};
use futures_util::{SinkExt, StreamExt};
use serde_json::Value;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::Duration;
use tokio_tungstenite::tungstenite::Message;
use uuid::Uuid;

/// How long anything may take before a test gives up: far longer than it does.
pub const PATIENCE: Duration = Duration::from_secs(60);

/// A running server.
#[derive(Debug)]
pub struct ServerProcess {
    child: Child,
    /// Kept open: a server whose output is closed could not print.
    _out: BufReader<ChildStdout>,
    /// `127.0.0.1:PORT`.
    pub address: String,
    /// What it printed up to "Serving on".
    pub printed: String,
}

impl ServerProcess {
    /// Starts a server on a free port and waits until it serves.
    ///
    /// # Panics
    /// When it does not start; with what it printed.
    pub fn start(program: &str, data: &Path) -> ServerProcess {
        ServerProcess::start_with(program, &[], data)
    }

    /// The same, with words before its own.
    ///
    /// # Panics
    /// When it does not start; with what it printed.
    pub fn start_with(program: &str, words: &[&str], data: &Path) -> ServerProcess {
        let mut child = match Command::new(program)
            .args(words)
            .args(["--listen", "127.0.0.1:0", "--data"])
            .arg(data)
            .stdout(Stdio::piped())
            .stderr(Stdio::inherit())
            .spawn()
        {
            Ok(child) => child,
            Err(error) => panic!("{program} does not start: {error}"),
        };
        let Some(out) = child.stdout.take() else { panic!("no output") };
        let mut out = BufReader::new(out);
        let mut printed = String::new();
        loop {
            let mut line = String::new();
            let read = out.read_line(&mut line).unwrap_or(0);
            assert!(read > 0, "the server ended before it served; it printed:\n{printed}");
            printed.push_str(&line);
            if let Some((_, rest)) = line.split_once("erving on ") {
                let address = rest.split(". ").next().unwrap_or_default().trim().to_owned();
                return ServerProcess { child, _out: out, address, printed };
            }
        }
    }

    /// The instructor's key, printed at the first start only.
    ///
    /// # Panics
    /// When none was printed.
    pub fn key(&self) -> String {
        let line = self.printed.lines().find(|line| line.trim_start().starts_with("Key"));
        match line.and_then(|line| line.split_whitespace().nth(1)) {
            Some(key) => key.to_owned(),
            None => panic!("no key in:\n{}", self.printed),
        }
    }

    /// Its process.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// SIGSTOP: none of its threads does anything more, as when the power goes.
    ///
    /// # Panics
    /// When that is not possible.
    pub fn freeze(&self) {
        let stopped = Command::new("kill").args(["-STOP", &self.id().to_string()]).status();
        assert!(stopped.is_ok_and(|status| status.success()), "the server could not be frozen");
    }

    /// SIGKILL.
    ///
    /// # Panics
    /// When it is gone already.
    pub fn kill(mut self) {
        if let Err(error) = self.child.kill() {
            panic!("the server could not be killed: {error}");
        }
        let _ = self.child.wait();
    }

    /// A request of REST; the status and the body.
    ///
    /// # Panics
    /// When the connection fails.
    pub fn rest(&self, method: &str, path: &str, key: &str, body: Option<&Value>) -> (u16, String) {
        match self.try_rest(method, path, key, body) {
            Ok(answer) => answer,
            Err(error) => panic!("{method} {path}: {error}"),
        }
    }

    fn try_rest(
        &self,
        method: &str,
        path: &str,
        key: &str,
        body: Option<&Value>,
    ) -> std::io::Result<(u16, String)> {
        let mut stream = TcpStream::connect(&self.address)?;
        stream.set_read_timeout(Some(PATIENCE))?;
        let body = body.map(Value::to_string).unwrap_or_default();
        let head = format!(
            "{method} {path} HTTP/1.0\r\nHost: {}\r\nAuthorization: Bearer {key}\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n",
            self.address,
            body.len()
        );
        stream.write_all(head.as_bytes())?;
        stream.write_all(body.as_bytes())?;
        let mut answer = String::new();
        stream.read_to_string(&mut answer)?;
        let (head, body) = answer.split_once("\r\n\r\n").unwrap_or((&answer, ""));
        let status = head.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0);
        Ok((status, body.to_owned()))
    }

    /// Opens a link and says hello.
    ///
    /// # Panics
    /// When the server does not answer.
    pub async fn link(&self, identity: Identity, run: Option<Uuid>, last_seq: Option<u64>) -> Link {
        let url = format!("ws://{}{PATH}", self.address);
        let socket = match tokio_tungstenite::connect_async(url).await {
            Ok((socket, _)) => socket,
            Err(error) => panic!("no link: {error}"),
        };
        let mut link = Link { socket };
        link.send(&ClientMessage::Hello { version: VERSION, identity, run, last_seq }).await;
        link
    }
}

impl Drop for ServerProcess {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// One WebSocket link.
#[derive(Debug)]
pub struct Link {
    socket: tokio_tungstenite::WebSocketStream<tokio_tungstenite::MaybeTlsStream<tokio::net::TcpStream>>,
}

impl Link {
    /// Sends a message; false when the link is gone.
    pub async fn send(&mut self, message: &ClientMessage) -> bool {
        self.socket.send(Message::text(message.encode())).await.is_ok()
    }

    /// Sends any text.
    pub async fn send_text(&mut self, text: String) -> bool {
        self.socket.send(Message::text(text)).await.is_ok()
    }

    /// The next message; `None` when the link is gone.
    ///
    /// # Panics
    /// When nothing comes for far too long, or what comes cannot be read.
    pub async fn next(&mut self) -> Option<ServerMessage> {
        loop {
            let frame = match tokio::time::timeout(PATIENCE, self.socket.next()).await {
                Ok(frame) => frame?,
                Err(_) => panic!("nothing came for {PATIENCE:?}"),
            };
            match frame {
                Ok(Message::Text(text)) => match decode_server(text.as_str()) {
                    Ok(message) => return Some(message),
                    Err(error) => panic!("{text}: {error:?}"),
                },
                Ok(Message::Close(_)) | Err(_) => return None,
                Ok(_) => {}
            }
        }
    }

    /// The next message that is wanted; others are passed over.
    ///
    /// # Panics
    /// When the link ends first.
    pub async fn wait<T>(&mut self, what: &str, wanted: impl Fn(&ServerMessage) -> Option<T>) -> T {
        loop {
            let Some(message) = self.next().await else { panic!("the link ended while waiting for {what}") };
            if let Some(found) = wanted(&message) {
                return found;
            }
        }
    }

    /// Sends a line and waits for its one reply.
    pub async fn line(&mut self, text: &str) -> ServerMessage {
        let id = Uuid::new_v4();
        self.send(&ClientMessage::Line { id, text: text.into() }).await;
        self.wait(text, |message| (reply_to(message) == Some(id)).then(|| message.clone())).await
    }
}

/// The line that a message answers, if it answers one.
pub fn reply_to(message: &ServerMessage) -> Option<Uuid> {
    match message {
        ServerMessage::Accepted { id, .. }
        | ServerMessage::Refused { id, .. }
        | ServerMessage::Answer { id, .. }
        | ServerMessage::Busy { id } => Some(*id),
        ServerMessage::Error { id, .. } => *id,
        _ => None,
    }
}

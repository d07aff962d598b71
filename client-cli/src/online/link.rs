//! One WebSocket to a server.

use super::address::Address;
use super::trust::{self, Wire};
use crate::failure::Failure;
use deadship_protocol::{
    ByeCode, ClientMessage, ErrorCode, ServerMessage, VERSION, WelcomeMessage, decode_server,
};
use futures_util::{SinkExt, StreamExt};
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::time::{Instant, timeout};
use tokio_tungstenite::tungstenite::{self, Message};
use tokio_tungstenite::{WebSocketStream, client_async};

/// How long a server may take to answer at the beginning.
const PATIENCE: Duration = Duration::from_secs(10);
/// How often the link is kept awake.
pub(crate) const PING_EVERY: Duration = Duration::from_secs(15);
/// A link on which nothing came for so long is taken as lost.
const SILENCE: Duration = Duration::from_secs(45);

/// A link on which the server has said welcome.
pub(crate) struct Link {
    socket: WebSocketStream<Box<dyn Wire>>,
    heard: Instant,
}

/// Why there is no link.
#[derive(Debug)]
pub(crate) enum NoLink {
    /// The server cannot be reached now.
    Unreachable(String),
    /// The server does not prove who it is, or there is nothing to prove it by. Says what to do.
    Untrusted(String),
    /// The server does not want this.
    Refused {
        /// Stable word.
        code: ErrorCode,
        /// What and what to do.
        text: String,
    },
}

impl NoLink {
    /// As an end of the command.
    pub(crate) fn failure(self, address: &Address) -> Failure {
        match self {
            NoLink::Unreachable(why) => Failure::Link(format!(
                "no server answers at {address}: {why}; is the address right, the server running, and the network \
                 the same?"
            )),
            NoLink::Untrusted(text) | NoLink::Refused { text, .. } => Failure::Link(text),
        }
    }
}

/// What ended a link.
#[derive(Debug)]
pub(crate) enum Lost {
    /// The network, or the server without a word.
    Gone(String),
    /// The server said why.
    Bye {
        /// Stable word.
        code: ByeCode,
        /// For people.
        reason: String,
    },
}

async fn connect(address: &Address) -> Result<WebSocketStream<Box<dyn Wire>>, NoLink> {
    // What is wrong with the authority's file is said before anybody is asked.
    let trusted = if address.is_secure() { Some(trust::connector(address)?) } else { None };
    let stream = TcpStream::connect(address.host_port()).await;
    let stream = stream.map_err(|error| NoLink::Unreachable(error.to_string()))?;
    // Orders are short: they shall not wait for more to be sent along. Where that cannot be set they do.
    let _ = stream.set_nodelay(true);
    let stream: Box<dyn Wire> = match trusted {
        Some(connector) => trust::encrypted(&connector, address, stream).await?,
        None => Box::new(stream),
    };
    match client_async(address.url(), stream).await {
        Ok((socket, _)) => Ok(socket),
        // An encrypting server answers what is no handshake of its own with an alert and closes.
        Err(error) if !address.is_secure() && !matches!(error, tungstenite::Error::Http(_)) => {
            Err(NoLink::Unreachable(format!(
                "{error}; if the server was started with --tls, write https://{} and name its authority's file with \
                 --authority FILE",
                address.host_port()
            )))
        }
        Err(error) => Err(NoLink::Unreachable(error.to_string())),
    }
}

impl Link {
    /// Connects and says hello.
    pub(crate) async fn open(
        address: &Address,
        hello: &ClientMessage,
    ) -> Result<(Link, Box<WelcomeMessage>), NoLink> {
        let unreachable = |what: String| NoLink::Unreachable(what);
        let connecting = timeout(PATIENCE, connect(address)).await;
        let socket = connecting.map_err(|_| unreachable("it takes too long".to_owned()))??;
        let mut link = Link { socket, heard: Instant::now() };
        link.send(hello).await.map_err(|lost| unreachable(lost.to_string()))?;
        let deadline = Instant::now() + PATIENCE;
        loop {
            let message = tokio::time::timeout_at(deadline, link.next()).await;
            match message.map_err(|_| unreachable("it does not answer".to_owned()))? {
                Ok(ServerMessage::Welcome(welcome)) if welcome.version != VERSION => {
                    let text = format!(
                        "the server speaks version {} of the protocol, this terminal version {VERSION}; use the \
                         terminal that came with the server",
                        welcome.version
                    );
                    return Err(NoLink::Refused { code: ErrorCode::WrongVersion, text });
                }
                Ok(ServerMessage::Welcome(welcome)) => return Ok((link, welcome)),
                Ok(ServerMessage::Error { code, text, remedy, .. }) => {
                    return Err(NoLink::Refused { code, text: joined(&text, &remedy) });
                }
                Ok(_) => {}
                Err(lost) => return Err(unreachable(lost.to_string())),
            }
        }
    }

    /// Sends a message.
    pub(crate) async fn send(&mut self, message: &ClientMessage) -> Result<(), Lost> {
        let sent = self.socket.send(Message::text(message.encode())).await;
        sent.map_err(|error| Lost::Gone(error.to_string()))
    }

    /// The next message. Can be dropped while it waits without losing any.
    pub(crate) async fn next(&mut self) -> Result<ServerMessage, Lost> {
        loop {
            let frame = match self.socket.next().await {
                Some(Ok(frame)) => frame,
                Some(Err(error)) => return Err(Lost::Gone(error.to_string())),
                None => return Err(Lost::Gone("the server closed the link".to_owned())),
            };
            self.heard = Instant::now();
            match frame {
                Message::Text(text) => match decode_server(text.as_str()) {
                    Ok(ServerMessage::Bye { code, reason }) => return Err(Lost::Bye { code, reason }),
                    Ok(message) => return Ok(message),
                    // A type that this terminal does not know says nothing to it.
                    Err(_) => {}
                },
                Message::Close(_) => return Err(Lost::Gone("the server closed the link".to_owned())),
                _ => {}
            }
        }
    }

    /// Keeps the link awake, and notices when it is dead.
    pub(crate) async fn ping(&mut self) -> Result<(), Lost> {
        if self.heard.elapsed() > SILENCE {
            return Err(Lost::Gone("nothing came from the server for too long".to_owned()));
        }
        self.send(&ClientMessage::Ping {}).await
    }

    /// Says goodbye.
    pub(crate) async fn close(mut self) {
        let _ = timeout(Duration::from_secs(1), self.socket.close(None)).await;
    }
}

impl Lost {
    /// Why it is not to be taken back, when the server wants this client no more.
    pub(crate) fn for_good(&self) -> Option<&str> {
        match self {
            Lost::Bye {
                code: ByeCode::Refused | ByeCode::Replaced | ByeCode::Misbehaving | ByeCode::RunGone,
                reason,
            } => Some(reason),
            _ => None,
        }
    }
}

impl std::fmt::Display for Lost {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Lost::Gone(why) => f.write_str(why),
            Lost::Bye { reason, .. } => f.write_str(reason),
        }
    }
}

/// What and what to do about it.
pub(crate) fn joined(text: &str, remedy: &str) -> String {
    if remedy.is_empty() { text.to_owned() } else { format!("{text}; {remedy}") }
}

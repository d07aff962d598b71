//! A client's link: the one task that talks to its socket.

mod class;
mod hello;
mod requests;
mod seat;
mod speed_limit;

use crate::fault::Fault;
use crate::rooms::Rooms;
use crate::run_task::clients::Frame;
use actix_web::http::header::{HOST, ORIGIN};
use actix_web::{HttpRequest, HttpResponse, web};
use actix_ws::{AggregatedMessage, AggregatedMessageStream, CloseCode, CloseReason, ProtocolError, Session};
use deadship_protocol::{ByeCode, ClientMessage, ErrorCode, LONGEST_FRAME, ServerMessage, decode_client};
use futures_util::StreamExt as _;
use seat::Seat;
use speed_limit::SpeedLimit;
use std::net::IpAddr;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::watch;
use uuid::Uuid;

/// A frame beyond this breaks the link at once; between this and the limit of the protocol it is refused.
const LARGEST_SOCKET_FRAME: usize = 4 * LONGEST_FRAME;

/// How long a socket may take one frame.
const SEND_PATIENCE: Duration = Duration::from_secs(10);

/// How often the server asks whether the client is still there, and how long it may be silent.
const PING_EVERY: Duration = Duration::from_secs(15);
const LONGEST_SILENCE: Duration = Duration::from_secs(60);

/// How long a client may take to say who it is.
const HELLO_PATIENCE: Duration = Duration::from_secs(10);

/// Wrong frames on one link.
const MOST_WRONG: u32 = 30;

/// Why a link ends: code and reason, or the socket is gone.
type End = Option<(ByeCode, String)>;

fn bye<T>(code: ByeCode, reason: impl Into<String>) -> ControlFlow<End, T> {
    ControlFlow::Break(Some((code, reason.into())))
}

/// The endpoint.
pub(crate) async fn endpoint(
    request: HttpRequest,
    body: web::Payload,
    rooms: web::Data<Arc<Rooms>>,
) -> Result<HttpResponse, actix_web::Error> {
    if let Some(origin) = foreign_origin(&request) {
        let text = format!("a page of {origin} cannot open links here");
        return Err(Fault::new(ErrorCode::NotYourRole, text, "open the page of this server").into());
    }
    let (response, session, stream) = actix_ws::handle(&request, body)?;
    let stream = stream
        .max_frame_size(LARGEST_SOCKET_FRAME)
        .aggregate_continuations()
        .max_continuation_size(LARGEST_SOCKET_FRAME);
    let from = request.peer_addr().map(|address| address.ip());
    let rooms = Arc::clone(rooms.get_ref());
    let stopping = rooms.stopping();
    let link = Link {
        number: rooms.new_client(),
        rooms,
        session,
        stream,
        from,
        seat: None,
        limit: SpeedLimit::new(Instant::now()),
        wrong: 0,
        heard: Instant::now(),
        next_look: Instant::now() + PING_EVERY,
        stopping,
        board: None,
    };
    actix_web::rt::spawn(link.run());
    Ok(response)
}

/// The origin of a page of another site: browsers let any page open a WebSocket anywhere, with the user's network.
/// Programs that are no browsers send none.
fn foreign_origin(request: &HttpRequest) -> Option<String> {
    let origin = request.headers().get(ORIGIN)?.to_str().unwrap_or("an unreadable origin");
    let host = request.headers().get(HOST).and_then(|host| host.to_str().ok());
    let own = origin.split_once("://").map(|(_, own)| own);
    (own.is_none() || own != host).then(|| origin.to_owned())
}

/// A link.
struct Link {
    /// Tells it from others on the log.
    number: u64,
    rooms: Arc<Rooms>,
    session: Session,
    stream: AggregatedMessageStream,
    from: Option<IpAddr>,
    /// Who is at the other end, once that is known.
    seat: Option<Seat>,
    limit: SpeedLimit,
    wrong: u32,
    heard: Instant,
    /// When to look next whether the client is still there.
    next_look: Instant,
    stopping: watch::Receiver<bool>,
    /// The board, for those who asked for it.
    board: Option<watch::Receiver<Option<Frame>>>,
}

/// What woke a link up.
enum Woken {
    Socket(Option<Result<AggregatedMessage, ProtocolError>>),
    Run(seat::FromRun),
    Board(Option<Frame>),
    Clock,
    Stopping,
}

impl Link {
    async fn run(mut self) {
        let end = match self.hello().await {
            ControlFlow::Continue(()) => loop {
                if let ControlFlow::Break(end) = self.turn().await {
                    break end;
                }
            },
            ControlFlow::Break(end) => end,
        };
        self.note_end(&end);
        if let Some(seat) = &mut self.seat {
            seat.detach();
        }
        let Some((code, reason)) = end else { return };
        let close = CloseReason { code: close_code(code), description: Some(code.word().to_owned()) };
        let frame = ServerMessage::Bye { code, reason }.encode();
        // Whoever takes nothing any more is not waited for long.
        let patience =
            if code == ByeCode::TooSlow { Duration::from_millis(200) } else { Duration::from_secs(2) };
        let farewell = async {
            if self.session.text(frame).await.is_ok() {
                let _ = self.session.close(Some(close)).await;
            }
        };
        let _ = tokio::time::timeout(patience, farewell).await;
    }

    /// Says on the log how it ended; the reason for people may repeat what they sent, the code does not.
    fn note_end(&self, end: &End) {
        let Some(seat) = &self.seat else { return };
        if matches!(end, Some((ByeCode::TooSlow, _))) {
            self.rooms.metrics.slow_clients.inc();
        }
        let run = seat.run().map(tracing::field::display);
        let client = self.number;
        match end {
            Some((code @ (ByeCode::TooSlow | ByeCode::Misbehaving), _)) => {
                tracing::warn!(client, run, bye = code.word(), "a client was sent away");
            }
            Some((code, _)) => tracing::info!(client, run, bye = code.word(), "a client has left"),
            None => tracing::info!(client, run, "a client is gone"),
        }
    }

    /// One thing after another: what has come first, then what is to be sent.
    async fn turn(&mut self) -> ControlFlow<End> {
        if let Some(seat) = &mut self.seat
            && let Some(from_seq) = seat.refill_due()
        {
            return self.refill(from_seq, true).await;
        }
        let woken = self.wait().await;
        match woken {
            Woken::Socket(Some(Ok(message))) => self.heard(message).await,
            Woken::Socket(Some(Err(error))) => self.broken(&error).await,
            Woken::Socket(None) => ControlFlow::Break(None),
            Woken::Run(from) => self.pass_on(from).await,
            Woken::Board(Some(frame)) => self.send_frame(&frame).await,
            Woken::Board(None) => ControlFlow::Continue(()),
            Woken::Clock => self.clock().await,
            Woken::Stopping => bye(ByeCode::Stopping, "the server is stopping; what was done is kept"),
        }
    }

    async fn wait(&mut self) -> Woken {
        let Link { stream, seat, stopping, next_look, board, .. } = self;
        let drawn = async {
            let Some(board) = board else { return std::future::pending().await };
            // The board lives as long as the server.
            if board.changed().await.is_err() {
                return std::future::pending().await;
            }
            board.borrow_and_update().clone()
        };
        let from_run = async {
            match seat {
                Some(seat) => seat.next().await,
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            biased;
            _ = stopping.wait_for(|stopping| *stopping) => Woken::Stopping,
            // An instant, not a pause: however much comes and goes, the look is due.
            () = tokio::time::sleep_until((*next_look).into()) => Woken::Clock,
            message = stream.next() => Woken::Socket(message),
            from = from_run => Woken::Run(from),
            frame = drawn => Woken::Board(frame),
        }
    }

    async fn pass_on(&mut self, from: seat::FromRun) -> ControlFlow<End> {
        match from {
            seat::FromRun::Frame(frame) => self.send_frame(&frame).await,
            seat::FromRun::Leave(code, reason) => bye(code, reason),
            seat::FromRun::Nothing => ControlFlow::Continue(()),
            seat::FromRun::Gone => self.run_gone().await,
        }
    }

    /// The run's task has ended. A trainee has nothing else here; others can choose another run.
    async fn run_gone(&mut self) -> ControlFlow<End> {
        if *self.stopping.borrow() {
            return bye(ByeCode::Stopping, "the server is stopping; what was done is kept");
        }
        let state = self.seat.as_ref().and_then(Seat::run).and_then(|run| self.rooms.state(run));
        let why = state.as_ref().and_then(|state| state.failed.clone());
        let why = why.unwrap_or_else(|| "its task ended".to_owned());
        if let Some(state) = state {
            self.send(&ServerMessage::State(state)).await?;
        }
        self.send(&Fault::run_failed(&why).message(None)).await?;
        match &mut self.seat {
            Some(seat) if seat.is_staff() => {
                seat.detach();
                ControlFlow::Continue(())
            }
            _ => bye(ByeCode::RunGone, why),
        }
    }

    async fn clock(&mut self) -> ControlFlow<End> {
        self.next_look = Instant::now() + PING_EVERY;
        if self.heard.elapsed() > LONGEST_SILENCE {
            return bye(ByeCode::Idle, "nothing was heard for a minute");
        }
        let ping = self.session.ping(b"");
        match tokio::time::timeout(SEND_PATIENCE, ping).await {
            Ok(Ok(())) => ControlFlow::Continue(()),
            Ok(Err(_)) => ControlFlow::Break(None),
            Err(_) => bye(ByeCode::TooSlow, "nothing was taken for 10 seconds"),
        }
    }

    async fn heard(&mut self, message: AggregatedMessage) -> ControlFlow<End> {
        self.heard = Instant::now();
        match message {
            AggregatedMessage::Text(text) => match decode_client(&text) {
                Ok(message) => self.asked(message).await,
                Err(bad) => {
                    let fault = Fault::new(bad.code(), bad.to_string(), "see the protocol's documentation");
                    self.wrong(fault).await
                }
            },
            AggregatedMessage::Binary(_) => {
                let text = "frames are text, this one is binary";
                self.wrong(Fault::new(ErrorCode::BadFrame, text, "send JSON as text")).await
            }
            AggregatedMessage::Ping(bytes) => {
                let _ = tokio::time::timeout(SEND_PATIENCE, self.session.pong(&bytes)).await;
                ControlFlow::Continue(())
            }
            AggregatedMessage::Pong(_) => ControlFlow::Continue(()),
            AggregatedMessage::Close(_) => ControlFlow::Break(None),
        }
    }

    async fn broken(&mut self, error: &ProtocolError) -> ControlFlow<End> {
        let text = match error {
            ProtocolError::Overflow => format!("a frame is longer than {LARGEST_SOCKET_FRAME} bytes"),
            ProtocolError::Io(_) => return ControlFlow::Break(None),
            other => format!("the frames cannot be read: {other}"),
        };
        let fault = Fault::new(ErrorCode::FrameTooLong, text.clone(), "send shorter frames");
        self.send(&fault.message(None)).await?;
        bye(ByeCode::Misbehaving, text)
    }

    /// Something wrong came. Too often is too much.
    async fn wrong(&mut self, fault: Fault) -> ControlFlow<End> {
        self.wrong += 1;
        self.send(&fault.message(None)).await?;
        if self.wrong > MOST_WRONG {
            return bye(ByeCode::Misbehaving, "too much of what came was wrong");
        }
        ControlFlow::Continue(())
    }

    async fn asked(&mut self, message: ClientMessage) -> ControlFlow<End> {
        match message {
            ClientMessage::Line { id, text } => self.line(id, text).await,
            ClientMessage::Ping {} => self.send(&ServerMessage::Pong {}).await,
            ClientMessage::Hello { .. } => {
                let text = "this link has said hello already";
                self.wrong(Fault::new(ErrorCode::HelloTwice, text, "open another link")).await
            }
            other => self.request(other).await,
        }
    }

    async fn send(&mut self, message: &ServerMessage) -> ControlFlow<End> {
        self.send_text(message.encode()).await
    }

    async fn send_frame(&mut self, frame: &Frame) -> ControlFlow<End> {
        self.send_text(frame.to_string()).await
    }

    /// Waits while the socket is slow, but not for ever, and not when the run says that the client must go.
    async fn send_text(&mut self, text: String) -> ControlFlow<End> {
        let Link { session, seat, .. } = self;
        let sent_away = async {
            match seat {
                Some(seat) => seat.sent_away().await,
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            biased;
            sent = session.text(text) => match sent {
                Ok(()) => ControlFlow::Continue(()),
                Err(_) => ControlFlow::Break(None),
            },
            (code, reason) = sent_away => bye(code, reason),
            () = tokio::time::sleep(SEND_PATIENCE) => bye(ByeCode::TooSlow, "nothing was taken for 10 seconds"),
        }
    }

    async fn error(&mut self, fault: &Fault, id: Option<Uuid>) -> ControlFlow<End> {
        self.send(&fault.message(id)).await
    }
}

fn close_code(code: ByeCode) -> CloseCode {
    match code {
        ByeCode::Stopping => CloseCode::Away,
        ByeCode::TooSlow => CloseCode::Again,
        ByeCode::RunGone => CloseCode::Error,
        ByeCode::Misbehaving | ByeCode::Refused => CloseCode::Policy,
        _ => CloseCode::Normal,
    }
}

//! The people: links that watch, speak and note what they see.

use crate::Args;
use futures_util::{SinkExt as _, StreamExt as _};
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};
use std::time::{Duration, Instant};
use tokio::net::TcpStream;
use tokio::task::JoinHandle;
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::Message;

/// Commands beyond this are not counted.
const MOST_COMMANDS: usize = 2_000_000;

/// Where the clients go.
pub(crate) struct Plan {
    /// `127.0.0.1:PORT`.
    pub(crate) address: String,
    /// The clients.
    pub(crate) seats: Vec<Seat>,
    /// How many of each team read what comes.
    pub(crate) readers: Vec<u32>,
}

/// A client.
pub(crate) struct Seat {
    /// Path of its link.
    pub(crate) path: String,
    /// What it sends first.
    pub(crate) first: Vec<String>,
    /// Its team.
    pub(crate) team: usize,
}

/// One command on its way.
struct Command {
    sent_us: AtomicU64,
    /// Members of the team who have not seen it yet.
    missing: AtomicU32,
}

/// What all clients have seen.
pub(crate) struct Tally {
    began: Instant,
    counts: AtomicBool,
    sent: AtomicU64,
    frames: AtomicU64,
    commands: Vec<Command>,
    readers: Vec<u32>,
    acknowledged_us: Mutex<Vec<u64>>,
    seen_us: Mutex<Vec<u64>>,
}

impl Tally {
    pub(crate) fn new(plan: &Plan, args: &Args) -> Tally {
        let most = (args.rate * (args.seconds + 60) as f64) as usize;
        let command = |_| Command { sent_us: AtomicU64::new(0), missing: AtomicU32::new(0) };
        Tally {
            began: Instant::now(),
            counts: AtomicBool::new(false),
            sent: AtomicU64::new(0),
            frames: AtomicU64::new(0),
            commands: (0..most.min(MOST_COMMANDS)).map(command).collect(),
            readers: plan.readers.clone(),
            acknowledged_us: Mutex::default(),
            seen_us: Mutex::default(),
        }
    }

    pub(crate) fn begin(&self) {
        self.counts.store(true, Ordering::Release);
    }

    pub(crate) fn end(&self) {
        self.counts.store(false, Ordering::Release);
    }

    pub(crate) fn sent(&self) -> u64 {
        self.sent.load(Ordering::Relaxed)
    }

    pub(crate) fn frames(&self) -> u64 {
        self.frames.load(Ordering::Relaxed)
    }

    pub(crate) fn acknowledged(&self) -> Vec<u64> {
        std::mem::take(&mut *lock(&self.acknowledged_us))
    }

    pub(crate) fn seen(&self) -> Vec<u64> {
        std::mem::take(&mut *lock(&self.seen_us))
    }

    fn now_us(&self) -> u64 {
        self.began.elapsed().as_micros() as u64
    }

    /// A number for a new command of this team, if commands count now.
    fn number(&self, team: usize) -> Option<u64> {
        if !self.counts.load(Ordering::Acquire) {
            return None;
        }
        let number = self.sent.fetch_add(1, Ordering::Relaxed);
        let command = self.commands.get(number as usize)?;
        command.missing.store(self.readers[team], Ordering::Release);
        command.sent_us.store(self.now_us(), Ordering::Release);
        Some(number)
    }

    /// Somebody has got this frame.
    fn got(&self, frame: &str) {
        if self.counts.load(Ordering::Relaxed) {
            self.frames.fetch_add(1, Ordering::Relaxed);
        }
        if frame.starts_with("{\"type\":\"accepted\"") {
            // The command's number stands in the last twelve digits of the id.
            if let Some(number) = number_after(frame, "\"id\":\"ffffffff-ffff-4fff-8fff-", 16)
                && let Some(command) = self.commands.get(number as usize)
            {
                lock(&self.acknowledged_us).push(self.now_us() - command.sent_us.load(Ordering::Acquire));
            }
        } else if frame.starts_with("{\"type\":\"event\"")
            && let Some(number) = number_after(frame, "load ", 10)
            && let Some(command) = self.commands.get(number as usize)
            && command.missing.fetch_sub(1, Ordering::AcqRel) == 1
        {
            lock(&self.seen_us).push(self.now_us() - command.sent_us.load(Ordering::Acquire));
        }
    }
}

fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
}

fn number_after(frame: &str, before: &str, radix: u32) -> Option<u64> {
    let (_, rest) = frame.split_once(before)?;
    let end = rest.find(|c: char| !c.is_digit(radix)).unwrap_or(rest.len());
    u64::from_str_radix(&rest[..end], radix).ok()
}

/// The line of a command.
fn line(number: u64) -> String {
    format!(
        "{{\"type\":\"line\",\"id\":\"ffffffff-ffff-4fff-8fff-{number:012x}\",\"text\":\"say load {number} of the load program\"}}"
    )
}

/// Starts all clients and waits until each is in.
pub(crate) async fn start_all(plan: &Plan, args: &Args, tally: &Arc<Tally>) -> Vec<JoinHandle<()>> {
    let pause = Duration::from_secs_f64(plan.seats.len() as f64 / args.rate);
    let mut clients = Vec::new();
    for (number, seat) in plan.seats.iter().enumerate() {
        let mut socket = connect(&plan.address, &seat.path).await;
        for frame in &seat.first {
            if let Err(error) = socket.send(Message::text(frame.clone())).await {
                panic!("client {number} cannot come in: {error}");
            }
        }
        let (tally, team) = (Arc::clone(tally), seat.team);
        // Stalled ones keep the link and take nothing from it.
        let stalled = number < args.stalled;
        let phase = pause.mul_f64((number as f64 * 0.618_034).fract());
        clients.push(tokio::spawn(async move {
            if stalled {
                std::future::pending::<()>().await;
            }
            live(socket, &tally, team, pause, phase).await;
        }));
    }
    clients
}

async fn connect(address: &str, path: &str) -> WebSocketStream<TcpStream> {
    let url = format!("ws://{address}{path}");
    for _ in 0..50 {
        if let Ok(stream) = TcpStream::connect(address).await {
            let _ = stream.set_nodelay(true);
            if let Ok((socket, _)) = tokio_tungstenite::client_async(&url, stream).await {
                return socket;
            }
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    panic!("no link to {url}");
}

async fn live(
    mut socket: WebSocketStream<TcpStream>,
    tally: &Tally,
    team: usize,
    pause: Duration,
    phase: Duration,
) {
    let start = tokio::time::Instant::now() + phase;
    let mut due = tokio::time::interval_at(start, pause);
    due.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    let mut ping = tokio::time::interval(Duration::from_secs(20));
    loop {
        let said = tokio::select! {
            frame = socket.next() => match frame {
                Some(Ok(Message::Text(text))) => {
                    tally.got(text.as_str());
                    continue;
                }
                Some(Ok(_)) => continue,
                Some(Err(error)) => return eprintln!("a link broke: {error}"),
                None => return eprintln!("a link was closed"),
            },
            _ = due.tick() => match tally.number(team) {
                Some(number) => line(number),
                None => continue,
            },
            _ = ping.tick() => "{\"type\":\"ping\"}".to_owned(),
        };
        if let Err(error) = socket.send(Message::text(said)).await {
            return eprintln!("a link broke: {error}");
        }
    }
}

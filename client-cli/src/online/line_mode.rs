//! The line mode that team and instructor share: lines go out one after the other, what comes is printed, and a lost
//! link is taken back.

use super::address::Address;
use super::link::{Link, Lost, NoLink, PING_EVERY};
use crate::clock::parse_time;
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use deadship_protocol::{ClientMessage, ErrorCode, ServerMessage, WelcomeMessage};
use std::collections::VecDeque;
use std::io::{self, BufRead};
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::{Instant, sleep, sleep_until};

/// Between two tries to take a lost link back; the last one is repeated.
pub(crate) const BACKOFF_S: [f64; 5] = [0.3, 1.0, 2.0, 4.0, 5.0];
/// How long that is tried.
pub(crate) const GIVE_UP_AFTER: Duration = Duration::from_secs(120);
/// How long the events of the last order are waited for.
const LINGER: Duration = Duration::from_secs(1);
/// Before a line is sent again that the server had no time for.
pub(crate) const BUSY: Duration = Duration::from_millis(500);
/// How often that is done.
pub(crate) const BUSY_TRIES: u32 = 60;

/// What a typed line comes to.
pub(crate) enum Todo {
    /// To be sent, and waited for.
    Send(Vec<ClientMessage>),
    /// Done already.
    Nothing,
    /// Done already, and it was no.
    Refused,
}

/// What is special about team and instructor.
pub(crate) trait Part {
    /// What is said at the beginning, also when a link is taken back.
    fn hello(&self) -> ClientMessage;
    /// The server took us; what is to be asked first.
    fn welcome(
        &mut self,
        io: &mut Io,
        welcome: &WelcomeMessage,
        again: bool,
    ) -> Result<Vec<ClientMessage>, Failure>;
    /// Someone typed a line.
    fn typed(&mut self, io: &mut Io, text: &str) -> Result<Todo, Failure>;
    /// The server sent something. `asked`: the message that it answers. Says whether the answer was yes; more may
    /// have to be sent.
    fn heard(
        &mut self,
        io: &mut Io,
        message: ServerMessage,
        asked: Option<&ClientMessage>,
    ) -> Result<(bool, Vec<ClientMessage>), Failure>;
    /// Was the event with this number of the run in use shown?
    fn has_shown(&self, seq: u64) -> bool;
    /// Is something still to be shown before the next line is taken?
    fn is_waiting(&self) -> bool {
        false
    }
    /// The person leaves, or the link is gone for good.
    fn left(&mut self, io: &mut Io);
    /// How the seat is taken back later, for people.
    fn way_back(&self, address: &Address) -> String;
}

/// A line that was typed, or the end of them.
type Typed = Option<String>;

/// Team or instructor at work.
pub(crate) struct LineMode<'a, P: Part> {
    io: &'a mut Io,
    address: &'a Address,
    /// What is special.
    pub(crate) part: P,
    typed: mpsc::Receiver<Typed>,
    /// Messages from other links.
    beside: mpsc::Receiver<ServerMessage>,
    /// Still to be sent.
    queue: VecDeque<ClientMessage>,
    /// Sent, and not answered yet.
    asked: Option<ClientMessage>,
    tries: u32,
    /// Nothing is sent before.
    not_before: Option<Instant>,
    no: bool,
    /// The first event of the last order that was accepted.
    awaited: u64,
    /// Nothing more is typed; the events of the last order are waited for until then.
    leaving: Option<Instant>,
}

/// How a link ended.
enum End {
    Left,
    Lost(Lost),
}

impl<'a, P: Part> LineMode<'a, P> {
    /// Begins to read what is typed.
    pub(crate) fn new(
        io: &'a mut Io,
        address: &'a Address,
        part: P,
        beside: mpsc::Receiver<ServerMessage>,
    ) -> LineMode<'a, P> {
        let input = std::mem::replace(&mut io.input, Box::new(io::empty()));
        LineMode {
            typed: read_lines(input),
            io,
            address,
            part,
            beside,
            queue: VecDeque::new(),
            asked: None,
            tries: 0,
            not_before: None,
            no: false,
            awaited: 0,
            leaving: None,
        }
    }

    /// Until the person leaves or the server wants no more; the exit status.
    pub(crate) async fn run(mut self, link: Link, welcome: &WelcomeMessage) -> Result<u8, Failure> {
        let ended = self.stay(link, welcome).await;
        self.part.left(self.io);
        ended
    }

    async fn stay(&mut self, mut link: Link, welcome: &WelcomeMessage) -> Result<u8, Failure> {
        let first = self.part.welcome(self.io, welcome, false)?;
        self.queue.extend(first);
        loop {
            let lost = match self.at_work(&mut link).await? {
                End::Left => {
                    link.close().await;
                    return Ok(if self.no && !self.io.interactive { NO } else { WELL });
                }
                End::Lost(lost) => lost,
            };
            if let Some(reason) = lost.for_good() {
                return Err(Failure::Link(reason.to_owned()));
            }
            self.io.tell(&format!("the link is lost: {lost}; taking it back"));
            match self.take_back().await? {
                Some(fresh) => link = fresh,
                None => return Ok(NO),
            }
        }
    }

    async fn at_work(&mut self, link: &mut Link) -> Result<End, Failure> {
        let mut ping = tokio::time::interval(PING_EVERY);
        ping.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        // What was sent on the link before and not answered; the server does it only once.
        if let Some(asked) = &self.asked
            && let Err(lost) = link.send(asked).await
        {
            return Ok(End::Lost(lost));
        }
        loop {
            if let Err(lost) = self.send_next(link).await {
                return Ok(End::Lost(lost));
            }
            if self.leaving.is_some_and(|until| Instant::now() >= until || self.part.has_shown(self.awaited))
            {
                return Ok(End::Left);
            }
            let idle = self.asked.is_none() && self.queue.is_empty() && self.not_before.is_none();
            let free = idle && self.leaving.is_none() && !self.part.is_waiting();
            let pause = self.not_before.unwrap_or_else(Instant::now);
            tokio::select! {
                message = link.next() => match message {
                    Ok(message) => self.hear(message)?,
                    Err(lost) => return Ok(End::Lost(lost)),
                },
                Some(message) = self.beside.recv() => {
                    self.part.heard(self.io, message, None)?;
                }
                typed = self.typed.recv(), if free => match typed.flatten() {
                    Some(line) => self.line(&line)?,
                    None => self.leave(),
                },
                () = sleep_until(self.leaving.unwrap_or(pause)), if self.leaving.is_some() => {}
                () = sleep_until(pause), if self.not_before.is_some() => self.not_before = None,
                _ = ping.tick() => if let Err(lost) = link.ping().await {
                    return Ok(End::Lost(lost));
                },
                _ = tokio::signal::ctrl_c() => return Ok(End::Left),
            }
        }
    }

    async fn send_next(&mut self, link: &mut Link) -> Result<(), Lost> {
        if self.asked.is_some() || self.not_before.is_some() {
            return Ok(());
        }
        let Some(message) = self.queue.pop_front() else { return Ok(()) };
        let sent = link.send(&message).await;
        // Also what could not be sent is asked: it goes out on the next link.
        self.asked = Some(message);
        sent
    }

    /// Everything is answered; what the last order brought may still be on its way.
    fn leave(&mut self) {
        self.leaving = Some(Instant::now() + LINGER);
    }

    fn line(&mut self, line: &str) -> Result<(), Failure> {
        let text = line.trim();
        if text.is_empty() || text.starts_with('#') {
            return Ok(());
        }
        if matches!(text, "quit" | "exit") {
            self.leave();
            return Ok(());
        }
        if let Some(time) = text.strip_prefix("wait ") {
            match parse_time(time) {
                Ok(seconds) => self.not_before = Some(Instant::now() + Duration::from_secs_f64(seconds)),
                Err(problem) => {
                    self.no = true;
                    self.io.line_now(&format!("refused: {text}: {problem}"))?;
                }
            }
            return Ok(());
        }
        match self.part.typed(self.io, text)? {
            Todo::Send(messages) => self.queue.extend(messages),
            Todo::Nothing => {}
            Todo::Refused => self.no = true,
        }
        self.io.flush()
    }

    fn hear(&mut self, message: ServerMessage) -> Result<(), Failure> {
        let answers = self.asked.as_ref().is_some_and(|asked| answers(asked, &message));
        if answers && wants_again(&message) && self.tries < BUSY_TRIES {
            self.tries += 1;
            self.not_before = Some(Instant::now() + BUSY);
            self.queue.extend(self.asked.take());
            self.queue.rotate_right(1);
            return Ok(());
        }
        let asked = if answers { self.asked.take() } else { None };
        if let ServerMessage::Accepted { seq, .. } = &message {
            self.awaited = *seq;
        }
        let (yes, more) = self.part.heard(self.io, message, asked.as_ref())?;
        if asked.is_some() {
            self.tries = 0;
            self.no |= !yes;
        }
        self.queue.extend(more);
        self.io.flush()
    }

    /// Tries for a while; `None`: the person had enough.
    async fn take_back(&mut self) -> Result<Option<Link>, Failure> {
        let began = Instant::now();
        for try_number in 0.. {
            let wait_s = BACKOFF_S[try_number.min(BACKOFF_S.len() - 1)];
            tokio::select! {
                () = sleep(Duration::from_secs_f64(wait_s)) => {}
                _ = tokio::signal::ctrl_c() => return Ok(None),
            }
            match Link::open(self.address, &self.part.hello()).await {
                Ok((link, welcome)) => {
                    self.io.tell("the link is back");
                    let first = self.part.welcome(self.io, &welcome, true)?;
                    self.queue.extend(first);
                    return Ok(Some(link));
                }
                Err(refused @ (NoLink::Refused { .. } | NoLink::Untrusted(_))) => {
                    return Err(refused.failure(self.address));
                }
                Err(NoLink::Unreachable(why)) if began.elapsed() > GIVE_UP_AFTER => {
                    let back = self.part.way_back(self.address);
                    let text = format!("the link cannot be taken back: {why}; try later with `{back}`");
                    return Err(Failure::Link(text));
                }
                Err(NoLink::Unreachable(_)) => {}
            }
        }
        Ok(None)
    }
}

/// Is this the answer to that?
pub(crate) fn answers(asked: &ClientMessage, message: &ServerMessage) -> bool {
    match (asked, message) {
        (ClientMessage::Line { id, .. }, ServerMessage::Answer { id: of, .. })
        | (ClientMessage::Line { id, .. }, ServerMessage::Accepted { id: of, .. })
        | (ClientMessage::Line { id, .. }, ServerMessage::Refused { id: of, .. })
        | (ClientMessage::Line { id, .. }, ServerMessage::Busy { id: of })
        | (ClientMessage::Line { id, .. }, ServerMessage::Error { id: Some(of), .. })
        | (ClientMessage::Open { id, .. }, ServerMessage::Opened { id: of, .. })
        | (ClientMessage::Open { id, .. }, ServerMessage::Error { id: Some(of), .. })
        | (ClientMessage::ClassLine { id, .. }, ServerMessage::ClassAnswer { id: of, .. })
        | (ClientMessage::ClassLine { id, .. }, ServerMessage::Error { id: Some(of), .. })
        | (ClientMessage::Hand { id, .. }, ServerMessage::Handed { id: of, .. })
        | (ClientMessage::Hand { id, .. }, ServerMessage::Error { id: Some(of), .. }) => id == of,
        (ClientMessage::Board { .. }, ServerMessage::Board { .. }) => true,
        (ClientMessage::Use { run, .. }, ServerMessage::State(state)) => state.run == *run,
        (ClientMessage::Drills {}, ServerMessage::Drills { .. })
        | (ClientMessage::Chart {}, ServerMessage::Chart { .. })
        | (ClientMessage::Screen { .. }, ServerMessage::Situation { .. })
        | (ClientMessage::Runs {}, ServerMessage::Runs { .. }) => true,
        // An error without id answers what has none, or says that the frame could not even be read.
        (_, ServerMessage::Error { id: None, .. }) => true,
        _ => false,
    }
}

/// The server had no time for it.
pub(crate) fn wants_again(message: &ServerMessage) -> bool {
    matches!(message, ServerMessage::Busy { .. } | ServerMessage::Error { code: ErrorCode::TooFast, .. })
}

/// Reading blocks, so it has a thread; the channel is short, so a script is not read faster than it is done.
fn read_lines(input: Box<dyn BufRead + Send>) -> mpsc::Receiver<Typed> {
    let (sender, receiver) = mpsc::channel(4);
    std::thread::spawn(move || {
        for line in input.lines() {
            let Ok(line) = line else { break };
            if sender.blocking_send(Some(line)).is_err() {
                return;
            }
        }
        let _ = sender.blocking_send(None);
    });
    receiver
}

//! A screen at work: keys in, messages in and out, drawn when something changed.

use super::terminal::{Hand, OnTerminal, hands};
use super::{Linked, Screen, Todo, failed};
use crate::failure::{Failure, WELL};
use crate::online::address::Address;
use crate::online::line_mode::{BACKOFF_S, BUSY, BUSY_TRIES, GIVE_UP_AFTER, answers, wants_again};
use crate::online::link::{Link, Lost, NoLink, PING_EVERY};
use deadship_protocol::{ClientMessage, ServerMessage, WelcomeMessage};
use std::collections::VecDeque;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::{Instant, sleep_until};

/// Between two drawings for readings that changed; what is typed is drawn at once.
const DRAW_EVERY: Duration = Duration::from_millis(50);

/// And for anything else that came: what somebody did is to be seen soon, a flood of events not one by one.
const DRAW_SOON: Duration = Duration::from_millis(10);

/// Ages and clocks go on even when nothing comes.
const BEAT: Duration = Duration::from_secs(1);

/// Work until the person leaves; the exit status.
pub(crate) async fn work<S: Screen>(
    address: &Address,
    mut screen: S,
    beside: mpsc::Receiver<ServerMessage>,
    link: Link,
    welcome: &WelcomeMessage,
) -> Result<u8, Failure> {
    let terminal = OnTerminal::take().map_err(|error| failed(&error))?;
    let first = screen.welcome(welcome);
    let mut work = Work {
        address,
        screen,
        terminal,
        hands: hands(),
        beside,
        queue: first.into(),
        asked: Vec::new(),
        drawn: None,
        due: Some(Duration::ZERO),
    };
    let ended = work.stay(link).await;
    work.screen.left();
    ended
}

/// Something that was sent and has no answer yet.
struct Asked {
    message: ClientMessage,
    tries: u32,
    /// To be sent again then, because the server had no time.
    again: Option<Instant>,
}

struct Work<'a, S: Screen> {
    address: &'a Address,
    screen: S,
    terminal: OnTerminal,
    hands: mpsc::Receiver<Hand>,
    /// Messages of other links.
    beside: mpsc::Receiver<ServerMessage>,
    queue: VecDeque<ClientMessage>,
    asked: Vec<Asked>,
    drawn: Option<Instant>,
    /// How long after the last drawing the next one is due; none: nothing has changed.
    due: Option<Duration>,
}

/// How a link ended.
enum End {
    Left,
    Lost(Lost),
}

impl<S: Screen> Work<'_, S> {
    async fn stay(&mut self, mut link: Link) -> Result<u8, Failure> {
        loop {
            let lost = match self.at_work(&mut link).await? {
                End::Left => {
                    link.close().await;
                    return Ok(WELL);
                }
                End::Lost(lost) => lost,
            };
            if let Some(reason) = lost.for_good() {
                return Err(Failure::Link(reason.to_owned()));
            }
            match self.take_back(&lost.to_string()).await? {
                Some(back) => link = back,
                None => return Ok(WELL),
            }
        }
    }

    async fn at_work(&mut self, link: &mut Link) -> Result<End, Failure> {
        let mut ping = tokio::time::interval(PING_EVERY);
        let mut beat = tokio::time::interval(BEAT);
        loop {
            while let Some(message) = self.queue.pop_front() {
                if let Err(lost) = link.send(&message).await {
                    self.queue.push_front(message);
                    return Ok(End::Lost(lost));
                }
                if has_answer(&message) {
                    self.asked.push(Asked { message, tries: 0, again: None });
                }
            }
            self.draw_if_due()?;
            let draw_at = self.draw_at();
            let again_at = self.asked.iter().filter_map(|asked| asked.again).min();
            tokio::select! {
                biased;
                hand = self.hands.recv() => {
                    // A terminal that is gone is someone who has left.
                    let Some(hand) = hand else { return Ok(End::Left) };
                    if self.hand(hand)? { return Ok(End::Left) }
                }
                message = link.next() => match message {
                    Ok(message) => self.hear(message),
                    Err(lost) => return Ok(End::Lost(lost)),
                },
                Some(message) = self.beside.recv() => self.hear(message),
                () = at(draw_at) => {}
                () = at(again_at) => self.send_again(),
                _ = beat.tick() => self.draw_within(DRAW_EVERY),
                _ = ping.tick() => if let Err(lost) = link.ping().await { return Ok(End::Lost(lost)) },
            }
        }
    }

    /// Does what a hand did. `true`: the person leaves.
    fn hand(&mut self, hand: Hand) -> Result<bool, Failure> {
        let todo = match hand {
            Hand::Key(key) => self.screen.key(key),
            Hand::Paste(text) => {
                self.screen.pasted(&text);
                Todo::nothing()
            }
            Hand::Resize => Todo::nothing(),
        };
        self.queue.extend(todo.send);
        self.draw()?;
        Ok(todo.leave)
    }

    fn hear(&mut self, message: ServerMessage) {
        let readings = matches!(message, ServerMessage::Gauges(_));
        self.draw_within(if readings { DRAW_EVERY } else { DRAW_SOON });
        let found = self.asked.iter().position(|asked| answers(&asked.message, &message));
        if let Some(at) = found
            && wants_again(&message)
            && self.asked[at].tries < BUSY_TRIES
        {
            self.asked[at].tries += 1;
            self.asked[at].again = Some(Instant::now() + BUSY);
            return;
        }
        let asked = found.map(|at| self.asked.remove(at).message);
        let more = self.screen.heard(message, asked.as_ref());
        self.queue.extend(more);
    }

    fn send_again(&mut self) {
        let now = Instant::now();
        let due = |asked: &Asked| asked.again.is_some_and(|again| again <= now);
        let (due, rest): (Vec<Asked>, Vec<Asked>) =
            std::mem::take(&mut self.asked).into_iter().partition(due);
        self.asked = rest;
        self.queue.extend(due.into_iter().map(|asked| asked.message));
    }

    fn draw_if_due(&mut self) -> Result<(), Failure> {
        match self.draw_at() {
            Some(at) if at <= Instant::now() => self.draw(),
            _ => Ok(()),
        }
    }

    /// When it is to be drawn next.
    fn draw_at(&self) -> Option<Instant> {
        let due = self.due?;
        Some(self.drawn.map_or_else(Instant::now, |drawn| drawn + due))
    }

    fn draw_within(&mut self, time: Duration) {
        self.due = Some(self.due.map_or(time, |due| due.min(time)));
    }

    fn draw(&mut self) -> Result<(), Failure> {
        let Work { terminal, screen, .. } = self;
        terminal.terminal.draw(|frame| screen.draw(frame)).map_err(|error| failed(&error))?;
        self.drawn = Some(Instant::now());
        self.due = None;
        Ok(())
    }

    /// Tries for a while; the screen shows it and can be looked at meanwhile. `None`: the person had enough.
    async fn take_back(&mut self, why: &str) -> Result<Option<Link>, Failure> {
        let began = Instant::now();
        // Lines are sent again with their ids: what was done already is not done twice.
        let lines = self.asked.drain(..).map(|asked| asked.message);
        let lines: Vec<ClientMessage> =
            lines.filter(|message| matches!(message, ClientMessage::Line { .. })).collect();
        for try_number in 0_u32.. {
            self.screen.linked(Linked::Lost(why.to_owned(), try_number + 1));
            self.draw()?;
            let wait_s = BACKOFF_S[(try_number as usize).min(BACKOFF_S.len() - 1)];
            let until = Instant::now() + Duration::from_secs_f64(wait_s);
            if self.look_on_until(until).await? {
                return Ok(None);
            }
            match Link::open(self.address, &self.screen.hello()).await {
                Ok((link, welcome)) => {
                    self.screen.linked(Linked::Yes);
                    self.queue = self.screen.welcome(&welcome).into();
                    self.queue.extend(lines);
                    self.draw_within(Duration::ZERO);
                    return Ok(Some(link));
                }
                Err(refused @ (NoLink::Refused { .. } | NoLink::Untrusted(_))) => {
                    return Err(refused.failure(self.address));
                }
                Err(NoLink::Unreachable(why)) if began.elapsed() > GIVE_UP_AFTER => {
                    let back = self.screen.way_back();
                    let text = format!("the link cannot be taken back: {why}; try later with `{back}`");
                    return Err(Failure::Link(text));
                }
                Err(NoLink::Unreachable(_)) => {}
            }
        }
        Ok(None)
    }

    /// Keys work while there is no link; what they would send is not sent. `true`: the person leaves.
    async fn look_on_until(&mut self, until: Instant) -> Result<bool, Failure> {
        loop {
            tokio::select! {
                hand = self.hands.recv() => {
                    let Some(hand) = hand else { return Ok(true) };
                    if self.hand(hand)? { return Ok(true) }
                    self.queue.clear();
                }
                () = sleep_until(until) => return Ok(false),
            }
        }
    }
}

async fn at(instant: Option<Instant>) {
    match instant {
        Some(instant) => sleep_until(instant).await,
        None => std::future::pending().await,
    }
}

/// Is it answered by something that belongs to it alone?
fn has_answer(message: &ClientMessage) -> bool {
    !matches!(message, ClientMessage::Ping {} | ClientMessage::Screen { .. } | ClientMessage::Hello { .. })
}

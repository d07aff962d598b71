//! Who is on a run, and what each of them has been given.

use crate::convert::Audience;
use deadship_protocol::{ByeCode, ServerMessage};
use deadship_run::Who;
use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::{mpsc, watch};

/// A frame, encoded once for everyone.
pub(crate) type Frame = Arc<str>;

/// Events that may wait for one client.
pub(crate) const EVENT_QUEUE: usize = 256;

/// Replies that may wait for one client: as many as it may have lines without a reply, so none is ever lost.
pub(crate) const REPLY_QUEUE: usize = 64;

/// How long a client may lag.
pub(crate) const LONGEST_LAG: Duration = Duration::from_secs(10);

/// Within this time a client may lag once.
const LAG_WINDOW: Duration = Duration::from_secs(60);

/// Events kept encoded for clients that have nearly caught up.
const RING: usize = EVENT_QUEUE;

/// Is somebody at a component now?
pub(super) type Near<'a> = &'a dyn Fn(&Who, &str) -> bool;

/// A client on this run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct ClientId(pub(crate) u64);

/// What the run has to say to a client's link besides frames. The latest counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Order {
    /// Nothing.
    Go,
    /// It lags: events from this seq on are to be read from the store.
    Refill(u64),
    /// It must go.
    Leave(ByeCode, String),
}

/// The run's ends of the queues to a client's link.
pub(crate) struct Outlet {
    /// Events.
    pub(crate) events: mpsc::Sender<Frame>,
    /// Replies to its lines.
    pub(crate) replies: mpsc::Sender<Frame>,
    /// All readings that are watched; the latest count.
    pub(crate) gauges: watch::Sender<Option<Frame>>,
    /// Those that differ from them; the latest count.
    pub(crate) changes: watch::Sender<Option<Frame>>,
    /// How things stand; the latest counts.
    pub(crate) situation: watch::Sender<Option<Frame>>,
    /// What else it is told.
    pub(crate) orders: watch::Sender<Order>,
}

/// The link's ends.
pub(crate) struct Inlet {
    pub(crate) events: mpsc::Receiver<Frame>,
    pub(crate) replies: mpsc::Receiver<Frame>,
    pub(crate) gauges: watch::Receiver<Option<Frame>>,
    pub(crate) changes: watch::Receiver<Option<Frame>>,
    pub(crate) situation: watch::Receiver<Option<Frame>>,
    pub(crate) orders: watch::Receiver<Order>,
}

/// The queues between a run and a client's link.
pub(crate) fn queues() -> (Outlet, Inlet) {
    let (events_to, events) = mpsc::channel(EVENT_QUEUE);
    let (replies_to, replies) = mpsc::channel(REPLY_QUEUE);
    let (gauges_to, gauges) = watch::channel(None);
    let (changes_to, changes) = watch::channel(None);
    let (situation_to, situation) = watch::channel(None);
    let (orders_to, orders) = watch::channel(Order::Go);
    let outlet = Outlet {
        events: events_to,
        replies: replies_to,
        gauges: gauges_to,
        changes: changes_to,
        situation: situation_to,
        orders: orders_to,
    };
    (outlet, Inlet { events, replies, gauges, changes, situation, orders })
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    /// Gets events as they happen.
    Live,
    /// Reads from the store what it has missed; lagging since then, unless it has only just come.
    Refilling(Option<Instant>),
}

/// One client.
pub(crate) struct Client {
    pub(crate) who: Who,
    outlet: Outlet,
    phase: Phase,
    lags: VecDeque<Instant>,
    /// Readings it watches, as indices of component and reading.
    pub(super) watched: Vec<(usize, usize)>,
    /// Does it want to be sent how things stand?
    pub(super) has_screen: bool,
}

/// An event ready to be sent.
struct Shown {
    seq: u64,
    audience: Audience,
    frame: Frame,
}

/// All clients of a run.
#[derive(Default)]
pub(crate) struct Clients {
    clients: BTreeMap<ClientId, Client>,
    ring: VecDeque<Shown>,
}

impl Clients {
    /// Is somebody in another role here under this name?
    pub(super) fn is_name_taken(&self, who: &Who) -> bool {
        self.clients.values().any(|other| other.who.key() == who.key() && other.who.role() != who.role())
    }

    /// A new client. One that wants the past begins by reading it. The same trainee on another link is sent away.
    pub(super) fn add(&mut self, id: ClientId, who: Who, outlet: Outlet, wants_past: bool) {
        if who.role() == deadship_run::Role::Trainee {
            for other in self.clients.values().filter(|other| other.who.key() == who.key()) {
                let reason = "the seat was taken on another link".to_owned();
                other.outlet.orders.send_replace(Order::Leave(ByeCode::Replaced, reason));
            }
            self.clients.retain(|_, other| other.who.key() != who.key());
        }
        let phase = if wants_past { Phase::Refilling(None) } else { Phase::Live };
        let client =
            Client { who, outlet, phase, lags: VecDeque::new(), watched: Vec::new(), has_screen: false };
        self.clients.insert(id, client);
    }

    /// Sends a trainee away whose name is free again.
    pub(super) fn freed(&mut self, name: &str) {
        let here = |client: &Client| {
            client.who.role() == deadship_run::Role::Trainee && client.who.key().as_deref() == Some(name)
        };
        for client in self.clients.values().filter(|client| here(client)) {
            client.leave(ByeCode::Replaced, "the instructor has freed this name");
        }
        self.clients.retain(|_, client| !here(client));
    }

    pub(super) fn remove(&mut self, id: ClientId) {
        self.clients.remove(&id);
    }

    pub(super) fn get(&self, id: ClientId) -> Option<&Client> {
        self.clients.get(&id)
    }

    pub(super) fn get_mut(&mut self, id: ClientId) -> Option<&mut Client> {
        self.clients.get_mut(&id)
    }

    pub(super) fn iter_mut(&mut self) -> impl Iterator<Item = &mut Client> {
        self.clients.values_mut()
    }

    /// Who is here.
    pub(super) fn people(&self) -> impl Iterator<Item = &Who> {
        self.clients.values().map(|client| &client.who)
    }

    /// Is anyone lagging, so that time matters even while nothing happens?
    pub(super) fn any_lagging(&self) -> bool {
        self.clients.values().any(|client| matches!(client.phase, Phase::Refilling(Some(_))))
    }

    /// Events that wait for clients.
    pub(super) fn waiting(&self) -> usize {
        self.clients.values().map(|client| EVENT_QUEUE - client.outlet.events.capacity()).sum()
    }

    /// Is anyone watching readings?
    pub(super) fn any_watching(&self) -> bool {
        self.clients.values().any(|client| !client.watched.is_empty())
    }

    /// Gives an event to everyone who may see it and keeps up.
    pub(super) fn publish(
        &mut self,
        seq: u64,
        audience: Audience,
        message: &ServerMessage,
        near: Near<'_>,
        now: Instant,
    ) {
        if audience == Audience::Nobody {
            return;
        }
        let frame: Frame = message.encode().into();
        for client in self.clients.values_mut() {
            if client.phase == Phase::Live
                && audience.has(&client.who, |component| near(&client.who, component))
            {
                client.push(seq, &frame, now);
            }
        }
        if self.ring.len() == RING {
            self.ring.pop_front();
        }
        self.ring.push_back(Shown { seq, audience, frame });
    }

    /// A client has read the store up to `seq`. If what came after that is at hand it gets it and is live again.
    pub(super) fn caught_up(&mut self, id: ClientId, seq: u64, last_seq: u64, near: Near<'_>) -> bool {
        let Some(client) = self.clients.get_mut(&id) else { return false };
        if seq < last_seq {
            // Seqs that nobody sees are not in the ring; so the ring must begin before what is missing.
            if self.ring.front().is_none_or(|first| first.seq > seq + 1) {
                return false;
            }
            let told =
                |shown: &Shown| shown.audience.has(&client.who, |component| near(&client.who, component));
            let missing: Vec<&Shown> =
                self.ring.iter().filter(|shown| shown.seq > seq && told(shown)).collect();
            if missing.len() > client.outlet.events.capacity() {
                return false;
            }
            for shown in missing {
                // There is room: nobody else sends on this queue.
                let _ = client.outlet.events.try_send(Arc::clone(&shown.frame));
            }
        }
        client.phase = Phase::Live;
        true
    }

    /// Sends away who has lagged for too long.
    pub(super) fn check_lags(&mut self, now: Instant) {
        for client in self.clients.values_mut() {
            if let Phase::Refilling(Some(since)) = client.phase
                && now.saturating_duration_since(since) > LONGEST_LAG
            {
                client.send_away("events were not taken for more than 10 seconds");
            }
        }
        self.clients.retain(|_, client| !client.outlet.events.is_closed());
    }
}

impl Client {
    fn push(&mut self, seq: u64, frame: &Frame, now: Instant) {
        if self.outlet.events.try_send(Arc::clone(frame)).is_ok() {
            return;
        }
        self.lags.retain(|lag| now.saturating_duration_since(*lag) < LAG_WINDOW);
        self.lags.push_back(now);
        self.phase = Phase::Refilling(Some(now));
        if self.lags.len() > 1 {
            self.send_away("events were not taken twice within a minute");
        } else {
            self.outlet.orders.send_replace(Order::Refill(seq));
        }
    }

    fn send_away(&self, reason: &str) {
        self.outlet.orders.send_replace(Order::Leave(ByeCode::TooSlow, reason.to_owned()));
    }

    /// A reply to one of its lines. The queue holds as many as the link lets be without a reply.
    pub(super) fn reply(&self, message: &ServerMessage) {
        let _ = self.outlet.replies.try_send(message.encode().into());
    }

    /// Other readings are watched from now on: a full frame comes, also when it is one that was sent before.
    pub(super) fn watch(&mut self, readings: Vec<(usize, usize)>) {
        self.watched = readings;
        self.outlet.gauges.send_replace(None);
        self.outlet.changes.send_replace(None);
    }

    /// Readings, if they are not what was sent last: the full ones, and what differs from them.
    pub(super) fn show(&self, full: &Frame, delta: Option<&Frame>) {
        if send_new(&self.outlet.gauges, full) {
            // What was to be laid over the full one before must not be laid over this one.
            self.outlet.changes.send_replace(delta.cloned());
        } else if let Some(delta) = delta {
            send_new(&self.outlet.changes, delta);
        }
    }

    /// From now on it is sent how things stand, also what has not changed since it asked before; or no more.
    pub(super) fn screen(&mut self, on: bool) {
        self.has_screen = on;
        self.outlet.situation.send_replace(None);
    }

    /// How things stand, if that is not what was sent last.
    pub(super) fn show_situation(&self, frame: &Frame) {
        send_new(&self.outlet.situation, frame);
    }

    /// Says that it must go.
    pub(super) fn leave(&self, code: ByeCode, reason: &str) {
        self.outlet.orders.send_replace(Order::Leave(code, reason.to_owned()));
    }
}

/// Frames are made once and shared: the same frame is the same readings. Says whether it was new.
fn send_new(to: &watch::Sender<Option<Frame>>, frame: &Frame) -> bool {
    to.send_if_modified(|last| {
        let new = !last.as_ref().is_some_and(|last| Arc::ptr_eq(last, frame));
        if new {
            *last = Some(Arc::clone(frame));
        }
        new
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use deadship_run::Role;

    fn publish(clients: &mut Clients, seqs: std::ops::RangeInclusive<u64>, now: Instant) {
        for seq in seqs {
            clients.publish(seq, Audience::All, &ServerMessage::Pong {}, &|_, _| true, now);
        }
    }

    #[test]
    fn a_full_queue_marks_one_client_and_holds_nobody() {
        let now = Instant::now();
        let mut clients = Clients::default();
        let (slow_out, slow) = queues();
        let (quick_out, mut quick) = queues();
        clients.add(ClientId(1), Who::person("Slow", Role::Trainee), slow_out, false);
        clients.add(ClientId(2), Who::person("Quick", Role::Trainee), quick_out, false);
        for seq in 1..=EVENT_QUEUE as u64 + 9 {
            publish(&mut clients, seq..=seq, now);
            assert!(quick.events.try_recv().is_ok());
        }
        assert_eq!(*slow.orders.borrow(), Order::Refill(EVENT_QUEUE as u64 + 1));
        assert_eq!(*quick.orders.borrow(), Order::Go);
        assert_eq!(clients.waiting(), EVENT_QUEUE);
        clients.check_lags(now + LONGEST_LAG + Duration::from_millis(1));
        assert!(matches!(*slow.orders.borrow(), Order::Leave(ByeCode::TooSlow, _)));
    }

    #[test]
    fn who_has_nearly_caught_up_gets_the_rest_from_memory() {
        let now = Instant::now();
        let mut clients = Clients::default();
        let (out, mut inlet) = queues();
        clients.add(ClientId(1), Who::person("Ada", Role::Trainee), out, true);
        publish(&mut clients, 1..=10, now);
        assert!(clients.caught_up(ClientId(1), 7, 10, &|_, _| true));
        publish(&mut clients, 11..=11, now);
        let mut frames = 0;
        while inlet.events.try_recv().is_ok() {
            frames += 1;
        }
        assert_eq!(frames, 4);
    }

    #[test]
    fn who_is_far_behind_reads_on() {
        let now = Instant::now();
        let mut clients = Clients::default();
        let (out, _inlet) = queues();
        clients.add(ClientId(1), Who::person("Ada", Role::Trainee), out, true);
        publish(&mut clients, 1..=1_000, now);
        assert!(!clients.caught_up(ClientId(1), 7, 1_000, &|_, _| true));
    }

    #[test]
    fn lagging_twice_in_a_minute_is_too_slow() {
        let now = Instant::now();
        let mut clients = Clients::default();
        let (out, mut inlet) = queues();
        clients.add(ClientId(1), Who::person("Ada", Role::Trainee), out, false);
        let most = EVENT_QUEUE as u64;
        publish(&mut clients, 1..=most + 1, now);
        while inlet.events.try_recv().is_ok() {}
        assert!(clients.caught_up(ClientId(1), most + 1, most + 1, &|_, _| true));
        publish(&mut clients, most + 2..=2 * most + 2, now + Duration::from_secs(30));
        assert!(matches!(*inlet.orders.borrow(), Order::Leave(ByeCode::TooSlow, _)));
    }
}

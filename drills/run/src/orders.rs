//! Orders between stations and with the bridge: given, read back, reported. An order is open until it is reported.

use crate::event::Event;
use crate::run::Run;
use crate::timeline::clock;
use deadship_plant::TICK_S;
use serde::{Deserialize, Serialize};

/// An open order.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Order {
    /// Its number in the run, from 1.
    pub number: u64,
    /// Station that gave it.
    pub from: String,
    /// Station it is for; `None`: all.
    pub to: Option<String>,
    /// Text.
    pub text: String,
    /// Tick at which it was given.
    pub tick: u64,
    /// Tick until which it should be reported.
    pub due_tick: Option<u64>,
    /// Tick at which it was read back.
    pub read_back_tick: Option<u64>,
    /// Has its time run out?
    pub overdue: bool,
}

/// The orders of a run.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Orders {
    /// How many have been given.
    pub given: u64,
    /// The open ones, in the order given.
    pub open: Vec<Order>,
}

impl Orders {
    /// Has none been given?
    pub fn is_none(&self) -> bool {
        self.given == 0
    }
}

impl Run {
    /// Orders whose time runs out with this tick.
    pub(crate) fn overdue_orders(&mut self) -> Vec<Event> {
        let tick = self.tick();
        let late = self
            .state
            .orders
            .open
            .iter_mut()
            .filter(|order| !order.overdue && order.due_tick.is_some_and(|due_tick| tick > due_tick));
        late.map(|order| {
            order.overdue = true;
            Event::OrderOverdue {
                number: order.number,
                from: order.from.clone(),
                to: order.to.clone(),
                text: order.text.clone(),
                given_tick: order.tick,
            }
        })
        .collect()
    }
}

/// The open orders, a line each.
pub(crate) fn lines(run: &Run) -> Vec<String> {
    let tick = run.tick();
    let line = |order: &Order| {
        let to = order.to.as_deref().unwrap_or("all");
        let read_back = match order.read_back_tick {
            Some(at) => format!("read back at {}", clock(at).trim()),
            None => "not read back".to_owned(),
        };
        let due = match (order.due_tick, order.overdue) {
            (Some(due), true) => format!(", report overdue since {}", clock(due).trim()),
            (Some(due), false) => format!(", to be reported by {}", clock(due).trim()),
            (None, _) => String::new(),
        };
        let (number, from, text) = (order.number, &order.from, &order.text);
        format!("{number}  {from} to {to}: {text}; open for {}, {read_back}{due}", age(tick - order.tick))
    };
    let lines: Vec<String> = run.state.orders.open.iter().map(line).collect();
    if lines.is_empty() { vec!["no open orders".to_owned()] } else { lines }
}

/// Ticks as minutes and seconds.
pub(crate) fn age(ticks: u64) -> String {
    let seconds = (ticks as f64 * TICK_S).floor() as u64;
    match (seconds / 60, seconds % 60) {
        (0, seconds) => format!("{seconds} s"),
        (minutes, seconds) => format!("{minutes} min {seconds} s"),
    }
}

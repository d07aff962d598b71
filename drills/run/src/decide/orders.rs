//! Orders, read-backs and reports: who may give, repeat and close them.

use super::people::{check_hears, check_text, say};
use super::{LONGEST_TEXT, Refusal, at_station};
use crate::command::Command;
use crate::drill::BRIDGE;
use crate::event::Event;
use crate::orders::Order;
use crate::run::Run;
use crate::setup::ticks;
use crate::who::Who;

/// Most orders that can be open at a time.
pub const MOST_OPEN: usize = 100;
/// Longest time in which an order can be wanted reported, s.
const LONGEST_S: f64 = 86_400.0;

/// The station in whose name someone speaks: their own; the instructor without one is the bridge.
pub(super) fn voice(run: &Run, who: &Who) -> Result<String, Refusal> {
    let station = at_station(run, who)?.and_then(|person| person.station.clone());
    Ok(station.unwrap_or_else(|| BRIDGE.to_owned()))
}

/// The instructor speaks as the bridge, whatever station they hold.
pub(super) fn as_bridge(run: &Run, command: &Command) -> Result<Vec<Event>, Refusal> {
    let Command::Say { to, text } = command else { return speak(run, BRIDGE, command) };
    let mut events = say(run, to.as_deref(), text)?;
    for event in &mut events {
        if let Event::Said { from, .. } = event {
            *from = Some(BRIDGE.to_owned());
        }
    }
    Ok(events)
}

/// Speaks in the name of a station.
pub(super) fn speak(run: &Run, from: &str, command: &Command) -> Result<Vec<Event>, Refusal> {
    let event = match command {
        Command::Order { to, text, within_s } => order(run, from, to.as_deref(), text, *within_s)?,
        Command::Repeat { number, text } => {
            let order = open_order(run, from, *number)?;
            if order.read_back_tick.is_some() {
                let text = format!("order {number} was read back already");
                return Err(Refusal::new("already-repeated", text));
            }
            let text = optional(text)?;
            Event::OrderRepeated { number: *number, from: from.to_owned(), text }
        }
        Command::Report { number, text } => {
            let to = open_order(run, from, *number)?.from.clone();
            let text = optional(text)?;
            Event::OrderReported { number: *number, from: from.to_owned(), to, text }
        }
        Command::ReportTo { to, text } => {
            check_hears(run, Some(to))?;
            check_text(text)?;
            let (from, to, text) = (from.to_owned(), to.clone(), text.trim().to_owned());
            Event::Reported { from, to, text }
        }
        _ => return Err(Refusal::new("not-spoken", "this is nothing that a station says")),
    };
    Ok(vec![event])
}

fn order(
    run: &Run,
    from: &str,
    to: Option<&str>,
    text: &str,
    within_s: Option<f64>,
) -> Result<Event, Refusal> {
    check_hears(run, to)?;
    check_text(text)?;
    if within_s.is_some_and(|within_s| !(within_s > 0.0 && within_s <= LONGEST_S)) {
        return Err(Refusal::new("value-out-of-range", "an order is to be reported within a day"));
    }
    if run.state.orders.open.len() >= MOST_OPEN {
        let text = format!("{MOST_OPEN} orders are open already: let some be reported first");
        return Err(Refusal::new("too-many-orders", text));
    }
    Ok(Event::OrderGiven {
        number: run.state.orders.given + 1,
        from: from.to_owned(),
        to: to.map(str::to_owned),
        text: text.trim().to_owned(),
        due_tick: within_s.map(|within_s| run.tick() + ticks(within_s)),
        step: None,
    })
}

/// The text of a read-back, a report or a mark may be left out.
pub(super) fn optional(text: &str) -> Result<String, Refusal> {
    let text = text.trim();
    if text.chars().count() > LONGEST_TEXT {
        check_text(text)?;
    }
    Ok(text.to_owned())
}

/// An open order that this station may answer.
fn open_order<'r>(run: &'r Run, station: &str, number: u64) -> Result<&'r Order, Refusal> {
    let orders = &run.state.orders;
    let Some(order) = orders.open.iter().find(|order| order.number == number) else {
        let text = if number >= 1 && number <= orders.given {
            format!("order {number} was reported already; `orders` lists the open ones")
        } else {
            format!("there is no order {number}; `orders` lists the open ones")
        };
        return Err(Refusal::new("unknown-order", text));
    };
    match order.to.as_deref() {
        Some(to) if to != station => {
            let text = format!("order {number} is for {to}; you are {station}");
            Err(Refusal::new("not-your-order", text))
        }
        None if order.from == station => {
            let text = format!("order {number} to all is yours: another station answers it");
            Err(Refusal::new("not-your-order", text))
        }
        _ => Ok(order),
    }
}

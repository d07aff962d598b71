//! Orders: were they read back, were they closed by a report?

use super::recovery::seconds;
use super::types::{Measure, Reached};
use crate::debrief::{Debrief, OrderCourse};
use crate::envelope::Envelope;
use crate::event::Event;
use crate::stats::wilson;
use crate::timeline::length;

/// Of fewer orders a share says nothing.
const FEW: usize = 5;

/// Figures about orders that got a number.
pub(super) fn measure(log: &[Envelope]) -> Vec<Measure> {
    let orders = Debrief::of(log).numbered;
    let by = |test: &dyn Fn(&OrderCourse) -> bool| -> Vec<u64> {
        orders.iter().filter(|order| test(order)).map(|order| order.seq).collect()
    };
    let share = |name: &str, title: &str, definition: &str, seqs: Vec<u64>| {
        let base = Measure {
            name: name.to_owned(),
            title: title.to_owned(),
            definition: definition.to_owned(),
            unit: "%".to_owned(),
            ..Measure::default()
        };
        if orders.is_empty() {
            return Measure { reached: Reached::Nothing, text: "no order was given".to_owned(), ..base };
        }
        let share = 100.0 * seqs.len() as f64 / orders.len() as f64;
        let interval = wilson(seqs.len() as u64, orders.len() as u64).unwrap_or((0.0, 1.0));
        let (low, high) = (100.0 * interval.0, 100.0 * interval.1);
        Measure {
            value: Some((share * 10.0).round() / 10.0),
            text: match orders.len() {
                few if few < FEW => format!("{} of {few}", seqs.len()),
                all => format!("{} of {all}: {share:.0} % (95 % interval {low:.0} to {high:.0})", seqs.len()),
            },
            seqs,
            ..base
        }
    };
    vec![
        share(
            "orders-read-back",
            "Orders read back",
            "Share of the orders with a number that were read back before they were reported.",
            by(&|order| order.read_back_tick.is_some()),
        ),
        share(
            "orders-closed",
            "Orders closed by a report",
            "Share of the orders with a number that were reported to whoever gave them.",
            by(&|order| order.reported_tick.is_some()),
        ),
        share(
            "orders-late",
            "Orders reported late or never",
            "Share of the orders with a number that were wanted in a time and not reported in it.",
            by(&|order| order.late),
        ),
        slowest(log, &orders),
    ]
}

/// The longest time from an order to its report.
fn slowest(log: &[Envelope], orders: &[OrderCourse]) -> Measure {
    let base = Measure {
        name: "slowest-report".to_owned(),
        title: "Longest wait for a report".to_owned(),
        definition: "Of the orders that were reported, from the order to the report.".to_owned(),
        unit: "s".to_owned(),
        ..Measure::default()
    };
    let waits = orders.iter().filter_map(|order| Some((order.reported_tick? - order.given_tick, order)));
    let Some((ticks, order)) = waits.max_by_key(|(ticks, _)| *ticks) else {
        return Measure { reached: Reached::Nothing, text: "no order was reported".to_owned(), ..base };
    };
    let report = log.iter().find(
        |envelope| matches!(&envelope.event, Event::OrderReported { number, .. } if *number == order.number),
    );
    Measure {
        value: Some(seconds(ticks)),
        text: format!("{}: {}", length(ticks), order.text),
        from_tick: Some(order.given_tick),
        tick: order.reported_tick,
        seqs: std::iter::once(order.seq).chain(report.map(|report| report.seq)).collect(),
        ..base
    }
}

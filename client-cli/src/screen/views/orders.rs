//! What is asked and ordered. Orders: from whom, to whom, since when, read back or not, due.

use crate::screen::colours::{Ink, Palette};
use crate::screen::model::Model;
use crate::screen::parts::{About, Row};
use crate::screen::text::{age, clock, wrap};
use crate::screen::views::asked;
use deadship_run::view::OrderNow;

/// Is an order for the person?
pub(crate) fn is_mine(model: &Model, order: &OrderNow) -> bool {
    let station = model.me().and_then(|me| me.station.as_ref());
    station.is_some_and(|station| order.to.as_ref().is_none_or(|to| to == station) && order.from != *station)
}

/// What is asked, then open orders, those for the person first.
pub(crate) fn rows(model: &Model, palette: Palette, wide: usize) -> Vec<Row> {
    let mut rows = asked::rows(model, palette, wide);
    let (mine, others): (Vec<&OrderNow>, Vec<&OrderNow>) =
        model.situation.orders.iter().partition(|order| is_mine(model, order));
    for (heading, orders) in [("FOR YOUR STATION", mine), ("BETWEEN OTHERS", others)] {
        if orders.is_empty() {
            continue;
        }
        rows.push(Row::heading(palette, heading));
        for order in orders {
            rows.extend(order_rows(model, palette, order, wide));
        }
    }
    if rows.is_empty() {
        rows.extend(Row::text(
            palette,
            Ink::Plain,
            "no open orders; give one: order STATION within 5 min: TEXT",
            wide,
        ));
    }
    rows
}

fn order_rows(model: &Model, palette: Palette, order: &OrderNow, wide: usize) -> Vec<Row> {
    let to = order.to.as_deref().unwrap_or("all");
    let back = match order.read_back_tick {
        Some(_) => "read back",
        None => "NOT read back",
    };
    let due = match (order.due_tick, order.overdue) {
        (Some(due), true) => format!(", report OVERDUE since {}", clock(due)),
        (Some(due), false) => format!(", report by {}", clock(due)),
        (None, _) => String::new(),
    };
    let since = age(model.tick.saturating_sub(order.given_tick));
    let head = format!("{:>3} {} to {to}, {since} ago, {back}{due}", order.number, order.from);
    let ink = match (order.overdue, order.read_back_tick) {
        (true, _) => Ink::Warning,
        (false, None) => Ink::Caution,
        (false, Some(_)) => Ink::Plain,
    };
    let mut rows = vec![Row::new(palette, About::Order(order.number), &[(ink, &head)])];
    for line in wrap(&order.text, wide.saturating_sub(6).max(10)) {
        rows.push(Row::new(palette, About::Nothing, &[(Ink::Strong, &format!("    {line}"))]));
    }
    rows
}

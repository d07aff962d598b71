//! The run in figures.

use super::{event, part, seconds, time};
use crate::report::facts::Facts;
use deadship_run::debrief::{Debrief, Fault, OrderCourse, Trip};
use maud::{Markup, html};
use std::collections::BTreeMap;

/// The run in figures.
pub(super) fn section(facts: &Facts) -> Markup {
    let debrief = &facts.debrief;
    part(
        "figures",
        html! {
            dl.figures {
                (figure("Acts done", &counts(&debrief.acts)))
                (figure("Refused", &counts(&debrief.refusals)))
                (figure("Alerts", &alerts(debrief)))
                (figure("Orders", &orders(debrief)))
                (figure("Said", &format!("to one station {}, to all {}", total(&debrief.orders), total(&debrief.said))))
            }
            (table("Trips and shutdowns", &["At", "What", "Beyond its limit before", "Shown by"], &debrief.trips, trip))
            (table("Faults", &["Set at", "What", "By", "Next alert", "Next act on it", "Lifted", "Shown by"],
                &debrief.faults, fault))
            (table("Orders", &["Given at", "What", "Read back", "Reported", "Shown by"], &debrief.numbered, order))
            @if !debrief.failures.is_empty() {
                h3 { "What could not be computed" }
                ul { @for failure in &debrief.failures { li { (failure) } } }
            }
        },
    )
}

fn figure(name: &str, text: &str) -> Markup {
    html! { div { dt { (name) } dd { (text) } } }
}

fn table<R>(title: &str, columns: &[&str], rows: &[R], row: impl Fn(&R) -> Markup) -> Markup {
    html! {
        h3 { (title) }
        @if rows.is_empty() { p { "None." } }
        @else {
            div.wide tabindex="0" role="region" aria-label=(title) {
                table {
                    thead { tr { @for column in columns { th scope="col" { (column) } } } }
                    tbody { @for each in rows { (row(each)) } }
                }
            }
        }
    }
}

fn trip(trip: &Trip) -> Markup {
    html! {
        tr {
            td.number { (time(trip.tick)) }
            th scope="row" { (trip.component) " " (trip.text) }
            td.number { (seconds(trip.tick.saturating_sub(trip.since_tick))) }
            td { (event(trip.seq)) }
        }
    }
}

fn fault(fault: &Fault) -> Markup {
    let after = |tick: Option<u64>| match tick {
        Some(tick) => format!("after {}", seconds(tick.saturating_sub(fault.set_tick))),
        None => "none".to_owned(),
    };
    let lifted = if fault.lifted_tick.is_some() { after(fault.lifted_tick) } else { "not lifted".to_owned() };
    html! {
        tr {
            td.number { (time(fault.set_tick)) }
            th scope="row" { (fault.name) }
            td { (fault.by) }
            td { (after(fault.next_alert.as_ref().map(|alert| alert.0))) }
            td { (after(fault.next_act)) }
            td { (lifted) }
            td { (event(fault.seq)) }
        }
    }
}

fn order(order: &OrderCourse) -> Markup {
    let after = |tick: Option<u64>, instead: &str| match tick {
        Some(tick) => format!("after {}", seconds(tick.saturating_sub(order.given_tick))),
        None => instead.to_owned(),
    };
    html! {
        tr {
            td.number { (time(order.given_tick)) }
            th scope="row" { "no. " (order.number) ", " (order.from) " to " (order.to.as_deref().unwrap_or("all")) ": " (order.text) }
            td { (after(order.read_back_tick, "not read back")) }
            td { (after(order.reported_tick, "left open")) @if order.late { ", late" } }
            td { (event(order.seq)) }
        }
    }
}

fn total(counts: &BTreeMap<String, u64>) -> u64 {
    counts.values().sum()
}

fn counts(counts: &BTreeMap<String, u64>) -> String {
    let each: Vec<String> = counts.iter().map(|(name, count)| format!("{name} {count}")).collect();
    if each.is_empty() { "none".to_owned() } else { format!("{}: {}", total(counts), each.join(", ")) }
}

fn alerts(debrief: &Debrief) -> String {
    let alerts = &debrief.alerts;
    let mut text = format!(
        "{} raised, {} of them at the start; at most {} in ten minutes",
        alerts.raised, alerts.at_start, alerts.most_in_ten_minutes
    );
    match alerts.median_ticks_to_acknowledge {
        Some(ticks) => {
            let median =
                format!("; {} acknowledged, in the median after {}", alerts.acknowledged, seconds(ticks));
            text.push_str(&median);
        }
        None => text.push_str("; none acknowledged"),
    }
    if !alerts.floods.is_empty() {
        text.push_str(&format!("; {} floods", alerts.floods.len()));
    }
    text
}

fn orders(debrief: &Debrief) -> String {
    let orders = &debrief.numbered;
    if orders.is_empty() {
        return "none".to_owned();
    }
    let count = |is: fn(&&OrderCourse) -> bool| orders.iter().filter(is).count();
    format!(
        "{} given, {} read back, {} reported, {} late",
        orders.len(),
        count(|order| order.read_back_tick.is_some()),
        count(|order| order.reported_tick.is_some()),
        count(|order| order.late)
    )
}

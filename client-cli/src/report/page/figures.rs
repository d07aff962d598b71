//! The run in figures: what was measured, each with the events that show it.

use super::{event, part, time};
use crate::report::Report;
use deadship_run::debrief::{Debrief, OrderCourse, Trip};
use deadship_run::measures::{
    AlertSpan, FaultTimes, Measure, OrderCheck, Point, Reached, StartEnd, StartTry, UnsafeAct,
};
use deadship_run::timeline::length;
use maud::{Markup, html};
use std::collections::BTreeMap;

/// So many events are named; more prove nothing more.
const NAMED: usize = 6;

/// The run in figures.
pub(super) fn section(report: &Report) -> Markup {
    let (debrief, measures) = (&report.facts.debrief, &report.measures);
    let fault_columns = [
        "Set at",
        "Fault",
        "First sign",
        "Noticed",
        "Reported",
        "Named",
        "Right action",
        "Cured",
        "Shown by",
    ];
    part(
        "figures",
        html! {
            (figures("Recovery", &measures.measures))
            (table("Trips and shutdowns", &["At", "What", "Beyond its limit before", "Shown by"], &debrief.trips, trip))
            (table("What could have done harm, by the acts in the log", &["At", "What", "Who", "Shown by"], &measures.unsafe_acts, unsafe_act))
            (table("Faults: how long after they were set", &fault_columns, &measures.faults, fault))
            (figures("Alerts", &measures.alerts.figures))
            (spans("Longest without an answer", &measures.alerts.unanswered))
            (spans("Chattering", &measures.alerts.chattering))
            (spans("Stood for more than ten minutes", &measures.alerts.standing))
            (figures("Orders", &measures.orders))
            @if !debrief.numbered.is_empty() {
                (table("Order by order", &["Given at", "What", "Read back", "Reported", "Shown by"], &debrief.numbered, order))
            }
            (table("Starts of engines", &["At", "What", "Outcome", "Shown by"], &measures.starts, start))
            (restart("Order of the restart, as the ship has it", measures.restart.by_ship.as_ref()))
            (restart("Order of the restart, as the procedure has it", measures.restart.by_procedure.as_ref()))
            h3 { "Acts and words" }
            dl.figures {
                (figure("Acts done", &counts(&debrief.acts)))
                (figure("Refused", &counts(&debrief.refusals)))
                (figure("Said", &format!("to one station {}, to all {}", total(&debrief.orders), total(&debrief.said))))
                (figure("Reported without an order", &counts(&debrief.reports)))
            }
            (not_computed(report, debrief))
        },
    )
}

fn not_computed(report: &Report, debrief: &Debrief) -> Markup {
    let left_out: Vec<&String> = report.measures.not_computed.iter().chain(&debrief.failures).collect();
    html! {
        @if !left_out.is_empty() {
            h3 { "What could not be computed" }
            ul { @for why in left_out { li { (why) } } }
        }
    }
}

fn figure(name: &str, text: &str) -> Markup {
    html! { div { dt { (name) } dd { (text) } } }
}

fn figures(title: &str, measures: &[Measure]) -> Markup {
    let told: Vec<&Measure> = measures.iter().filter(|measure| measure.reached != Reached::Nothing).collect();
    table(title, &["What", "Measured", "Held against", "Shown by"], &told, |measure| {
        let word = match measure.reached {
            Reached::Measured | Reached::Nothing => "",
            Reached::Kept => "kept: ",
            Reached::NotReached => "not reached: ",
            Reached::NotComputed => "not measured: ",
        };
        html! {
            tr {
                th scope="row" title=(measure.definition) { (measure.title) }
                td { (word) (measure.text) }
                td { (measure.reference) }
                td { (events(&measure.seqs)) }
            }
        }
    })
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
            td.number { (length(trip.tick.saturating_sub(trip.since_tick))) }
            td { (event(trip.seq)) }
        }
    }
}

fn unsafe_act(act: &UnsafeAct) -> Markup {
    html! {
        tr {
            td.number { (time(act.tick)) }
            th scope="row" { (act.title) ": " (act.text) }
            td { (act.who) }
            td { (events(&act.seqs)) }
        }
    }
}

fn fault(fault: &FaultTimes) -> Markup {
    let after = |point: &Option<Point>| match point {
        None => html! { td { "not seen" } },
        Some(point) => html! {
            td title=(point.text) {
                span.number { (length(point.tick.saturating_sub(fault.set_tick))) } " " (event(point.seq))
            }
        },
    };
    html! {
        tr {
            td.number { (time(fault.set_tick)) }
            th scope="row" { (fault.name) ", by " (fault.by) }
            (after(&fault.sign)) (after(&fault.noticed)) (after(&fault.reported)) (after(&fault.diagnosed))
            (after(&fault.acted)) (after(&fault.cured))
            td { (event(fault.seq)) }
        }
    }
}

fn spans(title: &str, spans: &[AlertSpan]) -> Markup {
    html! {
        @if !spans.is_empty() {
            details {
                summary { (title) ": " (spans.len()) }
                ul {
                    @for span in spans {
                        li {
                            span.number { (time(span.from_tick)) } " " (span.text) ", stood "
                            (length(span.to_tick.saturating_sub(span.from_tick))) ", " (event(span.seq))
                        }
                    }
                }
            }
        }
    }
}

fn start(start: &StartTry) -> Markup {
    let end = match start.end {
        StartEnd::Ran => "ran",
        StartEnd::BlownThrough => "blown through",
        StartEnd::Wasted => "wasted",
        StartEnd::Open => "undecided",
    };
    html! {
        tr {
            td.number { (time(start.tick)) }
            th scope="row" { (start.component) " " (start.text) }
            td { (end) }
            td { (events(&start.seqs)) }
        }
    }
}

fn restart(title: &str, check: Option<&OrderCheck>) -> Markup {
    let Some(check) = check else { return html! {} };
    let missing: Vec<&str> =
        check.items.iter().filter(|item| item.tick.is_none()).map(|item| item.name.as_str()).collect();
    html! {
        h3 { (title) }
        p { (check.in_order) " of " (check.pairs) " pairs in the order of " (check.list) "." }
        @if !check.out_of_order.is_empty() { ul { @for line in &check.out_of_order { li { (line) } } } }
        @if !missing.is_empty() { p { "Not done: " (missing.join(", ")) "." } }
    }
}

fn order(order: &OrderCourse) -> Markup {
    let after = |tick: Option<u64>, instead: &str| match tick {
        Some(tick) => format!("after {}", length(tick.saturating_sub(order.given_tick))),
        None => instead.to_owned(),
    };
    let to = order.to.as_deref().unwrap_or("all");
    html! {
        tr {
            td.number { (time(order.given_tick)) }
            th scope="row" { "no. " (order.number) ", " (order.from) " to " (to) ": " (order.text) }
            td { (after(order.read_back_tick, "not read back")) }
            td { (after(order.reported_tick, "left open")) @if order.late { ", late" } }
            td { (event(order.seq)) }
        }
    }
}

fn events(seqs: &[u64]) -> Markup {
    html! {
        @for (at, seq) in seqs.iter().take(NAMED).enumerate() { @if at > 0 { ", " } (event(*seq)) }
        @if seqs.len() > NAMED { " and " (seqs.len() - NAMED) " more" }
    }
}

fn total(counts: &BTreeMap<String, u64>) -> u64 {
    counts.values().sum()
}

fn counts(counts: &BTreeMap<String, u64>) -> String {
    let each: Vec<String> = counts.iter().map(|(name, count)| format!("{name} {count}")).collect();
    if each.is_empty() { "none".to_owned() } else { format!("{}: {}", total(counts), each.join(", ")) }
}

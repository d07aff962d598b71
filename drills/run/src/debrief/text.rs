//! The report as plain text.

use super::{Debrief, Mark, OrderCourse, Outcome};
use crate::timeline::{clock, length};
use std::collections::BTreeMap;

/// Most lines of one sort: the rest is in the JSON and in the log.
const MOST: usize = 6;
/// Most notes: the talk goes along them.
const MOST_NOTES: usize = 20;

pub(super) fn render(report: &Debrief) -> String {
    let mut lines = vec![format!("{}, on {}", report.drill, report.ship)];
    lines.extend(report.dials.turned().map(|dials| format!("Dials: {dials}")));
    if let Some(parent) = &report.parent {
        lines.push(format!("What if: forked from {} at {}", parent.run, time(parent.tick)));
    }
    let over = report.ended.as_deref().unwrap_or("not over");
    lines.push(format!("Length {}, {over}", time(report.ticks)));
    if let Some(aim) = &report.aim {
        lines.push(format!("Aim: {}", mark(report, aim)));
    }
    lines.extend(report.marks.iter().map(|expected| format!("  {}", mark(report, expected))));
    let marks = &report.marks;
    some(&mut lines, "Objective", report.objectives.iter().map(|course| course.said(marks)));
    some(
        &mut lines,
        "Raters",
        report
            .raters
            .iter()
            .map(|raters| format!("{} and {}: {}", raters.first, raters.second, raters.said())),
    );
    alerts(report, &mut lines);
    trips(report, &mut lines);
    faults(report, &mut lines);
    lines.push(format!("Acts: {}", counts(&report.acts)));
    lines.push(format!("Refused: {}", counts(&report.refusals)));
    lines.push(format!("Said to a station: {}; to all: {}", counts(&report.orders), counts(&report.said)));
    orders(report, &mut lines);
    asked(report, &mut lines);
    let notes = report.notes.iter().map(|note| format!("{} {}", time(note.about_tick), note.said()));
    most(&mut lines, MOST_NOTES, "Note", notes);
    some(&mut lines, "Not computed", report.failures.iter().cloned());
    lines.push(report.safety.clone());
    lines.join("\n") + "\n"
}

fn time(tick: u64) -> String {
    clock(tick).trim().to_owned()
}

fn mark(report: &Debrief, mark: &Mark) -> String {
    let at = mark.tick.map(time).unwrap_or_default();
    match mark.outcome {
        Outcome::Met => format!("[met {at}] {}", mark.text),
        Outcome::Missed => format!("[missed {at}] {}", mark.text),
        Outcome::Open if report.ended.is_some() => format!("[not met] {}", mark.text),
        Outcome::Open => format!("[open] {}", mark.text),
    }
}

fn counts(counts: &BTreeMap<String, u64>) -> String {
    let total: u64 = counts.values().sum();
    let each: Vec<String> = counts.iter().map(|(name, count)| format!("{name} {count}")).collect();
    if each.is_empty() { "none".to_owned() } else { format!("{total} ({})", each.join(", ")) }
}

/// Lines of one sort, cut short with a word about how many there are more.
fn some(lines: &mut Vec<String>, title: &str, each: impl ExactSizeIterator<Item = String>) {
    most(lines, MOST, title, each);
}

fn most(lines: &mut Vec<String>, most: usize, title: &str, each: impl ExactSizeIterator<Item = String>) {
    let more = each.len().saturating_sub(most);
    lines.extend(each.take(most).map(|line| format!("{title}: {line}")));
    if more > 0 {
        lines.push(format!("  … and {more} more"));
    }
}

fn alerts(report: &Debrief, lines: &mut Vec<String>) {
    let alerts = &report.alerts;
    let median = alerts
        .median_ticks_to_acknowledge
        .map_or("never".to_owned(), |ticks| format!("median {}", length(ticks)));
    lines.push(format!(
        "Alerts: {} ({} from the start), most in 10 min {}, acknowledged {} ({median})",
        alerts.raised, alerts.at_start, alerts.most_in_ten_minutes, alerts.acknowledged
    ));
    if alerts.hidden > 0 {
        lines.push(format!("  not shown when raised, shelved or suppressed by design: {}", alerts.hidden));
    }
    some(
        lines,
        "Flood of alerts",
        alerts.floods.iter().map(|(began, ended)| match ended {
            Some(ended) => format!("{} to {}", time(*began), time(*ended)),
            None => format!("from {}", time(*began)),
        }),
    );
    some(lines, "Came first", alerts.first_outs.iter().map(|(tick, text)| format!("{} {text}", time(*tick))));
    for (tick, seq, priority, text) in &alerts.first {
        lines.push(format!("  {} #{seq} {}: {text}", time(*tick), format!("{priority:?}").to_lowercase()));
    }
}

fn orders(report: &Debrief, lines: &mut Vec<String>) {
    let orders = &report.numbered;
    if orders.is_empty() && report.reports.is_empty() {
        return lines.push("Orders: none".to_owned());
    }
    let count = |is: fn(&&OrderCourse) -> bool| orders.iter().filter(is).count();
    let open = orders.len() - count(|order| order.reported_tick.is_some());
    lines.push(format!(
        "Orders: {} given, {} read back, {} reported, {open} left open, {} late; reports without order: {}",
        orders.len(),
        count(|order| order.read_back_tick.is_some()),
        orders.len() - open,
        count(|order| order.late),
        counts(&report.reports)
    ));
    some(lines, "Order", orders.iter().map(course));
}

fn asked(report: &Debrief, lines: &mut Vec<String>) {
    let rights = super::rights(&report.asked);
    if !rights.is_empty() {
        let said = rights.iter().map(|(grasp, right, of)| format!("{} {right} of {of}", grasp.word()));
        lines.push(format!("Probes, right answers: {}", said.collect::<Vec<_>>().join(", ")));
    }
    most(lines, MOST_NOTES, "Asked", report.asked.iter().map(|course| course.said()));
}

fn course(order: &OrderCourse) -> String {
    let after = |tick: u64| length(tick - order.given_tick);
    let to = order.to.as_deref().unwrap_or("all");
    let read_back = match order.read_back_tick {
        Some(tick) => format!("read back after {}", after(tick)),
        None => "not read back".to_owned(),
    };
    let reported = match order.reported_tick {
        Some(tick) => format!("reported after {}", after(tick)),
        None => "left open".to_owned(),
    };
    let late = if order.late { ", late" } else { "" };
    let (at, number, from) = (time(order.given_tick), order.number, &order.from);
    format!("{at} no. {number} {from} to {to}: {}: {read_back}, {reported}{late}", order.text)
}

fn trips(report: &Debrief, lines: &mut Vec<String>) {
    if report.trips.is_empty() {
        lines.push("Trips: none".to_owned());
    }
    some(
        lines,
        "Trip",
        report.trips.iter().map(|trip| {
            let before = trip.tick.saturating_sub(trip.since_tick);
            let since =
                if before > 0 { format!(", beyond its limit for {}", length(before)) } else { String::new() };
            format!("{} #{} {} {}{since}", time(trip.tick), trip.seq, trip.component, trip.text)
        }),
    );
}

fn faults(report: &Debrief, lines: &mut Vec<String>) {
    if report.faults.is_empty() {
        lines.push("Faults: none".to_owned());
    }
    some(
        lines,
        "Fault",
        report.faults.iter().map(|fault| {
            let lifted = match fault.lifted_tick {
                Some(tick) => format!("lifted after {}", length(tick - fault.set_tick)),
                None => "not lifted".to_owned(),
            };
            let after = |tick: u64| length(tick - fault.set_tick);
            let alert = fault
                .next_alert
                .as_ref()
                .map_or(String::new(), |(tick, _)| format!(", next alert after {}", after(*tick)));
            let act = fault.next_act.map_or(String::new(), |tick| format!(", worked after {}", after(tick)));
            format!("{} {} by {}, {lifted}{alert}{act}", time(fault.set_tick), fault.name, fault.by)
        }),
    );
}

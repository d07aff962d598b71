//! Measures as plain text.

use super::types::{FaultTimes, Measure, Measures, OrderCheck, Point, Reached, StartEnd};
use crate::timeline::{clock, length};

/// All of it.
pub(super) fn render(measures: &Measures) -> String {
    let mut lines = vec![format!("{}, on {}: {}", measures.drill, measures.ship, length(measures.ticks))];
    let mut section = |title: &str, body: Vec<String>| {
        if !body.is_empty() {
            lines.push(String::new());
            lines.push(title.to_owned());
            lines.extend(body.into_iter().map(|line| format!("  {line}")));
        }
    };
    section("Recovery", measures.measures.iter().map(figure).collect());
    section("Faults", measures.faults.iter().flat_map(fault).collect());
    section("Alerts", measures.alerts.figures.iter().map(figure).collect());
    section("Orders", measures.orders.iter().map(figure).collect());
    let starts = measures.starts.iter().map(|start| {
        let end = match start.end {
            StartEnd::Ran => "ran",
            StartEnd::BlownThrough => "blown through",
            StartEnd::Wasted => "WASTED",
            StartEnd::Open => "open",
        };
        format!("{}  {end}: {} {}{}", clock(start.tick), start.component, start.text, proof(&start.seqs))
    });
    section("Starts", starts.collect());
    let acts = measures.unsafe_acts.iter();
    let acts = acts.map(|act| {
        format!("{}  {} ({}): {}{}", clock(act.tick), act.title, act.who, act.text, proof(&act.seqs))
    });
    section("Unsafe acts", acts.collect());
    let orders = [&measures.restart.by_ship, &measures.restart.by_procedure];
    section("Restart order", orders.into_iter().flatten().flat_map(order).collect());
    let moments = measures
        .moments
        .iter()
        .map(|moment| format!("{}  #{} {} ({})", clock(moment.tick), moment.seq, moment.title, moment.why));
    section("Moments for the debrief", moments.collect());
    section("Not measured", measures.not_computed.clone());
    lines.push(String::new());
    lines.push(measures.safety.clone());
    lines.join("\n")
}

/// Events that prove something.
fn proof(seqs: &[u64]) -> String {
    const SHOWN: usize = 6;
    if seqs.is_empty() {
        return String::new();
    }
    let named: Vec<String> = seqs.iter().take(SHOWN).map(|seq| format!("#{seq}")).collect();
    let more = if seqs.len() > SHOWN { " …" } else { "" };
    format!("  [{}{more}]", named.join(" "))
}

fn figure(measure: &Measure) -> String {
    let what = match measure.reached {
        Reached::Measured | Reached::Nothing => String::new(),
        Reached::Kept => "kept: ".to_owned(),
        Reached::NotReached => "NOT REACHED: ".to_owned(),
        Reached::NotComputed => "not measured: ".to_owned(),
    };
    let reference =
        if measure.reference.is_empty() { String::new() } else { format!(" | {}", measure.reference) };
    format!("{}: {what}{}{reference}{}", measure.title, measure.text, proof(&measure.seqs))
}

fn fault(fault: &FaultTimes) -> Vec<String> {
    let since = |point: &Option<Point>| match point {
        None => "not seen".to_owned(),
        Some(point) => {
            format!("after {}  [#{}] {}", length(point.tick - fault.set_tick), point.seq, point.text)
        }
    };
    let rows = [
        ("first sign", &fault.sign),
        ("noticed", &fault.noticed),
        ("reported", &fault.reported),
        ("named", &fault.diagnosed),
        ("right action", &fault.acted),
        ("cured", &fault.cured),
    ];
    let head = format!("{} {}, by {} [#{}]", clock(fault.set_tick), fault.name, fault.by, fault.seq);
    std::iter::once(head)
        .chain(rows.iter().map(|(name, point)| format!("    {name:<12} {}", since(point))))
        .collect()
}

fn order(check: &OrderCheck) -> Vec<String> {
    let missing: Vec<&str> =
        check.items.iter().filter(|item| item.tick.is_none()).map(|item| item.name.as_str()).collect();
    let left_out = if missing.is_empty() { "" } else { ", of what was done" };
    let mut lines =
        vec![format!("{} of {} pairs as in {}{left_out}", check.in_order, check.pairs, check.list)];
    lines.extend(check.out_of_order.iter().map(|line| format!("    {line}")));
    if !missing.is_empty() {
        lines.push(format!("    not done: {}", missing.join(", ")));
    }
    lines
}

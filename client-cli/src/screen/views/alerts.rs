//! The list of alerts: sign and word of the priority, age, first-out, acknowledged or not.

use crate::screen::colours::{Ink, Palette};
use crate::screen::model::Model;
use crate::screen::parts::{About, Row};
use crate::screen::text::{age, clock, fit, wrap};
use deadship_run::view::AlertNow;

/// Below this width words are short.
const SHORT: usize = 66;

/// Sign of a priority: triangle, circle, square, as MSC.302(87) draws alarm, warning and caution.
pub(crate) fn sign(priority: &str) -> &'static str {
    match priority {
        "alarm" => "▲",
        "warning" => "●",
        _ => "■",
    }
}

/// How it stands, in words; short where there is little room.
fn standing(alert: &AlertNow, short: bool) -> &'static str {
    match (alert.raised, alert.waits, short) {
        (true, true, false) => "unacknowledged",
        (true, false, false) => "acknowledged",
        (false, _, false) => "gone, unacknowledged",
        (true, true, true) => "unack.",
        (true, false, true) => "ack.",
        (false, _, true) => "gone",
    }
}

/// One alert as a row.
pub(crate) fn row(model: &Model, palette: Palette, alert: &AlertNow, wide: usize) -> Row {
    let ink = Ink::of_priority(&alert.priority);
    let mark = if alert.waits { "!" } else { " " };
    let first = alert.first_of.as_ref().map_or(String::new(), |_| " ①first".to_owned());
    let since = age(model.tick.saturating_sub(alert.raised_tick));
    let short = wide < SHORT;
    let head = match short {
        false => format!("{mark}{} {:<8}{:>4} ", sign(&alert.priority), alert.priority, alert.number),
        true => format!("{mark}{} {:<7} {:>2} ", sign(&alert.priority), alert.priority, alert.number),
    };
    let tail = format!(" {since:>6} {}{first}", standing(alert, short));
    let room = wide.saturating_sub(super::super::text::width(&head) + super::super::text::width(&tail));
    let text = fit(&alert.text, room.max(10));
    let body = if alert.waits { Ink::Strong } else { Ink::Plain };
    Row::new(
        palette,
        About::Alert(alert.number),
        &[(ink, &head), (body, &text), (if alert.waits { Ink::Strong } else { Ink::Faint }, &tail)],
    )
}

/// What a priority asks for. Priorities are those of MSC.302(87); the words are common practice, no source.
fn asks(priority: &str) -> &'static str {
    match priority {
        "alarm" => "An alarm: look and act at once.",
        "warning" => "A warning: not urgent yet; look before it becomes so.",
        _ => "A caution: to be known, not acted on at once.",
    }
}

/// Help on one: what it says, how it stands, what can be done with it, and what it is about.
pub(crate) fn help(model: &Model, palette: Palette, number: u64, wide: usize) -> Vec<Row> {
    let Some(alert) = model.situation.alerts.iter().find(|alert| alert.number == number) else {
        return Row::text(palette, Ink::Plain, "this alert is not on the list any more", wide);
    };
    let mut rows = Vec::new();
    for text in wrap(&format!("{} {}", sign(&alert.priority), alert.text), wide) {
        rows.push(Row::new(palette, About::Nothing, &[(Ink::of_priority(&alert.priority), &text)]));
    }
    let came = age(model.tick.saturating_sub(alert.raised_tick));
    let stands = format!(
        "{} It came at {}, {came} ago; {}.",
        asks(&alert.priority),
        clock(alert.raised_tick),
        standing(alert, false)
    );
    rows.extend(Row::text(palette, Ink::Plain, &stands, wide));
    if let Some(group) = &alert.first_of {
        let text = format!("It came first of its group ({group}): nearest to what began it.");
        rows.extend(Row::text(palette, Ink::Plain, &text, wide));
    }
    let goes = "Acknowledged it is known to someone and silent; it goes from the list when its condition is gone as well.";
    rows.extend(Row::text(palette, Ink::Plain, goes, wide));
    let typed = format!("Type: ack {}, or shelve {} for 30 min", alert.number, alert.alert);
    rows.extend(Row::text(palette, Ink::Strong, &typed, wide));
    let component = model.chart.as_ref().and_then(|chart| chart.component(&alert.component));
    if let Some(component) = component {
        rows.push(Row::new(palette, About::Nothing, &[]));
        rows.extend(super::component::help(model, palette, component, wide));
    }
    rows
}

/// The whole list, and what is kept from it.
pub(crate) fn rows(model: &Model, palette: Palette, wide: usize) -> Vec<Row> {
    let now = &model.situation;
    let mut rows = Vec::new();
    if let Some(since) = now.flood_since {
        let text =
            format!("FLOOD of alerts since {}: by priority, what came first, the newest", clock(since));
        rows.extend(Row::text(palette, Ink::Alarm, &text, wide));
    }
    rows.extend(now.alerts.iter().map(|alert| row(model, palette, alert, wide)));
    if now.alerts.is_empty() {
        rows.extend(Row::text(palette, Ink::Live, "no alerts", wide));
    }
    if let Some(chart) = &model.chart {
        for name in &now.resets {
            let Some(component) = chart.component(name) else { continue };
            let known = &chart.components[component];
            let text = format!("needs a reset: {} ({}), at {}", known.title, name, model.place(known.place));
            let parts = [(Ink::Alarm, "✖ "), (Ink::Plain, text.as_str())];
            rows.push(Row::new(palette, About::Component(component), &parts));
        }
    }
    for (word, names) in [("shelved", &now.shelved), ("suppressed by design", &now.suppressed)] {
        if !names.is_empty() {
            rows.extend(Row::text(palette, Ink::Faint, &format!("{word}: {}", names.join("; ")), wide));
        }
    }
    rows
}

/// The most urgent, for the strip that is always seen: what waits first.
pub(crate) fn strip(model: &Model, palette: Palette, wide: usize, most: usize) -> Vec<Row> {
    let mut alerts: Vec<&AlertNow> = model.situation.alerts.iter().collect();
    // What waits first, and stands before what is gone; of the same priority what came first of its group, which is nearest to the cause.
    let rank =
        |alert: &AlertNow| ["alarm", "warning"].iter().position(|word| *word == alert.priority).unwrap_or(2);
    alerts.sort_by_key(|alert| (!alert.waits, !alert.raised, rank(alert), alert.first_of.is_none()));
    let waiting = alerts.iter().filter(|alert| alert.waits).count();
    let mut rows: Vec<Row> = alerts.iter().take(most).map(|alert| row(model, palette, alert, wide)).collect();
    match (alerts.len(), rows.last_mut()) {
        (0, _) => rows.push(Row::new(palette, About::Nothing, &[(Ink::Live, " ○ no alerts")])),
        (all, Some(last)) if all > most => {
            let text = format!(" … {} more, {waiting} unacknowledged: 2 shows all", all + 1 - most);
            if most > 1 {
                *last = Row::new(palette, About::Nothing, &[(Ink::Strong, &text)]);
            }
        }
        _ => {}
    }
    rows
}

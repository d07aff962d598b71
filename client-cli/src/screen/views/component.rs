//! One component: what can be done to it, what can be read of it, and help on it from the ship's data.

use super::here::state_ink;
use crate::screen::colours::{Ink, Palette};
use crate::screen::model::{Model, Reach};
use crate::screen::parts::{About, Row};
use crate::screen::state::state_of;
use crate::screen::text::fit;
use deadship_run::view::{Chart, ChartAct, ChartComponent};

/// What can be done to it, as lines to type.
pub(crate) fn acts(model: &Model, component: usize) -> Vec<(String, bool, String)> {
    let (Some(chart), Some(reach)) = (&model.chart, model.reach(component)) else { return Vec::new() };
    let name = &chart.components[component].name;
    let mut lines = Vec::new();
    for act in &chart.kind(component).acts {
        if reach == Reach::Panel && !act.remote {
            continue;
        }
        match (act.verb.as_str(), act.words.as_slice()) {
            ("set", []) => lines.push((format!("set {name} {} ", act.setting), true, act.doc.clone())),
            ("set", words) => {
                let line =
                    |word: &String| (format!("set {name} {} {word}", act.setting), false, act.doc.clone());
                lines.extend(words.iter().map(line));
            }
            (verb, _) => lines.push((format!("{verb} {name}"), false, act.doc.clone())),
        }
    }
    lines
}

/// The pane beside the list.
pub(crate) fn pane(model: &Model, palette: Palette, component: usize, wide: usize) -> Vec<Row> {
    let Some(chart) = &model.chart else { return Vec::new() };
    let known = &chart.components[component];
    let state = state_of(model, component);
    let mut rows = vec![Row::heading(palette, &known.title)];
    if !state.word.is_empty() {
        let sign = state.shape.sign();
        rows.push(Row::new(
            palette,
            About::Nothing,
            &[(state_ink(&state), sign), (state_ink(&state), &format!(" {}", state.word))],
        ));
    }
    for (line, more, _) in acts(model, component) {
        let name = format!("{} ", known.name);
        let short = line.replacen(&name, "", 1).replacen(&known.name, "", 1);
        let short = if more { format!("{short}…") } else { short };
        rows.push(Row::new(
            palette,
            About::Do(line, more),
            &[(Ink::Strong, "» "), (Ink::Plain, short.trim_end())],
        ));
    }
    for reading in &chart.kind(component).readings {
        let full = format!("{}.{}", known.name, reading.name);
        let Some(text) = model.readings.get(&full) else { continue };
        let traced = model.trends.iter().any(|(name, _)| *name == full);
        let name_room = wide.saturating_sub(11).max(12);
        let mark = if traced { "∿ " } else { "  " };
        rows.push(Row::new(
            palette,
            About::Reading(full.clone()),
            &[
                (Ink::Strong, mark),
                (Ink::Faint, &format!("{} ", fit(&reading.name, name_room - 3))),
                (Ink::Strong, text),
            ],
        ));
    }
    rows
}

/// Help on it: what it is, what joins it, what it needs, how it is worked, what it tells.
pub(crate) fn help(model: &Model, palette: Palette, component: usize, wide: usize) -> Vec<Row> {
    let Some(chart) = &model.chart else { return Vec::new() };
    let (known, kind) = (&chart.components[component], chart.kind(component));
    let mut rows = vec![Row::heading(palette, &format!("{} ({})", known.title, known.name))];
    rows.extend(Row::text(palette, Ink::Plain, &kind.doc, wide));
    let at = format!("It stands: {}{}", model.place(known.place), panels(model, known));
    rows.extend(Row::text(palette, Ink::Plain, &at, wide));
    let parts = [
        ("WHAT JOINS IT", joints(chart, component)),
        ("WHAT IT NEEDS", kind.needs.iter().map(|(name, doc)| (name.clone(), doc.clone())).collect()),
        ("HOW IT IS WORKED", kind.acts.iter().map(|act| worked(known, act)).collect()),
        (
            "WHAT IT TELLS",
            kind.readings.iter().map(|reading| (reading.name.clone(), reading.doc.clone())).collect(),
        ),
    ];
    for (heading, entries) in parts {
        if entries.is_empty() {
            continue;
        }
        rows.push(Row::new(palette, About::Nothing, &[]));
        rows.push(Row::heading(palette, heading));
        for (name, doc) in entries {
            rows.extend(entry(palette, &name, &doc, wide));
        }
    }
    rows
}

/// A name, and beside or below it what it is.
fn entry(palette: Palette, name: &str, doc: &str, wide: usize) -> Vec<Row> {
    let column = 24.min(wide / 3);
    let lines = crate::screen::text::wrap(doc, wide.saturating_sub(column + 1).max(10));
    let mut rows = Vec::new();
    for (i, line) in lines.iter().enumerate() {
        let name = if i == 0 { fit(name, column) } else { " ".repeat(column) };
        rows.push(Row::new(
            palette,
            About::Nothing,
            &[(Ink::Strong, &name), (Ink::Plain, " "), (Ink::Plain, line)],
        ));
    }
    rows
}

fn panels(model: &Model, known: &ChartComponent) -> String {
    let places: Vec<&str> = known.remote.iter().map(|&place| model.place(Some(place))).collect();
    if places.is_empty() { String::new() } else { format!("; panel: {}", places.join(", ")) }
}

/// What stands at the other side of each port.
fn joints(chart: &Chart, component: usize) -> Vec<(String, String)> {
    let (known, kind) = (&chart.components[component], chart.kind(component));
    let mut joints = Vec::new();
    for (port, node) in known.ports.iter().enumerate() {
        let Some(node) = node else { continue };
        let others = chart.components.iter().enumerate().filter(|(other, component_there)| {
            *other != component && component_there.ports.contains(&Some(*node))
        });
        let others: Vec<&str> = others.map(|(_, other)| other.name.as_str()).collect();
        let others = match others.len() {
            0 => "nothing else".to_owned(),
            1..=6 => others.join(", "),
            more => format!("{}, … {} in all", others[..5].join(", "), more),
        };
        let name = kind.ports.get(port).map_or("", |(name, _)| name.as_str());
        joints.push((name.to_owned(), format!("{}: {others}", chart.nodes[*node].name)));
    }
    joints.extend(known.links.iter().map(|(name, to)| (name.clone(), to.clone())));
    joints
}

fn worked(known: &ChartComponent, act: &ChartAct) -> (String, String) {
    let value = match (act.takes, act.words.as_slice()) {
        (false, _) => String::new(),
        (true, []) => " VALUE".to_owned(),
        (true, words) => format!(" {}", words.join(" | ")),
    };
    let setting = if act.setting.is_empty() { String::new() } else { format!(" {}{value}", act.setting) };
    let from = if act.remote { "" } else { " By hand, at its place." };
    let form = if act.setting.is_empty() {
        format!("{}{value}", act.verb)
    } else {
        format!("{}{setting}", act.verb)
    };
    (form, format!("{}{from} Type: {} {}{setting}", act.doc, act.verb, known.name))
}

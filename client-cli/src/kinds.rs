//! The written reference of kinds, from what they declare.

use crate::cli::KindsArgs;
use crate::failure::{Failure, WELL};
use crate::io::{Io, beside, wrap};
use deadship_plant::kind::{ActDef, KindDef, LinkTarget, Net, ParamType, Reach, ReadingDef, Seen};
use deadship_plant::kinds::{REGISTRY, find};
use deadship_plant::unit::{Dimension, display_unit, format_limit};

/// Column at which texts begin.
const COLUMN: usize = 26;

/// `deadship kinds`.
pub(crate) fn kinds(io: &mut Io, args: &KindsArgs) -> Result<u8, Failure> {
    match (&args.kind, args.markdown) {
        (None, false) => list(io)?,
        (None, true) => {
            io.line(MARKDOWN_HEAD)?;
            for kind in sorted() {
                io.line(markdown(kind).trim_end())?;
                io.line("")?;
            }
        }
        (Some(name), as_markdown) => {
            let kind = find(name)
                .ok_or_else(|| Failure::unknown("kind", name, REGISTRY.iter().map(|kind| kind.name)))?;
            io.line((if as_markdown { markdown(kind) } else { text(kind) }).trim_end())?;
        }
    }
    Ok(WELL)
}

const MARKDOWN_HEAD: &str = "# Kinds of component

Written from what the kinds themselves declare: `deadship kinds --markdown`. A ship file makes a component with a
table of its kind's name: `[[valve]]`. Besides what stands here, every component takes `name`, `title`, `place`,
`remote` and `type`.
";

fn sorted() -> Vec<&'static KindDef> {
    let mut kinds = REGISTRY.to_vec();
    kinds.sort_by_key(|kind| kind.name);
    kinds
}

fn list(io: &mut Io) -> Result<(), Failure> {
    for kind in sorted() {
        io.line(&beside(kind.name, COLUMN, kind.doc))?;
    }
    Ok(())
}

/// A table of the reference: its heading, and for each row a name, what it takes, and what it is.
struct Section {
    title: &'static str,
    rows: Vec<[String; 3]>,
}

/// Everything that a kind declares.
fn sections(kind: &KindDef) -> Vec<Section> {
    let section = |title, rows: Vec<[String; 3]>| Section { title, rows };
    let ports = kind.ports.iter().map(|port| {
        let must = if port.required { "" } else { ", may be left out" };
        row(port.name, format!("{}{must}", net(port.net)), port.doc)
    });
    let params = kind.params.iter().map(|param| {
        let default =
            param.default.map_or_else(|| "must be given".to_owned(), |value| default(value, &param.takes));
        row(param.name, format!("{}; {default}", takes(&param.takes)), param.doc)
    });
    let links = kind.links.iter().map(|link| {
        let target = match link.target {
            LinkTarget::Component(kinds) => format!("component: {}", kinds.join(", ")),
            LinkTarget::Reading => "reading".to_owned(),
        };
        let must = if link.required { "" } else { ", may be left out" };
        row(link.name, format!("{target}{must}"), link.doc)
    });
    let state = kind.state.iter().filter(|state| state.settable).map(|state| {
        let takes = format!("{}; {}", takes(&state.takes), default(state.start, &state.takes));
        row(state.name, takes + &only_with(kind, state.only_with), state.doc)
    });
    let acts = kind
        .acts
        .iter()
        .map(|act| row(&act_name(act), act_takes(act) + &only_with(kind, act.only_with), act.doc));
    let faults = kind.faults.iter().map(|fault| {
        let usually = format!("usually {}", format_limit(fault.usual, Dimension::Ratio));
        row(fault.name, usually + &only_with(kind, fault.only_with), fault.doc)
    });
    let needs = kind.needs.iter().map(|need| row(need.name, String::new(), need.doc));
    let readings = kind.readings.iter().map(|reading| row(reading.name, reading_takes(reading), reading.doc));
    let findings = kind.findings.iter().map(|finding| row(finding.code, String::new(), finding.text));
    let all = vec![
        section("Ports", ports.collect()),
        section("Parameters", params.collect()),
        section("Links", links.collect()),
        section("State that a start can set", state.collect()),
        section("What a hand can do", acts.collect()),
        section("Faults", faults.collect()),
        section("Needs", needs.collect()),
        section("Readings", readings.collect()),
        section("Findings", findings.collect()),
    ];
    all.into_iter().filter(|section| !section.rows.is_empty()).collect()
}

fn row(name: &str, takes: String, doc: &str) -> [String; 3] {
    [name.to_owned(), takes, doc.to_owned()]
}

fn net(net: Net) -> &'static str {
    match net {
        Net::Liquid => "liquid",
        Net::Air => "air",
        Net::Shaft => "shaft",
        Net::Ac => "AC",
        Net::Dc => "DC",
        Net::Space => "space",
    }
}

/// What a parameter, state or setting takes.
fn takes(takes: &ParamType) -> String {
    match takes {
        ParamType::Quantity { dimension, min, max } => {
            format!(
                "{}, {} to {}",
                dimension.name(),
                format_limit(*min, *dimension),
                format_limit(*max, *dimension)
            )
        }
        ParamType::Choice(words) => words.join(" | "),
        ParamType::Flag => "true | false".to_owned(),
        ParamType::Whole { min, max } => format!("a whole number from {min} to {max}"),
    }
}

fn default(value: f64, takes: &ParamType) -> String {
    let shown = match takes {
        ParamType::Quantity { dimension, .. } => format_limit(value, *dimension),
        ParamType::Choice(words) => {
            words.get(value as usize).map_or_else(String::new, |word| (*word).to_owned())
        }
        ParamType::Flag => (value > 0.5).to_string(),
        ParamType::Whole { .. } => format!("{value}"),
    };
    format!("default {shown}")
}

/// What is not there in every component of the kind.
fn only_with(kind: &KindDef, param: Option<usize>) -> String {
    param.map_or_else(String::new, |param| format!("; only with {}", kind.params[param].name))
}

fn act_name(act: &ActDef) -> String {
    format!("{} {}", act.verb.word(), act.setting).trim().to_owned()
}

fn act_takes(act: &ActDef) -> String {
    let reach = match act.reach {
        Reach::Local => "at its place",
        Reach::Remote => "at its place or its remote stations",
    };
    let value = act.takes.as_ref().map_or_else(String::new, |value| format!("{}; ", takes(value)));
    format!("{value}{reach}, {} s", act.seconds)
}

fn reading_takes(reading: &ReadingDef) -> String {
    let seen = match reading.seen {
        Seen::Local => "gauge at its place",
        Seen::Remote => "gauge at its place and its remote stations",
        Seen::Hidden => "not shown",
    };
    let what = match (reading.words, reading.dimension) {
        ([], Dimension::None) => "number".to_owned(),
        ([], dimension) => format!("{}, {}", dimension.name(), display_unit(dimension)),
        (words, _) => words.join(" | "),
    };
    format!("{what}; {seen}")
}

/// For the terminal.
fn text(kind: &KindDef) -> String {
    let mut text = format!("{}\n{}\n", kind.name, wrap(kind.doc, 2));
    for (head, body) in [("Physics", kind.physics), ("Source", kind.source)] {
        if !body.is_empty() {
            text.push_str(&format!("\n{head}\n{}\n", wrap(body, 2)));
        }
    }
    for section in sections(kind) {
        text.push_str(&format!("\n{}\n", section.title));
        for [name, takes, doc] in section.rows {
            let doc = if takes.is_empty() { doc } else { format!("{doc} [{takes}]") };
            text.push_str(&beside(&format!("  {name}"), COLUMN, &doc));
            text.push('\n');
        }
    }
    text
}

/// For the written docs.
fn markdown(kind: &KindDef) -> String {
    let mut text = format!("## {}\n\n{}\n", kind.name, kind.doc);
    for (head, body) in [("Physics", kind.physics), ("Source", kind.source)] {
        if !body.is_empty() {
            text.push_str(&format!("\n{head}: {body}\n"));
        }
    }
    for section in sections(kind) {
        let with_takes = section.rows.iter().any(|row| !row[1].is_empty());
        text.push_str(&match with_takes {
            true => format!("\n| {} | | |\n| --- | --- | --- |\n", section.title),
            false => format!("\n| {} | |\n| --- | --- |\n", section.title),
        });
        for [name, takes, doc] in section.rows {
            let middle = if with_takes { format!(" {} |", cell(&takes)) } else { String::new() };
            text.push_str(&format!("| `{name}` |{middle} {} |\n", cell(&doc)));
        }
    }
    text
}

/// Text that may hold what parts cells.
fn cell(text: &str) -> String {
    text.replace('|', "\\|").replace('\n', " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_its_page() {
        for kind in REGISTRY {
            let page = text(kind);
            assert!(page.contains(kind.doc.split_whitespace().next().unwrap_or("")), "{}", kind.name);
            let tables = markdown(kind);
            for section in sections(kind) {
                for [name, ..] in section.rows {
                    assert!(
                        page.contains(&name) && tables.contains(&format!("`{name}`")),
                        "{} {name}",
                        kind.name
                    );
                }
            }
        }
    }
}

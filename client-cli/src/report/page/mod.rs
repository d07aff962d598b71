//! The page: parts in the order in which they are read, styles and script in it, no address of anything else.

mod asked;
mod beside;
mod closing;
mod figures;
mod list;
mod moments;
mod outcome;
mod references;
mod timeline;
mod words;

use super::facts::Facts;
use super::{BEGINS, Report, data};
use deadship_run::drill::SAFETY;
use deadship_run::timeline::clock;
use maud::{Markup, PreEscaped, html};
use std::collections::BTreeSet;

/// Nothing is fetched, whatever stands in a log: the browser itself keeps to this.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:; \
base-uri 'none'; form-action 'none'";

/// The script, in the order in which its parts need each other.
const SCRIPT: [&str; 6] = [
    include_str!("../web/state.js"),
    include_str!("../web/lanes.js"),
    include_str!("../web/courses.js"),
    include_str!("../web/list.js"),
    include_str!("../web/keys.js"),
    include_str!("../web/begin.js"),
];

/// What draws the courses, with its licence, which goes with every copy.
const UPLOT: [&str; 2] =
    [include_str!("../../../vendor/uplot/LICENSE"), include_str!("../../../vendor/uplot/uPlot.iife.min.js")];
const UPLOT_STYLE: &str = include_str!("../../../vendor/uplot/uPlot.min.css");

/// The page of a report.
pub(super) fn write(report: &Report) -> String {
    let facts = &report.facts;
    let title = format!("{}: report", facts.debrief.drill);
    let before = html! {
        (outcome::section(report))
        (asked::section(report))
        (figures::section(report))
        (references::section(report))
        (moments::section(report))
    };
    let after = html! {
        @if !report.beside.is_empty() { (beside::section(report)) }
        (closing::notes(facts))
        (closing::commitments(facts))
    };
    let cited = cited(&[&before.0, &after.0]);
    let page = html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta http-equiv="Content-Security-Policy" content=(POLICY);
            meta name="color-scheme" content="light dark";
            title { (title) }
            style { (PreEscaped(UPLOT_STYLE)) (PreEscaped(include_str!("../web/page.css"))) }
        }
        body {
            a.skip href="#main" { "To the report" }
            (head(report))
            nav aria-label="Contents" { (contents(report)) }
            main #main tabindex="-1" {
                (before)
                (timeline::section(report, &cited))
                (after)
            }
            (foot(facts))
            script type="application/json" #run-data { (PreEscaped(data::data(report))) }
            script { "/*\n" (PreEscaped(UPLOT[0])) "*/\n" (PreEscaped(UPLOT[1])) }
            script { (PreEscaped("(function () {\n\"use strict\";\n")) @for part in SCRIPT { (PreEscaped(part)) } "})();\n" }
        }
    };
    format!("{BEGINS}{}</html>\n", page.into_string())
}

/// Parts of the page: where, and under what heading.
const PARTS: [(&str, &str); 9] = [
    ("expected", "What was expected"),
    ("asked", "What people were asked"),
    ("figures", "In figures"),
    ("references", "Beside expert and idle crew"),
    ("moments", "Moments"),
    ("timeline", "Timeline"),
    ("beside", "What if"),
    ("notes", "What was noted"),
    ("commitments", "What we take with us"),
];

fn contents(report: &Report) -> Markup {
    let is_there = |part: &&(&str, &str)| match part.0 {
        "beside" => !report.beside.is_empty(),
        "references" => report.references.is_some(),
        "asked" => !report.facts.debrief.asked.is_empty(),
        _ => true,
    };
    let parts = PARTS.iter().filter(is_there);
    html! {
        ol {
            @for (place, text) in parts {
                li { a href={ "#" (place) } { (text) } }
            }
        }
    }
}

/// A part under its heading.
fn part(place: &str, body: Markup) -> Markup {
    let heading = PARTS.iter().find(|part| part.0 == place).map_or("", |part| part.1);
    html! {
        section id=(place) aria-labelledby={ "h-" (place) } {
            h2 id={ "h-" (place) } { (heading) }
            (body)
        }
    }
}

fn head(report: &Report) -> Markup {
    let facts = &report.facts;
    let debrief = &facts.debrief;
    let over = debrief.ended.as_deref().unwrap_or("the log ends before the run was over");
    html! {
        header.head {
            p.kind { "Report of a drill" }
            h1 { (or(&debrief.drill, "A run without a drill")) }
            dl.facts {
                (fact("Ship", or(&report.courses.ship, or(&debrief.ship, "not said"))))
                @if let Some(dials) = debrief.dials.turned() { (fact("Dials", &dials)) }
                (fact("Date", &day(&facts.began_at)))
                (fact("Length", &format!("{}: {over}", time(debrief.ticks))))
                div { dt { "Crew" } dd { (crew(facts)) } }
                @if !facts.led_by.is_empty() { (fact("Led by", &facts.led_by.join(", "))) }
                (fact("Run", &debrief.run.to_string()))
                @if let Some(parent) = &debrief.parent {
                    (fact("What if", &format!("forked from run {} at {}", parent.run, time(parent.tick))))
                }
            }
            @if let Some(doubt) = &report.courses.doubt { p.doubt { strong { "Readings. " } (doubt) } }
            p.safety { strong { "Safety. " } (SAFETY) }
        }
    }
}

fn fact(name: &str, text: &str) -> Markup {
    html! { div { dt { (name) } dd { (text) } } }
}

fn crew(facts: &Facts) -> Markup {
    let held = |(name, stations): &(String, Vec<String>)| format!("{name}: {}", stations.join(", "));
    let crew: Vec<String> = facts.crew.iter().map(held).collect();
    html! { @if crew.is_empty() { "nobody took a station" } @else { (crew.join("; ")) } }
}

fn foot(facts: &Facts) -> Markup {
    html! {
        footer {
            p {
                "Made by deadship " (env!("CARGO_PKG_VERSION")) " from " (facts.events) " events, written by model "
                (facts.model) ", drill " code { (facts.drill) } ". Times are minutes and seconds since the start of the \
                run. The file stands alone: nothing is fetched and nothing is sent."
            }
        }
    }
}

/// Minutes and seconds since the start.
fn time(tick: u64) -> String {
    clock(tick).trim().to_owned()
}

/// The minute, of an instant as RFC 3339 writes it.
fn day(at: &str) -> String {
    match (at.get(..10), at.get(11..16)) {
        _ if at == crate::trial::AT => "none: it was rehearsed, not run against the clock".to_owned(),
        (Some(day), Some(minute)) => format!("{day}, {minute} UTC"),
        _ => "not said".to_owned(),
    }
}

fn or<'t>(text: &'t str, instead: &'t str) -> &'t str {
    if text.trim().is_empty() { instead } else { text }
}

/// A way to an event: to its row, and with the script to its time.
fn event(seq: u64) -> Markup {
    html! { a.event href={ "#e" (seq) } { "event " (seq) } }
}

/// Numbers of the events to which these parts of the page lead: each of them needs its row.
fn cited(parts: &[&str]) -> BTreeSet<u64> {
    let ways = parts.iter().flat_map(|part| part.split(WAY).skip(1));
    ways.filter_map(|rest| rest.split('"').next()?.parse().ok()).collect()
}

/// How a way to an event begins.
const WAY: &str = "href=\"#e";

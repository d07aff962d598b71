//! The page: parts in the order in which they are read, styles and script in it, no address of anything else.

mod closing;
mod figures;
mod list;
mod outcome;

use super::BEGINS;
use super::facts::Facts;
use deadship_run::drill::SAFETY;
use deadship_run::timeline;
use maud::{Markup, PreEscaped, html};

/// Nothing is fetched, whatever stands in a log: the browser itself keeps to this.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:; \
base-uri 'none'; form-action 'none'";

/// The page of these facts.
pub(super) fn write(facts: &Facts) -> String {
    let title = format!("{}: report", facts.debrief.drill);
    let page = html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta http-equiv="Content-Security-Policy" content=(POLICY);
            meta name="color-scheme" content="light dark";
            title { (title) }
            style { (PreEscaped(include_str!("../web/page.css"))) }
        }
        body {
            a.skip href="#main" { "To the report" }
            (head(facts))
            nav aria-label="Contents" { (contents()) }
            main #main tabindex="-1" {
                (outcome::section(facts))
                (figures::section(facts))
                (list::section(facts))
                (closing::notes(facts))
                (closing::commitments(facts))
            }
            (foot(facts))
        }
    };
    format!("{BEGINS}{}</html>\n", page.into_string())
}

/// Parts of the page: where, and under what heading.
const PARTS: [(&str, &str); 5] = [
    ("expected", "What was expected"),
    ("figures", "In figures"),
    ("timeline", "Timeline"),
    ("notes", "What was noted"),
    ("commitments", "What we take with us"),
];

fn contents() -> Markup {
    html! {
        ol {
            @for (place, text) in PARTS {
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

fn head(facts: &Facts) -> Markup {
    let debrief = &facts.debrief;
    let over = debrief.ended.as_deref().unwrap_or("the log ends before the run was over");
    html! {
        header.head {
            p.kind { "Report of a drill" }
            h1 { (or(&debrief.drill, "A run without a drill")) }
            dl.facts {
                (fact("Ship", or(&debrief.ship, "not said")))
                (fact("Date", &day(&facts.began_at)))
                (fact("Length", &format!("{}: {over}", time(debrief.ticks))))
                div { dt { "Crew" } dd { (crew(facts)) } }
                @if !facts.led_by.is_empty() { (fact("Led by", &facts.led_by.join(", "))) }
                (fact("Run", &debrief.run.to_string()))
                @if let Some(parent) = &debrief.parent {
                    (fact("What if", &format!("forked from run {} at {}", parent.run, time(parent.tick))))
                }
            }
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
    timeline::clock(tick).trim().to_owned()
}

/// A length of time.
fn seconds(ticks: u64) -> String {
    let whole_s = ticks as f64 * deadship_plant::TICK_S;
    if whole_s < 60.0 { format!("{whole_s:.1} s") } else { format!("{} min", time(ticks)) }
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

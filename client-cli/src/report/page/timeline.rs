//! The timeline with the courses below it, what works them, and both in words.

use super::{list, part, time, words};
use crate::report::Report;
use crate::report::data::ink;
use crate::screen::debrief::signs::Sign;
use maud::{Markup, html};
use std::collections::BTreeSet;

/// Keys, and what they do; the script has the same.
pub(crate) const KEYS: [(&str, &str); 10] = [
    ("← →", "a step back or on: a 200th of what is shown, at least a second; with Shift one tick"),
    ("Page Up, Page Down", "a tenth of what is shown back or on"),
    ("Home, End", "to the beginning or the end of the run"),
    ("n, p", "to the next or previous event that matters"),
    ("+ −", "closer, or wider, about the cursor"),
    ("0", "the whole run"),
    ("[ ]", "what is shown: back or on"),
    ("o, c", "in parts by what was expected, or by the clock"),
    ("r", "expert and idle crew in the trends, or not"),
    ("l", "copy a link to what is shown now"),
];

/// The timeline. `cited`: events to which other parts of the page lead.
pub(super) fn section(report: &Report, cited: &BTreeSet<u64>) -> Markup {
    let facts = &report.facts;
    part(
        "timeline",
        html! {
            p.screen-only {
                "One cursor goes through lanes and trends: click, or use the keys below once the lanes have the focus. Drag \
                across lanes or trends to look closer."
            }
            noscript { p { "Without script there is no drawing; everything stands in words below." } }
            div #board {
                (tools(report))
                div #lanes role="slider" tabindex="0" aria-label="Cursor in the time of the run" aria-valuemin="0"
                    aria-valuemax=(facts.lanes.last) aria-valuenow="0" aria-valuetext="0:00.0" aria-describedby="keys" {}
                output #now for="lanes" {}
                div #courses.charts {}
            }
            details open { summary { "Signs" } (signs(report)) }
            details open {
                summary { "Parts, as they are numbered above" }
                ol.parts { @for stage in facts.debrief.stages() { li { "until " (time(stage.to)) ", " (stage.text) } } }
            }
            details #keys { summary { "Keys" } (keys()) }
            details #events-list { summary { "The lanes in words: all events" } (list::list(facts, cited)) }
            @if report.courses.whole.is_empty() { p.faint { "No readings are known that changed." } }
            @else {
                details {
                    summary { "The trends in numbers" }
                    (words::table(&report.courses.whole, None, "Readings of the whole run", report.references.as_ref()))
                }
            }
        },
    )
}

fn tools(report: &Report) -> Markup {
    let lanes = &report.facts.lanes.names;
    html! {
        div.tools.screen-only {
            div.buttons role="group" aria-label="Cursor and what is shown" {
                button type="button" data-do="previous" { "‹ event" }
                button type="button" data-do="next" { "event ›" }
                button type="button" data-do="closer" { "closer" }
                button type="button" data-do="wider" { "wider" }
                button type="button" data-do="whole" { "whole run" }
                button type="button" data-do="link" { "copy link" }
                span #told role="status" {}
            }
            fieldset {
                legend { "In parts" }
                label { input type="radio" name="group" value="objective" checked; " by what was expected" }
                label { input type="radio" name="group" value="clock"; " by the clock" }
            }
            fieldset {
                legend { "Lanes" }
                @for (at, name) in lanes.iter().enumerate() {
                    label { input type="checkbox" name="lane" value=(at) checked; " " (name) }
                }
            }
            @let references = report.references.as_ref().map_or(&[][..], |references| &references.found);
            @if !references.is_empty() && !report.courses.whole.is_empty() {
                fieldset {
                    legend { "In the trends" }
                    @for (at, one) in references.iter().enumerate() {
                        label { input type="checkbox" name="reference" value=(at) checked; " " (one.hands.words()) }
                    }
                }
            }
            @if !report.courses.whole.is_empty() {
                details.chooser {
                    summary { "Trends" }
                    fieldset {
                        legend { "Trends below the lanes" }
                        @for (at, course) in report.courses.whole.iter().enumerate() {
                            label { input type="checkbox" name="course" value=(at) checked[at < SHOWN]; " " (course.name) }
                        }
                    }
                }
            }
        }
    }
}

/// So many courses are shown at first.
const SHOWN: usize = 3;

fn keys() -> Markup {
    html! {
        dl.keys { @for (key, does) in KEYS { div { dt { kbd { (key) } } dd { (does) } } } }
    }
}

/// The signs that this run has, with their words.
fn signs(report: &Report) -> Markup {
    let lanes = &report.facts.lanes;
    let has = |sign: &Sign| {
        let drawn = lanes.items.iter().filter_map(|item| item.drawn).any(|drawn| drawn.1 == *sign);
        drawn || lanes.bars.iter().any(|bar| bar.sign == *sign)
    };
    html! {
        ul.signs {
            @for sign in Sign::all().filter(has) {
                li { span class={ "sign ink-" (ink(sign.ink())) } aria-hidden="true" { (sign.glyph()) } " " (sign.words()) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_keys_in_the_docs_are_those_of_the_page() {
        let docs = include_str!("../../../../docs/report.md");
        for (key, does) in super::KEYS {
            assert!(docs.contains(&format!("| {key} | {does} |")), "docs/report.md does not know {key}");
        }
    }
}

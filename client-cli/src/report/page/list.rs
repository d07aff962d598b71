//! The events as a list: the words of what the timeline draws, and where its script takes them from.

use super::time;
use crate::report::facts::Facts;
use crate::screen::debrief::lanes::Item;
use deadship_run::debrief::Stage;
use maud::{Markup, html};
use std::collections::BTreeSet;

/// What is told of a run; what is minor stands in the log, and here where another part of the page leads to it.
pub(super) fn list(facts: &Facts, cited: &BTreeSet<u64>) -> Markup {
    let is_told = |item: &&Item| !item.is_minor || cited.contains(&item.seq);
    let told: Vec<&Item> = facts.lanes.items.iter().filter(is_told).collect();
    let stages = facts.debrief.stages();
    html! {
        @if told.is_empty() { p { "Nothing happened." } }
        @else {
            div.wide.tall tabindex="0" role="region" aria-label="Events" {
                table #events {
                    thead { tr {
                        th scope="col" { "At" } th scope="col" { "Event" } th scope="col" { "Lane" }
                        th scope="col" { "Who" } th scope="col" { "What" }
                    } }
                    @for (at, stage) in stages.iter().enumerate() {
                        tbody data-stage=(at) {
                            tr.stage { th scope="rowgroup" colspan="5" { (at + 1) ". " (stage.text) } }
                            @for item in of_stage(&told, stage, at + 1 == stages.len()) { (row(facts, item)) }
                        }
                    }
                }
            }
        }
    }
}

/// What lies in a stage; notes about what came after the last event lie in the last.
fn of_stage<'i>(told: &'i [&'i Item], stage: &'i Stage, last: bool) -> impl Iterator<Item = &'i &'i Item> {
    told.iter().filter(move |item| item.tick >= stage.from && (last || item.tick <= stage.to))
}

fn row(facts: &Facts, item: &Item) -> Markup {
    let lane = item.drawn.map(|(lane, _)| lane);
    let sign = item.drawn.map(|(_, sign)| sign);
    html! {
        tr id={ "e" (item.seq) } data-t=(item.tick) data-l=[lane] data-g=[sign.map(|sign| sign.rank())]
            data-m=[item.is_mark.then_some("")] {
            td.number { (time(item.tick)) }
            td.number { (item.seq) }
            td { (lane.and_then(|lane| facts.lanes.names.get(lane)).map_or("", String::as_str)) }
            td { (item.who) }
            td { (item.text) }
        }
    }
}

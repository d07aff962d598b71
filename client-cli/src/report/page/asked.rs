//! What people were asked on the way, what they answered, and what was right.

use super::{event, part, time};
use crate::report::Report;
use deadship_run::asking::Grasp;
use deadship_run::debrief::{AskCourse, rights};
use maud::{Markup, html};

/// Probes and decisions.
pub(super) fn section(report: &Report) -> Markup {
    let asked = &report.facts.debrief.asked;
    if asked.is_empty() {
        return html! {};
    }
    let rights = rights(asked);
    part(
        "asked",
        html! {
            p {
                "A probe puts the run on hold and asks what is, why it is so, and what comes next; what was right is what \
                the plant showed, not what the drill's author thought. A decision has no right answer: the drill goes on by it."
            }
            @if !rights.is_empty() {
                p {
                    "Right answers to probes: "
                    @for (at, (grasp, right, of)) in rights.iter().enumerate() {
                        @if at > 0 { ", " } (grasp.about()) " " (right) " of " (of)
                    }
                    "."
                }
            }
            div.wide tabindex="0" role="region" aria-label="What people were asked" {
                table {
                    thead { tr {
                        th scope="col" { "At" } th scope="col" { "Asked" } th scope="col" { "About" }
                        th scope="col" { "Question" } th scope="col" { "Answers" } th scope="col" { "Right" }
                        th scope="col" { "Shown by" }
                    } }
                    tbody { @for course in asked { (row(course)) } }
                }
            }
        },
    )
}

fn row(course: &AskCourse) -> Markup {
    let right = course.right_said();
    html! {
        tr {
            td { (time(course.tick)) }
            td { (course.to.as_deref().unwrap_or("all")) }
            td { (course.grasp.map_or("decision", Grasp::about)) }
            th scope="row" { (course.text) }
            td { (course.answers_said()) }
            td { (right.strip_prefix("right: ").unwrap_or(&right)) }
            td { (event(course.seq)) }
        }
    }
}

//! The moments: what happened, and the readings in which it shows.

use super::{event, part, time, words};
use crate::report::Report;
use crate::report::courses::Course;
use crate::report::moments::Moment;
use crate::report::reasons::Reason;
use maud::{Markup, html};

/// The moments.
pub(super) fn section(report: &Report) -> Markup {
    part(
        "moments",
        html! {
            @if report.moments.is_empty() { p { "Nothing happened on which a talk could turn." } }
            @else {
                p {
                    "Proposed by rule, with what people marked; what came within half a minute of something weightier stands \
                    with it."
                }
            }
            @for (at, moment) in report.moments.iter().enumerate() {
                (one(report, at, moment))
            }
        },
    )
}

fn one(report: &Report, at: usize, moment: &Moment) -> Markup {
    let courses: &[Course] = report.courses.moments.get(at).map_or(&[], Vec::as_slice);
    let reasons: &[Reason] = report.reasons.get(at).map_or(&[], Vec::as_slice);
    html! {
        article.moment aria-labelledby={ "m-" (at) } {
            h3 id={ "m-" (at) } { span.number { (time(moment.tick)) } " " (moment.title) }
            p {
                @if !moment.because.is_empty() { (sentence(&moment.because)) " " }
                "Shown by " (event(moment.seq)) "."
            }
            @if !moment.beside.is_empty() {
                ul.beside {
                    @for (tick, seq, text) in &moment.beside {
                        li { span.number { (time(*tick)) } " " (text) ", " (event(*seq)) }
                    }
                }
            }
            @if !reasons.is_empty() {
                h4 { "Why" }
                (tree(reasons))
            }
            @if courses.is_empty() { p.faint { "No reading is known in which it shows." } }
            @else {
                div.charts data-moment=(at) {}
                details {
                    summary { "These readings from " (time(moment.window.0)) " to " (time(moment.window.1)) " in numbers" }
                    (words::table(courses, Some(moment.tick), &format!("Readings about {}", time(moment.tick)), None))
                }
            }
        }
    }
}

/// Each with what led to it below.
fn tree(reasons: &[Reason]) -> Markup {
    html! {
        ul.why {
            @for reason in reasons {
                li {
                    (reason.text)
                    @if let Some(seq) = reason.seq { ", " (event(seq)) }
                    @if !reason.below.is_empty() { (tree(&reason.below)) }
                }
            }
        }
    }
}

/// As a sentence.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map_or_else(String::new, |first| first.to_uppercase().collect());
    let end = if text.ends_with(['?', '.', '!']) { "" } else { "." };
    format!("{first}{}{end}", letters.as_str())
}

//! Other courses of the run beside it.

use super::part;
use crate::report::Report;
use crate::report::beside::Beside;
use maud::{Markup, html};

/// The other courses.
pub(super) fn section(report: &Report) -> Markup {
    part(
        "beside",
        html! {
            p {
                "The run once more with something changed, computed by the same model. People in it do what they did: they do \
                not react to what has become different."
            }
            @for (at, beside) in report.beside.iter().enumerate() { (one(at + 1, beside)) }
        },
    )
}

fn one(number: usize, beside: &Beside) -> Markup {
    let title = format!("Course {number}");
    let differs = beside.rows.iter().filter(|row| row.differs).count();
    html! {
        h3 { (title) }
        @if beside.changes.is_empty() { p { "The same was done in it." } }
        @else { ul { @for change in &beside.changes { li { (change) } } } }
        @if differs == 0 { p { "It would have made no difference to any outcome." } }
        @else { div.wide tabindex="0" role="region" aria-label=(title) {
            table {
                thead { tr {
                    th scope="col" { "What" } th scope="col" { "As it went" } th scope="col" { "As it would have gone" }
                } }
                tbody {
                    @for row in beside.rows.iter().filter(|row| row.differs) {
                        tr { th scope="row" { (row.what) } td { (row.went) } td { (row.would) } }
                    }
                }
            }
        } }
        @let same = beside.rows.len() - differs;
        @if same > 0 && differs > 0 { p.faint { (same) " other outcomes are the same in both." } }
    }
}

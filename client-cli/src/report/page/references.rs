//! The run beside the expert's and a crew that does nothing.

use super::part;
use crate::report::Report;
use deadship_run::reference::Line;
use maud::{Markup, html};

/// The references.
pub(super) fn section(report: &Report) -> Markup {
    let Some(references) = &report.references else { return html! {} };
    let names: Vec<&str> = references.found.iter().map(|one| one.hands.words()).collect();
    let mut groups: Vec<(&str, Vec<&Line>)> = Vec::new();
    for line in &references.lines {
        match groups.last_mut().filter(|group| group.0 == line.group) {
            Some(group) => group.1.push(line),
            None => groups.push((&line.group, vec![line])),
        }
    }
    part(
        "references",
        html! {
            p {
                "The same drill, computed twice more from this run's own texts: by a robot crew that works the expert's \
                procedure, and by a crew that does nothing. Neither is a mark: the robots never look for anything and never \
                hesitate. What an instructor did to this run is not in theirs."
            }
            @for why in &references.missing { p.doubt { (why) "." } }
            @if !names.is_empty() {
                div.wide tabindex="0" role="region" aria-label="This run beside the references" {
                    table {
                        thead { tr {
                            th scope="col" { "What" } th scope="col" { "This run" }
                            @for name in &names { th scope="col" { (name) } }
                        } }
                        @for (group, lines) in &groups {
                            tbody {
                                tr.stage { th scope="rowgroup" colspan=(names.len() + 2) { (group) } }
                                @for line in lines {
                                    tr { th scope="row" { (line.what) } @for cell in &line.cells { td { (cell) } } }
                                }
                            }
                        }
                    }
                }
            }
        },
    )
}

//! What was noted, and what the team takes with it.

use super::{event, part, time};
use crate::report::facts::Facts;
use deadship_run::debrief::Note;
use deadship_run::event::CATEGORIES;
use maud::{Markup, html};

/// Beginnings of notes that are the team's own resolutions.
const RESOLVED: [&str; 3] = ["keep:", "change:", "agreed:"];

/// Empty lines of the form that is filled in by hand.
const LINES: usize = 3;

/// Is a note one of the team's own resolutions?
fn is_resolution(note: &Note) -> bool {
    let text = note.text.trim_start().to_lowercase();
    RESOLVED.iter().any(|begins| text.starts_with(begins))
}

/// Marks and notes, by what they are about.
pub(super) fn notes(facts: &Facts) -> Markup {
    let noted: Vec<&Note> = facts.debrief.notes.iter().filter(|note| !is_resolution(note)).collect();
    let sorts = CATEGORIES.iter().map(|known| (Some(known.1), known.0)).chain([(None, "notes")]);
    part(
        "notes",
        html! {
            @if noted.is_empty() { p { "Nothing was marked or noted." } }
            @for (category, word) in sorts {
                @let of_it: Vec<&&Note> = noted.iter().filter(|note| note.category == category).collect();
                @if !of_it.is_empty() {
                    h3 { (word.replace('-', " ")) }
                    ul { @for note in of_it { li { (line(note)) } } }
                }
            }
        },
    )
}

fn line(note: &Note) -> Markup {
    let texts = std::iter::once(&note.text).chain(note.added.iter().map(|added| &added.text));
    let texts: Vec<&str> = texts.map(String::as_str).filter(|text| !text.is_empty()).collect();
    html! {
        (time(note.about_tick)) " "
        @if texts.is_empty() { "marked, without words" } @else { (texts.join("; ")) }
        ", by " (note.by) ", " (event(note.seq))
    }
}

/// What the team said that it keeps and changes, and a form for more.
pub(super) fn commitments(facts: &Facts) -> Markup {
    let resolved: Vec<&Note> = facts.debrief.notes.iter().filter(|note| is_resolution(note)).collect();
    part(
        "commitments",
        html! {
            @if resolved.is_empty() {
                p.screen-only {
                    "Nothing is written down yet. A note that begins with " code { "keep:" } ", " code { "change:" } " or "
                    code { "agreed:" } " stands here."
                }
            } @else {
                ul { @for note in resolved { li { (line(note)) } } }
            }
            h3 { "To fill in by hand" }
            table.form {
                thead { tr {
                    th scope="col" { "What we keep" } th scope="col" { "What we change" }
                    th scope="col" { "Who, and by when" }
                } }
                tbody { @for _ in 0..LINES { tr { td {} td {} td {} } } }
            }
        },
    )
}

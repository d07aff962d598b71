//! Notes and marks: what is to be talked about when the run is over.

use super::Refusal;
use super::orders::optional;
use super::people::check_text;
use crate::event::{Category, Event};
use crate::run::Run;
use crate::setup::ticks;
use crate::who::Who;

/// How far back a mark can be dated, s.
const LONGEST_AGO_S: f64 = 600.0;
/// How many notes are named to someone who asks for one that is not there.
const NAMED: usize = 5;

pub(super) fn note(who: &Who, text: &str) -> Result<Vec<Event>, Refusal> {
    check_text(text)?;
    Ok(noted(who, text, None, None, None))
}

/// A mark says by its category what it is about; a text is not needed.
pub(super) fn mark(
    run: &Run,
    who: &Who,
    category: Category,
    ago_s: Option<f64>,
    text: &str,
) -> Result<Vec<Event>, Refusal> {
    let text = optional(text)?;
    if ago_s.is_some_and(|ago_s| !(0.0..=LONGEST_AGO_S).contains(&ago_s)) {
        let longest = LONGEST_AGO_S / 60.0;
        let why = format!("a mark is dated back by 0 s to {longest} min; say the rest in its text");
        return Err(Refusal::new("value-out-of-range", why));
    }
    let about_tick = ago_s.map(|ago_s| run.tick().saturating_sub(ticks(ago_s)));
    Ok(noted(who, &text, Some(category), about_tick, None))
}

/// A text to an earlier note. One that is for such a text belongs to the same note.
pub(super) fn note_on(run: &Run, who: &Who, number: u64, text: &str) -> Result<Vec<Event>, Refusal> {
    check_text(text)?;
    let notes = &run.links.notes;
    let Some(note) = notes.get(&number) else {
        let latest: Vec<String> = notes.keys().rev().take(NAMED).map(u64::to_string).collect();
        let there = match latest.as_slice() {
            [] => "nothing has been noted yet".to_owned(),
            latest => format!("the latest notes are events {}", latest.join(", ")),
        };
        return Err(Refusal::new("unknown-note", format!("event {number} is not a note; {there}")));
    };
    Ok(noted(who, text, None, None, Some(note.seq)))
}

fn noted(
    who: &Who,
    text: &str,
    category: Option<Category>,
    about_tick: Option<u64>,
    on: Option<u64>,
) -> Vec<Event> {
    vec![Event::Noted { text: text.trim().to_owned(), by: who.to_string(), category, about_tick, on }]
}

//! What was noted, by the time that it is about, with what was added later.

use crate::envelope::Envelope;
use crate::event::{Category, Event};
use serde::{Deserialize, Serialize};

/// A note or a mark.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Note {
    /// Event.
    pub seq: u64,
    /// Tick at which it was noted.
    pub tick: u64,
    /// Tick that it is about.
    pub about_tick: u64,
    /// Who noted it.
    pub by: String,
    /// What it is about; `None` for a plain note.
    pub category: Option<Category>,
    /// Text; may be empty for a mark.
    pub text: String,
    /// What was added to it later, in order.
    pub added: Vec<Added>,
}

/// A text that was added to a note.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Added {
    /// Event.
    pub seq: u64,
    /// Tick at which it was added.
    pub tick: u64,
    /// Who added it.
    pub by: String,
    /// Text.
    pub text: String,
}

/// Takes a note into the list, which is in the order of what the notes are about.
pub(super) fn take(notes: &mut Vec<Note>, envelope: &Envelope) {
    let Event::Noted { text, by, category, about_tick, on } = &envelope.event else { return };
    let (seq, tick, by, text) = (envelope.seq, envelope.tick, by.clone(), text.clone());
    if let Some(note) = notes.iter_mut().find(|note| Some(note.seq) == *on) {
        return note.added.push(Added { seq, tick, by, text });
    }
    let about_tick = about_tick.unwrap_or(tick);
    let at = notes.partition_point(|earlier| earlier.about_tick <= about_tick);
    let note = Note { seq, tick, about_tick, by, category: *category, text, added: Vec::new() };
    notes.insert(at, note);
}

impl Note {
    /// Category and texts.
    pub fn said(&self) -> String {
        let texts = std::iter::once(&self.text).chain(self.added.iter().map(|added| &added.text));
        let texts: Vec<&str> = texts.map(String::as_str).filter(|text| !text.is_empty()).collect();
        match self.category {
            Some(category) if texts.is_empty() => category.word().to_owned(),
            Some(category) => format!("{}: {}", category.word(), texts.join("; ")),
            None => texts.join("; "),
        }
    }
}

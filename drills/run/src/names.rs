//! Names of people in a log, and pseudonyms in their place: in who did something and in what was typed.

use crate::envelope::Envelope;
use crate::event::Event;
use crate::who::Who;
use std::collections::BTreeMap;

/// Shorter parts of a name are not looked for: they are words of the language more often than names.
const SHORTEST_PART: usize = 3;

/// What people of a run are called.
#[derive(Clone, Debug)]
pub struct Names {
    /// Their own names stay.
    shown: bool,
    people: BTreeMap<String, String>,
    /// What is looked for in texts, in small letters, longest first, and what takes its place.
    needles: Vec<(Vec<char>, String)>,
}

impl Names {
    /// Everyone keeps their own.
    pub fn shown() -> Names {
        Names { shown: true, people: BTreeMap::new(), needles: Vec::new() }
    }

    /// Pseudonyms for everyone in a log: station first held, or the role of whoever held none, and a number.
    pub fn hidden(log: &[Envelope]) -> Names {
        let mut order: Vec<(String, String)> = Vec::new();
        let mut stations: BTreeMap<&str, &str> = BTreeMap::new();
        for envelope in log {
            let Who::Person { name, role, station } = &envelope.who else { continue };
            if !order.iter().any(|(known, _)| known == name) {
                order.push((name.clone(), role.word().to_owned()));
            }
            let taken = match &envelope.event {
                Event::StationTaken { station, .. } => Some(station),
                _ => station.as_ref(),
            };
            if let Some(station) = taken {
                stations.entry(name).or_insert(station);
            }
        }
        let mut counts: BTreeMap<String, u64> = BTreeMap::new();
        let mut people = BTreeMap::new();
        for (name, role) in &order {
            let base = stations.get(name.as_str()).map_or(role.clone(), |station| (*station).to_owned());
            let count = counts.entry(base.clone()).or_default();
            *count += 1;
            people.insert(name.clone(), format!("{base}-{count}"));
        }
        let needles = needles(&people);
        Names { shown: false, people, needles }
    }

    /// For a log that is to be without one person: they alone get a pseudonym, which nobody in it has, and which says
    /// nothing of what they did. `None`: neither did they do anything in it, nor does their whole name stand in a text.
    pub fn without(log: &[Envelope], name: &str) -> Option<(Names, String)> {
        let wanted = folded(name);
        if wanted.is_empty() {
            return None;
        }
        let mut known: Vec<&str> = log
            .iter()
            .filter_map(|envelope| match &envelope.who {
                Who::Person { name, .. } => Some(name.as_str()),
                _ => None,
            })
            .collect();
        known.sort_unstable();
        known.dedup();
        let is_free = |pseudonym: &String| known.iter().all(|known| folded(known) != folded(pseudonym));
        let pseudonym = (1..).map(|number: u64| format!("anonymous-{number}")).find(is_free)?;
        let (them, others): (Vec<&str>, Vec<&str>) = known.iter().partition(|known| folded(known) == wanted);
        let mut needles = vec![wanted];
        // Who only is spoken of may share a first name with anybody.
        if !them.is_empty() {
            let is_others = |part: &Vec<char>| others.iter().any(|other| folded(other) == *part);
            needles.extend(parts(name).map(folded).filter(|part| !is_others(part)));
        }
        needles.sort_by_key(|needle| std::cmp::Reverse(needle.len()));
        needles.dedup();
        let names = Names {
            shown: false,
            people: them.iter().map(|name| ((*name).to_owned(), pseudonym.clone())).collect(),
            needles: needles.into_iter().map(|needle| (needle, pseudonym.clone())).collect(),
        };
        log.iter().any(|envelope| names.hide(envelope) != *envelope).then_some((names, pseudonym))
    }

    /// One person, whose whole name and its parts get a pseudonym wherever they stand.
    pub fn one(name: &str, pseudonym: &str) -> Names {
        let people = BTreeMap::from([(name.trim().to_owned(), pseudonym.to_owned())]);
        let needles = needles(&people);
        Names { shown: false, people, needles }
    }

    /// Do people keep their own names?
    pub fn are_shown(&self) -> bool {
        self.shown
    }

    /// The event without anyone's name.
    pub fn hide(&self, envelope: &Envelope) -> Envelope {
        let mut hidden = envelope.clone();
        if self.shown {
            return hidden;
        }
        if let Who::Person { name, .. } = &mut hidden.who
            && let Some(pseudonym) = self.people.get(name)
        {
            *name = pseudonym.clone();
        }
        match &mut hidden.event {
            Event::Said { text, .. }
            | Event::OrderGiven { text, .. }
            | Event::OrderRepeated { text, .. }
            | Event::OrderReported { text, .. }
            | Event::OrderOverdue { text, .. }
            | Event::Reported { text, .. }
            | Event::HoldSet { reason: text }
            | Event::RunEnded { reason: text } => *text = self.text(text),
            Event::Noted { text, by, .. } | Event::Rated { text, by, .. } => {
                *text = self.text(text);
                *by = self.text(by);
            }
            Event::ActRefused { command, reasons } => {
                *command = self.text(command);
                reasons.iter_mut().for_each(|reason| reason.text = self.text(&reason.text));
            }
            // The rest holds names of stations and of parts of the ship, and texts of files.
            _ => {}
        }
        hidden
    }

    /// A text with the pseudonyms of everyone who is named in it. It is gone through once, so that a pseudonym is never
    /// taken for a name.
    pub fn text(&self, text: &str) -> String {
        let mut hidden = String::with_capacity(text.len());
        let mut rest = text;
        let mut before = None;
        while let Some(first) = rest.chars().next() {
            let found = self.needles.iter().find_map(|(needle, pseudonym)| {
                let length = match_length(rest, before, needle)?;
                Some((length, pseudonym))
            });
            let length = match found {
                Some((length, pseudonym)) => {
                    hidden.push_str(pseudonym);
                    length
                }
                None => {
                    hidden.push(first);
                    first.len_utf8()
                }
            };
            before = rest[..length].chars().next_back();
            rest = &rest[length..];
        }
        hidden
    }
}

/// Do both name the same person of a run? There no two differ in capitals alone.
pub fn is_same(a: &str, b: &str) -> bool {
    folded(a) == folded(b)
}

/// What is looked for: whole names, and their parts, so that `Ada` is found where `Ada Byron` has a seat.
fn needles(people: &BTreeMap<String, String>) -> Vec<(Vec<char>, String)> {
    let mut found: BTreeMap<Vec<char>, Vec<&str>> = BTreeMap::new();
    for (name, pseudonym) in people {
        found.insert(folded(name), vec![pseudonym]);
    }
    for (name, pseudonym) in people {
        for part in parts(name) {
            let part = folded(part);
            let whole = people.keys().any(|name| folded(name) == part);
            let shared = found.entry(part).or_default();
            // A part that is somebody's whole name means them.
            if !whole && !shared.contains(&pseudonym.as_str()) {
                shared.push(pseudonym);
            }
        }
    }
    let mut needles: Vec<(Vec<char>, String)> =
        found.into_iter().map(|(needle, pseudonyms)| (needle, pseudonyms.join(" or "))).collect();
    needles.retain(|(needle, _)| !needle.is_empty());
    needles.sort_by_key(|(needle, _)| std::cmp::Reverse(needle.len()));
    needles
}

/// The words of a name that can stand for it: of one written with capitals, those that have one.
fn parts(name: &str) -> impl Iterator<Item = &str> {
    let capitals = name.chars().any(char::is_uppercase);
    name.split(|c: char| !c.is_alphanumeric()).filter(move |part| {
        let named = !capitals || !part.starts_with(char::is_lowercase);
        named && part.chars().count() >= SHORTEST_PART
    })
}

fn folded(text: &str) -> Vec<char> {
    text.trim().chars().flat_map(char::to_lowercase).collect()
}

/// Bytes of the text that the needle takes at its beginning, where it stands there as a word of its own.
fn match_length(text: &str, before: Option<char>, needle: &[char]) -> Option<usize> {
    let first = text.chars().next()?;
    if before.is_some_and(|before| joined(before, first)) {
        return None;
    }
    let mut needed = needle.iter();
    let mut last = first;
    let mut chars = text.char_indices();
    while !needed.as_slice().is_empty() {
        let (_, c) = chars.next()?;
        // A letter that becomes several in small letters is there as a whole or not at all.
        if !c.to_lowercase().all(|small| needed.next() == Some(&small)) {
            return None;
        }
        last = c;
    }
    let rest = chars.as_str();
    if rest.chars().next().is_some_and(|after| joined(last, after)) {
        return None;
    }
    Some(text.len() - rest.len())
}

/// Are both of the same word? In writing without capitals words are not always parted: a name is looked for everywhere.
fn joined(a: char, b: char) -> bool {
    let of_word = |c: char| c.is_lowercase() || c.is_uppercase() || c.is_numeric();
    of_word(a) && of_word(b)
}

#[cfg(test)]
mod tests;

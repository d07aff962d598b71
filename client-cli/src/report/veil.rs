//! People under other names: `Person 1` is whoever came first.

use deadship_run::measures::Measures;
use deadship_run::{Envelope, Event, Who};

/// Names of people, and what stands for them.
pub(crate) struct Veil {
    names: Vec<(String, String)>,
}

impl Veil {
    /// Everyone stands under their own name.
    pub(crate) fn none() -> Veil {
        Veil { names: Vec::new() }
    }

    /// Everyone who did something in a log, in the order in which they came.
    pub(crate) fn of(log: &[Envelope]) -> Veil {
        let mut names: Vec<(String, String)> = Vec::new();
        for envelope in log {
            let Who::Person { name, role, .. } = &envelope.who else { continue };
            // Whoever goes by what they are has no name to hide.
            let has_name = name != role.word() && name != REHEARSAL;
            if has_name && !names.iter().any(|known| known.0 == *name) {
                names.push((name.clone(), format!("Person {}", names.len() + 1)));
            }
        }
        Veil { names }
    }

    /// The same log with other names, in what people did and in what was said and noted.
    pub(crate) fn over(&self, log: &[Envelope]) -> Vec<Envelope> {
        log.iter().map(|envelope| self.envelope(envelope)).collect()
    }

    /// The same measures with other names.
    pub(crate) fn over_measures(&self, mut measures: Measures) -> Measures {
        let hide = |text: &mut String| *text = self.text(text);
        let recovery =
            measures.measures.iter_mut().chain(&mut measures.alerts.figures).chain(&mut measures.orders);
        recovery.for_each(|measure| hide(&mut measure.text));
        for fault in &mut measures.faults {
            hide(&mut fault.by);
            let points = [
                &mut fault.sign,
                &mut fault.noticed,
                &mut fault.reported,
                &mut fault.diagnosed,
                &mut fault.acted,
                &mut fault.cured,
            ];
            points.into_iter().flatten().for_each(|point| hide(&mut point.text));
        }
        measures.starts.iter_mut().for_each(|start| hide(&mut start.text));
        for act in &mut measures.unsafe_acts {
            hide(&mut act.who);
            hide(&mut act.text);
        }
        for moment in &mut measures.moments {
            hide(&mut moment.title);
            hide(&mut moment.why);
        }
        measures
    }

    fn envelope(&self, envelope: &Envelope) -> Envelope {
        let mut veiled = envelope.clone();
        if let Who::Person { name, .. } = &mut veiled.who {
            *name = self.name(name);
        }
        match &mut veiled.event {
            Event::Noted { text, by, .. } | Event::Rated { text, by, .. } => {
                *text = self.text(text);
                *by = self.name(by);
            }
            Event::Said { text, .. }
            | Event::OrderGiven { text, .. }
            | Event::OrderRepeated { text, .. }
            | Event::OrderReported { text, .. }
            | Event::OrderOverdue { text, .. }
            | Event::Reported { text, .. }
            | Event::HoldSet { reason: text }
            | Event::RunEnded { reason: text }
            | Event::ActRefused { command: text, .. } => *text = self.text(text),
            _ => {}
        }
        if let Event::ActRefused { reasons, .. } = &mut veiled.event {
            reasons.iter_mut().for_each(|reason| reason.text = self.text(&reason.text));
        }
        veiled
    }

    fn name(&self, name: &str) -> String {
        let known = self.names.iter().find(|known| known.0 == name);
        known.map_or_else(|| self.text(name), |known| known.1.clone())
    }

    /// A text in which names are told apart from words that only hold them.
    pub(crate) fn text(&self, text: &str) -> String {
        let mut longest_first: Vec<&(String, String)> = self.names.iter().collect();
        longest_first.sort_by_key(|known| std::cmp::Reverse(known.0.len()));
        let mut done = String::with_capacity(text.len());
        let mut rest = text;
        let mut before: Option<char> = None;
        while let Some(next) = rest.chars().next() {
            let found = longest_first.iter().find(|known| begins_with(rest, before, &known.0));
            let (said, taken) = match found {
                Some((name, instead)) => (instead.as_str(), name.len()),
                None => (&rest[..next.len_utf8()], next.len_utf8()),
            };
            done.push_str(said);
            before = rest[..taken].chars().next_back();
            rest = &rest[taken..];
        }
        done
    }
}

/// Under this name a rehearsal is opened and ended: no person.
const REHEARSAL: &str = "rehearsal";

/// Does a text begin with this name, as a word of its own? Scripts without spaces have no such words.
fn begins_with(text: &str, before: Option<char>, name: &str) -> bool {
    let Some(head) = text.get(..name.len()) else { return false };
    let same = head == name || head.to_lowercase() == name.to_lowercase();
    let in_word = |near: Option<char>| name.is_ascii() && near.is_some_and(char::is_alphanumeric);
    same && !name.is_empty() && !in_word(before) && !in_word(text[name.len()..].chars().next())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn veil(names: &[&str]) -> Veil {
        let named =
            names.iter().enumerate().map(|(at, name)| ((*name).to_owned(), format!("Person {}", at + 1)));
        Veil { names: named.collect() }
    }

    #[test]
    fn names_are_found_in_what_was_said() {
        let veil = veil(&["Ada", "Ada Long", "水野", "Bo"]);
        assert_eq!(
            veil.text("Ada, open it; ada long: bore Bo's cock"),
            "Person 1, open it; Person 2: bore Person 4's cock"
        );
        assert_eq!(veil.text("水野さん、Adam"), "Person 3さん、Adam");
        assert_eq!(veil.text(""), "");
    }
}

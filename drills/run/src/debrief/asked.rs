//! What people were asked, what they answered, and what was right.

use crate::asking::{Grasp, Offered, UNSURE};
use crate::envelope::Envelope;
use crate::event::Event;
use crate::timeline::clock;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A question that was asked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AskCourse {
    /// Its name.
    pub name: String,
    /// Event.
    pub seq: u64,
    /// Tick at which it was asked.
    pub tick: u64,
    /// Station that was asked; `None`: all.
    pub to: Option<String>,
    /// Text.
    pub text: String,
    /// What could be answered.
    pub choices: Vec<Offered>,
    /// What a probe asks about; `None`: it is a decision.
    pub grasp: Option<Grasp>,
    /// Words of the choices that were right; `None`: a decision, or the log ends before it was known.
    pub right: Option<Vec<String>>,
    /// Who answered, in order.
    pub answers: Vec<AnswerGiven>,
    /// Did nobody decide in time?
    pub undecided: bool,
}

/// An answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AnswerGiven {
    /// Event.
    pub seq: u64,
    /// Tick.
    pub tick: u64,
    /// Who.
    pub by: String,
    /// Word of the choice.
    pub choice: String,
}

impl AskCourse {
    /// Was this answer right? `None`: it is not known, or nothing that could be answered is.
    pub fn is_right(&self, answer: &AnswerGiven) -> Option<bool> {
        let right = self.right.as_ref().filter(|right| !right.is_empty())?;
        Some(right.contains(&answer.choice))
    }

    /// A choice for people: word and text.
    pub fn choice(&self, word: &str) -> String {
        let known = self.choices.iter().find(|choice| choice.word == word);
        known.map_or_else(|| word.to_owned(), |choice| format!("{word}, {}", choice.text))
    }

    /// What was right, for people.
    pub fn right_said(&self) -> String {
        match self.right.as_deref() {
            _ if self.grasp.is_none() => String::new(),
            None => "the run did not go on long enough to show what is right".to_owned(),
            Some([]) => "nothing that could be answered was right".to_owned(),
            Some(words) => {
                let words: Vec<String> = words.iter().map(|word| self.choice(word)).collect();
                format!("right: {}", words.join(" or "))
            }
        }
    }

    /// Who answered what, for people.
    pub fn answers_said(&self) -> String {
        let said = self.answers.iter().map(|answer| {
            let verdict = match self.is_right(answer) {
                Some(true) => ", right",
                Some(false) => ", wrong",
                None => "",
            };
            match self.grasp {
                Some(_) if answer.choice == UNSURE => format!("{}: did not know", answer.by),
                Some(_) => format!("{}: {}{verdict}", answer.by, answer.choice),
                None => {
                    let after = clock(answer.tick.saturating_sub(self.tick));
                    format!("{}: {} after {}", answer.by, self.choice(&answer.choice), after.trim())
                }
            }
        });
        match said.collect::<Vec<_>>().join("; ") {
            _ if self.undecided => "nobody decided in time".to_owned(),
            said if said.is_empty() => "not answered".to_owned(),
            said => said,
        }
    }

    /// All of it in a line.
    pub fn said(&self) -> String {
        let to = self.to.as_deref().unwrap_or("all");
        let about = self.grasp.map_or("decision", Grasp::word);
        let right = self.right_said();
        let right = if right.is_empty() { right } else { format!("; {right}") };
        let at = clock(self.tick);
        format!(
            "{} {} ({about}) to {to}: {}: {}{right}",
            at.trim(),
            self.name,
            self.text,
            self.answers_said()
        )
    }
}

/// Of the answers to probes, how many were right, of how many: for what is, why, and what comes next.
pub fn rights(asked: &[AskCourse]) -> Vec<(Grasp, u64, u64)> {
    let of = |grasp: Grasp| {
        let asks = asked.iter().filter(move |ask| ask.grasp == Some(grasp));
        let known = asks.flat_map(|ask| ask.answers.iter().filter_map(|answer| ask.is_right(answer)));
        let known: Vec<bool> = known.collect();
        (grasp, known.iter().filter(|right| **right).count() as u64, known.len() as u64)
    };
    Grasp::ALL.into_iter().map(of).filter(|(_, _, answers)| *answers > 0).collect()
}

/// What was asked so far. What is right is known a moment before it is asked, or later.
#[derive(Default)]
pub(super) struct Asked {
    courses: Vec<AskCourse>,
    right: BTreeMap<String, Vec<String>>,
}

impl Asked {
    /// Takes an event into the list.
    pub(super) fn take(&mut self, envelope: &Envelope) {
        let (seq, tick) = (envelope.seq, envelope.tick);
        match &envelope.event {
            Event::Asked { ask, to, text, choices, grasp, .. } => self.courses.push(AskCourse {
                name: ask.clone(),
                seq,
                tick,
                to: to.clone(),
                text: text.clone(),
                choices: choices.clone(),
                grasp: *grasp,
                right: None,
                answers: Vec::new(),
                undecided: false,
            }),
            Event::Answered { ask, choice, .. } => {
                let (by, choice) = (envelope.who.to_string(), choice.clone());
                if let Some(course) = self.course(ask) {
                    course.answers.push(AnswerGiven { seq, tick, by, choice });
                }
            }
            Event::AnswerKnown { ask, right, .. } => {
                self.right.insert(ask.clone(), right.clone());
            }
            Event::Undecided { ask, .. } => {
                if let Some(course) = self.course(ask) {
                    course.undecided = true;
                }
            }
            _ => {}
        }
    }

    fn course(&mut self, name: &str) -> Option<&mut AskCourse> {
        self.courses.iter_mut().find(|course| course.name == name)
    }

    pub(super) fn close(mut self) -> Vec<AskCourse> {
        for course in &mut self.courses {
            course.right = self.right.remove(&course.name);
        }
        self.courses
    }
}

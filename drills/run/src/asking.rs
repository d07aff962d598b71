//! What a drill asks people while it goes on.
//!
//! A *probe* puts the run on hold and asks what is, why it is so, and what comes next; what was true is found in the plant
//! and recorded beside the answers. A *decision* is a choice that a station makes; the drill goes on by it, because
//! conditions know what was `decided`. The three kinds of a probe's questions are the three levels of situation awareness
//! (perception, comprehension, projection: M. R. Endsley, Human Factors 37(1), 1995; from memory).

mod answer;
mod look;

pub(crate) use answer::{answer, lines};

use crate::condition::Condition;
use crate::drill::Trigger;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Longest name or text of a choice, characters: it must fit a line of a screen.
pub const LONGEST_CHOICE: usize = 120;
/// Most choices of a question: their letters go from `a` to `h`.
pub const MOST_CHOICES: usize = 8;
/// What `decided("…")` gives as long as the question has not been asked.
pub const NOT_ASKED: &str = "not-asked";
/// What it gives while it is asked and nobody has decided.
pub const OPEN: &str = "open";
/// What it gives when nobody decided in time.
pub const NOBODY: &str = "nobody";
/// What can be answered to every question of a probe besides its choices: who guesses shows nothing.
pub const UNSURE: &str = "unsure";
/// Words that no option may have.
pub const RESERVED: [&str; 3] = [NOT_ASKED, OPEN, NOBODY];

/// A step of the drill that asks people.
#[derive(Clone, Debug)]
pub struct Asking {
    /// Name.
    pub name: String,
    /// Station that is asked; `None`: all.
    pub to: Option<String>,
    /// When.
    pub comes: Trigger,
    /// Is the run on hold until it is answered?
    pub holds: bool,
    /// Its questions; a decision has one.
    pub asks: Vec<Ask>,
}

/// One question.
#[derive(Clone, Debug)]
pub struct Ask {
    /// Name: a decision's is that of its step; those of a probe are numbered, `look-round.1`.
    pub name: String,
    /// Text.
    pub text: String,
    /// What can be answered.
    pub choices: Vec<Choice>,
    /// What a probe asks about; `None`: it is a decision.
    pub grasp: Option<Grasp>,
    /// How long after it was asked the plant shows what is right, s.
    pub later_s: f64,
    /// In how long it must be decided, s; `None`: whenever.
    pub within_s: Option<f64>,
}

/// Something that can be answered.
#[derive(Clone, Debug)]
pub struct Choice {
    /// One word, as it is typed: the author's, or a letter.
    pub word: String,
    /// Text.
    pub text: String,
    /// When it is right; `None`: in a decision nothing is.
    pub right: Option<Condition>,
}

/// What a question of a probe asks about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Grasp {
    /// What is.
    Now,
    /// Why it is so, or what it means.
    Why,
    /// What comes next.
    Next,
}

impl Grasp {
    /// The words, in order.
    pub const WORDS: [&'static str; 3] = ["now", "why", "next"];

    /// All of them, in the order of their words.
    pub const ALL: [Grasp; 3] = [Grasp::Now, Grasp::Why, Grasp::Next];

    /// Its word.
    pub fn word(self) -> &'static str {
        Grasp::WORDS[self as usize]
    }

    /// What it asks about, for people.
    pub fn about(self) -> &'static str {
        match self {
            Grasp::Now => "what is",
            Grasp::Why => "why",
            Grasp::Next => "what comes next",
        }
    }
}

impl Asking {
    /// Is it a decision?
    pub fn decides(&self) -> bool {
        self.asks.iter().all(|ask| ask.grasp.is_none())
    }

    /// Why the run is on hold because of it. A probe says no more than that it asks.
    pub(crate) fn hold_reason(&self) -> String {
        format!("{} is asked: `asked` shows what", self.to.as_deref().unwrap_or("everyone"))
    }
}

/// A choice as it is recorded.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Offered {
    /// One word, as it is typed.
    pub word: String,
    /// Text.
    pub text: String,
}

/// A question that can be answered now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OpenAsk {
    /// Name.
    pub name: String,
    /// Station that is asked; `None`: all.
    pub to: Option<String>,
    /// Text.
    pub text: String,
    /// What can be answered.
    pub choices: Vec<Offered>,
    /// Is it a decision? The first answer closes it.
    pub decides: bool,
    /// Is the run on hold for it?
    pub holds: bool,
    /// Tick until which it must be decided.
    pub due_tick: Option<u64>,
    /// What each person ([`crate::who::Who::key`]) has answered.
    pub answered: BTreeMap<String, String>,
}

impl OpenAsk {
    /// Is this station asked?
    pub fn asks(&self, station: &str) -> bool {
        self.to.as_deref().is_none_or(|to| to == station)
    }
}

/// What was asked in a run.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Asked {
    /// Questions that can be answered, in the order in which they were asked.
    pub open: Vec<OpenAsk>,
    /// Decisions: the word of the option, or [`NOBODY`].
    pub decided: BTreeMap<String, String>,
    /// Questions whose right answer the plant is still to show, and when.
    pub waiting: BTreeMap<String, u64>,
}

impl Asked {
    /// Has nothing been asked?
    pub fn is_none(&self) -> bool {
        *self == Asked::default()
    }

    /// What `decided("…")` gives.
    pub fn decision(&self, name: &str) -> &str {
        match self.decided.get(name) {
            Some(word) => word,
            None if self.open.iter().any(|ask| ask.name == name) => OPEN,
            None => NOT_ASKED,
        }
    }

    /// Is an open question what the run is on hold for?
    pub(crate) fn holds(&self) -> bool {
        self.open.iter().any(|ask| ask.holds)
    }
}

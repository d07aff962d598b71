//! What a drill is to teach, and the scale on which it is rated.

use serde::{Deserialize, Serialize};

/// An objective of a drill.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Objective {
    /// Name: one word, as it is typed.
    pub name: String,
    /// What someone who has reached it can do.
    pub text: String,
    /// Table and title of the competence in the STCW Code, e.g. `A-III/1: …`; empty: none.
    pub stcw: String,
    /// The scale, the lowest level first.
    pub levels: Vec<Level>,
}

/// A level of a scale, anchored by what is seen.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Level {
    /// One word, as it is typed.
    pub word: String,
    /// What is seen at this level.
    pub text: String,
}

impl Objective {
    /// Place of a level on the scale, from 0.
    pub fn level(&self, word: &str) -> Option<usize> {
        self.levels.iter().position(|level| level.word == word)
    }

    /// The words of the scale.
    pub fn words(&self) -> Vec<&str> {
        self.levels.iter().map(|level| level.word.as_str()).collect()
    }
}

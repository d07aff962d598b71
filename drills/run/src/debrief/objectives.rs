//! Objectives: what the log shows of each, how it was rated, and how far raters agree.

use super::{Mark, Outcome};
use crate::drill_file::Outline;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::objective::Objective;
use crate::stats::{Agreement, agreement};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// An objective and what became of it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ObjectiveCourse {
    /// The objective, with its scale.
    #[serde(flatten)]
    pub objective: Objective,
    /// Names of the expectations that belong to it.
    pub expects: Vec<String>,
    /// Ratings: the last of each rater.
    pub ratings: Vec<Rating>,
}

/// A rating.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Rating {
    /// Word of the level.
    pub level: String,
    /// Who rated.
    pub by: String,
    /// Words to it; may be empty.
    pub text: String,
    /// Tick.
    pub tick: u64,
    /// Event.
    pub seq: u64,
}

/// How far two raters agree, over the objectives with a scale of one length.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Raters {
    /// One of them…
    pub first: String,
    /// …and the other.
    pub second: String,
    /// Levels of the scales.
    pub levels: u64,
    /// Their agreement.
    pub agreement: Agreement,
    /// Names of the objectives on which they stand two levels or more apart.
    pub far_apart: Vec<String>,
}

impl Raters {
    /// How far they agree, for people. Two levels apart on one objective is much, however few objectives there are.
    pub fn said(&self) -> String {
        let told = self.agreement.to_text();
        match self.far_apart.as_slice() {
            [] => told,
            names => format!(
                "{told}. WARNING: two levels or more apart on {}: talk about what each of you saw, and rate again",
                names.join(", ")
            ),
        }
    }
}

/// The objectives of a drill, before anything has happened.
pub(super) fn begin(outline: &Outline) -> Vec<ObjectiveCourse> {
    let course = |objective: &Objective| {
        let of_it = outline.objective_of.iter().filter(|(_, name)| *name == objective.name);
        ObjectiveCourse {
            objective: objective.clone(),
            expects: of_it.map(|(expect, _)| expect.clone()).collect(),
            ratings: Vec::new(),
        }
    };
    outline.objectives.iter().map(course).collect()
}

/// Takes a rating; an earlier one of the same rater counts no more.
pub(super) fn take(objectives: &mut [ObjectiveCourse], envelope: &Envelope) {
    let Event::Rated { objective, level, text, by, .. } = &envelope.event else { return };
    let Some(course) = objectives.iter_mut().find(|known| known.objective.name == *objective) else { return };
    course.ratings.retain(|rating| rating.by != *by);
    course.ratings.push(Rating {
        level: level.clone(),
        by: by.clone(),
        text: text.clone(),
        tick: envelope.tick,
        seq: envelope.seq,
    });
}

/// Every two raters who have rated an objective both.
pub(super) fn raters(objectives: &[ObjectiveCourse]) -> Vec<Raters> {
    let all: BTreeSet<&str> =
        objectives.iter().flat_map(|course| &course.ratings).map(|rating| rating.by.as_str()).collect();
    let lengths: BTreeSet<usize> = objectives.iter().map(|course| course.objective.levels.len()).collect();
    let all: Vec<&str> = all.into_iter().collect();
    let mut found = Vec::new();
    for (at, first) in all.iter().enumerate() {
        for second in &all[at + 1..] {
            for &levels in &lengths {
                let of_length = objectives.iter().filter(|course| course.objective.levels.len() == levels);
                let both = of_length.filter_map(|course| {
                    let name = course.objective.name.clone();
                    Some((name, (course.rated(first)?, course.rated(second)?)))
                });
                let (names, pairs): (Vec<String>, Vec<(usize, usize)>) = both.unzip();
                let far = names.into_iter().zip(&pairs).filter(|(_, (a, b))| a.abs_diff(*b) >= 2);
                if !pairs.is_empty() {
                    found.push(Raters {
                        first: (*first).to_owned(),
                        second: (*second).to_owned(),
                        levels: levels as u64,
                        far_apart: far.map(|(name, _)| name).collect(),
                        agreement: agreement(&pairs, levels),
                    });
                }
            }
        }
    }
    found
}

impl ObjectiveCourse {
    /// Place on the scale that a rater gave.
    fn rated(&self, by: &str) -> Option<usize> {
        self.objective.level(&self.ratings.iter().find(|rating| rating.by == by)?.level)
    }

    /// The marks that belong to it, in the order of the drill.
    pub fn marks<'m>(&self, marks: &'m [Mark]) -> Vec<&'m Mark> {
        marks.iter().filter(|mark| self.expects.contains(&mark.name)).collect()
    }

    /// What became of it, in a line: expectations met, ratings.
    pub fn said(&self, marks: &[Mark]) -> String {
        let marks = self.marks(marks);
        let met = marks.iter().filter(|mark| mark.outcome == Outcome::Met).count();
        let shown = match marks.len() {
            0 => "nothing that the log can tick".to_owned(),
            all => format!("{met} of {all} expected met"),
        };
        let ratings: Vec<String> =
            self.ratings.iter().map(|rating| format!("{} by {}", rating.level, rating.by)).collect();
        let rated = if ratings.is_empty() { "not rated".to_owned() } else { ratings.join(", ") };
        format!("{}: {shown}; {rated}", self.objective.name)
    }
}

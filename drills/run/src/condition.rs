//! Conditions: what must be true for a fault to strike, an expectation to be met, a procedure to go on.
//!
//! A condition is written in the Common Expression Language (CEL, an open specification), with readings in square
//! brackets: `[dg1.generator.voltage] > 430 V && [dg1.breaker.position] == "closed"`. A reading is a number in its
//! displayed unit, or one of its words as a text. A number may bear a unit, which must be one that a reading of the
//! condition (or `time`) can have; it is converted to the displayed unit. Besides readings there are `time` (s since
//! the start), `alert("name")`, `fault("component.fault")`, `done("name of an expectation")`, and
//! `decided("name of a decision")`, which gives the word of an option.
//!
//! The text is turned into CEL over generated names before it is compiled, and only what is listed here gets
//! through: so no condition can loop, and all that can be wrong with one is said when its file is read.

mod translate;
mod types;

use crate::asking::NOT_ASKED;
use cel::{Context, Program, Value};
use deadship_plant::Plant;
use deadship_plant::plant::Compiled;
use deadship_plant::unit::{Dimension, to_display};
use std::sync::Arc;

/// Longest condition, characters.
pub const LONGEST: usize = 2000;
/// Deepest nesting of parentheses.
pub const DEEPEST: usize = 32;
/// Most operators: they nest as parentheses do.
pub const MOST_OPERATORS: usize = 200;

/// Where a name of a condition gets its value from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Source {
    /// A reading, by its flat index.
    Reading { flat: usize, dimension: Dimension, words: &'static [&'static str] },
    /// Is an alert's condition true?
    Alert(usize),
    /// Is a fault present?
    Fault(usize, usize),
    /// Was an expectation met? Index in [`Names::dones`].
    Done(usize),
    /// What was decided? Index in [`Names::decisions`].
    Decided(usize),
    /// Seconds since the start.
    Time,
    /// A number with a unit, in the displayed unit of its dimension.
    Number { value: f64, dimension: Dimension },
}

/// What a condition can name.
pub struct Names<'a> {
    /// The ship.
    pub compiled: &'a Compiled,
    /// What `done("…")` knows, in the order of [`Instant::done`].
    pub dones: &'a [String],
    /// Decisions, each with the words that `decided("…")` can give, in the order of [`Instant::decided`].
    pub decisions: &'a [(String, Vec<String>)],
}

/// What a condition is asked about.
pub struct Instant<'a> {
    /// Plant.
    pub plant: &'a Plant,
    /// Seconds since the start.
    pub time_s: f64,
    /// Which of [`Names::dones`] are done.
    pub done: &'a [bool],
    /// The word of each of [`Names::decisions`] now.
    pub decided: &'a [String],
}

/// Something wrong with a condition.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wrong {
    /// Character at which, from 0.
    pub at: usize,
    /// What.
    pub message: String,
    /// What to do, or the nearest known name.
    pub help: Option<String>,
}

/// A condition, checked and compiled.
#[derive(Clone)]
pub struct Condition {
    text: String,
    program: Arc<Program>,
    binds: Vec<(String, Source)>,
}

impl std::fmt::Debug for Condition {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Condition({})", self.text)
    }
}

impl Condition {
    /// Reads a condition.
    ///
    /// # Errors
    /// All that is wrong with it.
    pub fn new(text: &str, names: &Names<'_>) -> Result<Condition, Vec<Wrong>> {
        let translated = translate::translate(text, names)?;
        let whole = |message: String| vec![Wrong { at: 0, message, help: None }];
        let program = Program::compile(&translated.cel).map_err(|_| {
            whole("the condition is not well formed: look for a missing operator, bracket or value".into())
        })?;
        types::check(program.expression(), &translated).map_err(|wrong| vec![wrong])?;
        let condition =
            Condition { text: text.to_owned(), program: Arc::new(program), binds: translated.binds };
        for value in [0.0, 1.0] {
            condition.evaluate(|source| sample(source, value)).map_err(whole)?;
        }
        Ok(condition)
    }

    /// The text as written.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Flat indices of the readings it names.
    pub fn readings(&self) -> impl Iterator<Item = usize> {
        self.binds.iter().filter_map(|(_, source)| match source {
            Source::Reading { flat, .. } => Some(*flat),
            _ => None,
        })
    }

    /// Indices of the alerts it names.
    pub fn alerts(&self) -> impl Iterator<Item = usize> {
        self.binds
            .iter()
            .filter_map(|(_, source)| if let Source::Alert(alert) = source { Some(*alert) } else { None })
    }

    /// Indices of the expectations that it names with `done("…")`, in the order of [`Names::dones`].
    pub fn dones(&self) -> impl Iterator<Item = usize> {
        self.binds
            .iter()
            .filter_map(|(_, source)| if let Source::Done(done) = source { Some(*done) } else { None })
    }

    /// Indices of the decisions that it names, in the order of [`Names::decisions`].
    pub fn decisions(&self) -> impl Iterator<Item = usize> {
        self.binds
            .iter()
            .filter_map(|(_, source)| if let Source::Decided(at) = source { Some(*at) } else { None })
    }

    /// Indices of the expectations without which it cannot be true: those that stand alone, or joined to all else by `&&`.
    pub(crate) fn needs_done(&self) -> Vec<usize> {
        let mut needed = Vec::new();
        types::joined(&self.program.expression().expr, &mut |name| {
            let source = self.binds.iter().find(|(bound, _)| bound == name).map(|(_, source)| *source);
            if let Some(Source::Done(done)) = source {
                needed.push(done);
            }
        });
        needed
    }

    /// Indices of the components whose faults it names.
    pub fn faulty(&self) -> impl Iterator<Item = usize> {
        self.binds
            .iter()
            .filter_map(|(_, source)| if let Source::Fault(owner, _) = source { Some(*owner) } else { None })
    }

    /// Is it true now?
    ///
    /// # Errors
    /// What the evaluation said. Reading a condition checks types, so this is a fault of the program, not of an author.
    pub fn holds(&self, now: &Instant<'_>) -> Result<bool, String> {
        self.evaluate(|source| now.value(source))
    }

    fn evaluate(&self, value: impl Fn(Source) -> Value) -> Result<bool, String> {
        let mut context = Context::empty();
        for (name, source) in &self.binds {
            context.add_variable_from_value(name.as_str(), value(*source));
        }
        match self.program.execute(&context) {
            Ok(Value::Bool(holds)) => Ok(holds),
            Ok(_) => Err("the condition is neither true nor false".to_owned()),
            Err(error) => Err(format!("the condition cannot be evaluated: {error}")),
        }
    }
}

impl Instant<'_> {
    fn value(&self, source: Source) -> Value {
        match source {
            Source::Reading { flat, dimension, words } => {
                let value = self.plant.readings()[flat];
                match words {
                    [] => Value::Float(to_display(value, dimension)),
                    words => text(word(words, value)),
                }
            }
            Source::Alert(alert) => Value::Bool(self.plant.alert_on(alert)),
            Source::Fault(component, fault) => Value::Bool(self.plant.fault(component, fault) > 0.0),
            Source::Done(index) => Value::Bool(self.done.get(index).copied().unwrap_or(false)),
            Source::Decided(index) => text(self.decided.get(index).map_or(NOT_ASKED, String::as_str)),
            Source::Time => Value::Float(self.time_s),
            Source::Number { value, .. } => Value::Float(value),
        }
    }
}

/// A value of the right type, for the dry evaluation.
fn sample(source: Source, value: f64) -> Value {
    match source {
        Source::Reading { words: [], .. } | Source::Time => Value::Float(value),
        Source::Number { value, .. } => Value::Float(value),
        Source::Reading { words, .. } => text(word(words, value)),
        Source::Alert(_) | Source::Fault(..) | Source::Done(_) => Value::Bool(value > 0.5),
        Source::Decided(_) => text(""),
    }
}

fn text(word: &str) -> Value {
    Value::String(Arc::new(word.to_owned()))
}

/// The word of a reading that is a state.
pub(crate) fn word<'w>(words: &[&'w str], value: f64) -> &'w str {
    words.get(value.round().max(0.0) as usize).copied().unwrap_or("?")
}

#[cfg(test)]
mod tests;

//! The objectives of a drill file.

use super::{Desk, StepNames};
use crate::objective::{Level, Objective};
use deadship_plant::file::toml_reader::{At, Field, Reader};
use std::collections::BTreeSet;

/// Fewest and most levels of a scale: more cannot be told apart (common practice, no source).
const LEVELS: std::ops::RangeInclusive<usize> = 2..=7;

impl<'a> Desk<'a> {
    pub(super) fn read_objectives(&self, tables: &[Reader<'a>]) -> Vec<Objective> {
        let mut names = StepNames::default();
        let mut objectives = Vec::new();
        for table in tables {
            let name = names.read(table).unwrap_or_default();
            if name.contains(char::is_whitespace)
                && let Some(field) = table.get("name")
            {
                field.report("the name of an objective is typed: one word, with `-` between its parts");
            }
            let text = self.need_text(table, "text");
            let stcw = table.get("stcw").and_then(|field| field.text());
            if let Some(stcw) = stcw.as_ref().filter(|stcw| !is_competence(&stcw.value)) {
                let message = "`stcw` names a table and the title of a competence: `A-III/1: Title`";
                self.problems.report(stcw.spot, message);
            }
            let levels = table.need("levels").map_or(Vec::new(), |field| self.levels(&field));
            // For `lint` only: nothing in a run depends on it.
            table.get("by-people").and_then(|field| field.flag());
            table.finish();
            let stcw = stcw.map_or_else(String::new, |stcw| stcw.value);
            objectives.push(Objective { name, text, stcw, levels });
        }
        objectives
    }

    fn levels(&self, field: &Field<'a>) -> Vec<Level> {
        let texts = field.texts().unwrap_or_default();
        let mut seen = BTreeSet::new();
        let mut levels = Vec::new();
        for text in &texts {
            match level(&text.value) {
                Some(level) if seen.insert(level.word.clone()) => levels.push(level),
                Some(level) => {
                    self.problems.report(text.spot, format!("there is already a level `{}`", level.word));
                }
                None => {
                    let message = "a level is a word and what is seen at it: `word: a sentence`";
                    self.problems.report(text.spot, message);
                }
            }
        }
        if !LEVELS.contains(&texts.len()) {
            field.report(&format!("a scale has {} to {} levels", LEVELS.start(), LEVELS.end()));
        }
        levels
    }

    /// The objective that an expectation belongs to.
    pub(super) fn objective(&self, name: At<String>, objectives: &[Objective]) -> Option<String> {
        if objectives.iter().any(|known| known.name == name.value) {
            return Some(name.value);
        }
        let message = format!("there is no objective `{}`", name.value);
        let known = objectives.iter().map(|known| known.name.as_str());
        self.unknown("objective", &name, message, known);
        None
    }
}

fn level(text: &str) -> Option<Level> {
    let (word, text) = text.split_once(':')?;
    let (word, text) = (word.trim(), text.trim());
    let is_word = !word.is_empty() && !word.contains(char::is_whitespace);
    (is_word && !text.is_empty()).then(|| Level { word: word.to_owned(), text: text.to_owned() })
}

/// `A-III/1: Title`.
fn is_competence(text: &str) -> bool {
    let Some((table, title)) = text.split_once(": ") else { return false };
    let is_table = table.starts_with("A-") && table.contains('/') && !table.contains(char::is_whitespace);
    is_table && !title.trim().is_empty()
}

/// An objective for reports: what is wrong with it is said when the file is read.
pub(super) fn glance(table: &Reader<'_>) -> Option<Objective> {
    let text = |key: &str| table.get(key).and_then(|field| Some(field.text()?.value));
    let levels = table.get("levels").and_then(|field| field.texts()).unwrap_or_default();
    Some(Objective {
        name: text("name")?,
        text: text("text").unwrap_or_default(),
        stcw: text("stcw").unwrap_or_default(),
        levels: levels.iter().filter_map(|text| level(&text.value)).collect(),
    })
}

//! What a drill file asks people: probes and decisions.

use super::{Desk, StepNames, name_of, positions};
use crate::asking::{Ask, Asking, Choice, Grasp, LONGEST_CHOICE, MOST_CHOICES, RESERVED};
use crate::dials::Positions;
use crate::drill::Trigger;
use deadship_plant::file::toml_reader::{At, Field, Reader};
use std::collections::BTreeSet;

/// Most questions of a probe: the run is on hold meanwhile.
const MOST_QUESTIONS: usize = 6;

impl<'a> Desk<'a> {
    /// Names of decisions and the words that `decided("…")` can give, before any condition is read: first those of this run, in
    /// the order in which it knows them, then those of others, which are never asked in it.
    pub(super) fn glance_at_decisions(&self, tables: &[Reader<'a>]) -> Vec<(String, Vec<String>)> {
        let of_one = |table: &Reader<'a>| {
            let options = table.get("options").and_then(|field| field.texts()).unwrap_or_default();
            let words = options.iter().filter_map(|option| Some(option_of(&option.value)?.0));
            Some((name_of(table)?, words.chain(RESERVED.map(str::to_owned)).collect()))
        };
        let is_now = |table: &&Reader<'a>| self.is_in_run(table, &positions(table));
        let (now, otherwise): (Vec<_>, Vec<_>) = tables.iter().partition(is_now);
        now.into_iter().chain(otherwise).filter_map(of_one).collect()
    }

    pub(super) fn read_probes(
        &self,
        tables: &[Reader<'a>],
        stations: &[String],
        names: &mut StepNames,
    ) -> Vec<Asking> {
        tables.iter().filter_map(|table| self.read_probe(table, stations, names)).collect()
    }

    fn read_probe(&self, table: &Reader<'a>, stations: &[String], names: &mut StepNames) -> Option<Asking> {
        let name = self.one_word(table, names);
        let to = self.asked_station(table, stations);
        let there = positions(table);
        let comes = self.asks_when(table, "a probe", &there);
        let questions = table.tables("question", "a question");
        if !(1..=MOST_QUESTIONS).contains(&questions.len()) {
            let message = format!("a probe asks 1 to {MOST_QUESTIONS} questions: `[[probe.question]]`");
            self.problems.report(table.spot(), message);
        }
        let asks = questions.iter().enumerate();
        let read = |(at, question)| self.read_question(question, name.as_deref(), at + 1, &there);
        let asks = asks.map(read).collect();
        let is_in_run = self.is_in_run(table, &there);
        table.finish();
        is_in_run.then_some(Asking { name: name?, to, comes: comes?, holds: true, asks })
    }

    fn read_question(
        &self,
        table: &Reader<'a>,
        probe: Option<&str>,
        number: usize,
        there: &Positions,
    ) -> Ask {
        let grasp = table.need("asks").and_then(|field| field.choice(&Grasp::WORDS));
        let text = self.need_text(table, "text");
        let choices = table.need("answers").map_or(Vec::new(), |field| self.answers(&field, there));
        let later_s = self.time(table, "later").unwrap_or(0.0);
        table.finish();
        Ask {
            name: format!("{}.{number}", probe.unwrap_or_default()),
            text,
            choices,
            grasp: Some(grasp.map_or(Grasp::Now, |at| Grasp::ALL[at.value])),
            later_s,
            within_s: None,
        }
    }

    /// `answers = [{ text = "…", when = '…' }, …]`; a letter is the word of each.
    fn answers(&self, field: &Field<'a>, there: &Positions) -> Vec<Choice> {
        let tables = field.tables("an answer");
        self.check_count(field, tables.len());
        let letters = 'a'..='z';
        let of_one = |(letter, table): (char, &Reader<'a>)| {
            let text = table.need("text").and_then(|field| field.text());
            if let Some(text) = &text {
                self.check_length(text);
            }
            let right = table.need("when").and_then(|field| self.condition_of(&field, there));
            table.finish();
            Some(Choice { word: letter.to_string(), text: text?.value, right: Some(right?) })
        };
        letters.zip(&tables).filter_map(of_one).collect()
    }

    pub(super) fn read_decisions(
        &self,
        tables: &[Reader<'a>],
        stations: &[String],
        names: &mut StepNames,
    ) -> Vec<Asking> {
        tables.iter().filter_map(|table| self.read_decision(table, stations, names)).collect()
    }

    fn read_decision(
        &self,
        table: &Reader<'a>,
        stations: &[String],
        names: &mut StepNames,
    ) -> Option<Asking> {
        let name = self.one_word(table, names);
        let to = self.asked_station(table, stations);
        let there = positions(table);
        let comes = self.asks_when(table, "a decision", &there);
        let text = self.need_text(table, "text");
        let choices = table.need("options").map_or(Vec::new(), |field| self.options(&field));
        let holds = table.get("hold").and_then(|field| field.flag()).is_some_and(|hold| hold.value);
        if let (true, Some(field)) = (holds, table.get("within")) {
            field.report("no time runs while the run is on hold for a decision: `hold` or `within`");
        }
        let within_s = self.time(table, "within");
        let is_in_run = self.is_in_run(table, &there);
        table.finish();
        let name = name.filter(|_| is_in_run)?;
        let ask = Ask { name: name.clone(), text, choices, grasp: None, later_s: 0.0, within_s };
        Some(Asking { name, to, comes: comes?, holds, asks: vec![ask] })
    }

    /// `options = ["shed: Shed the hotel load", …]`.
    fn options(&self, field: &Field<'a>) -> Vec<Choice> {
        let texts = field.texts().unwrap_or_default();
        self.check_count(field, texts.len());
        let mut seen = BTreeSet::new();
        let mut choices = Vec::new();
        for text in &texts {
            self.check_length(text);
            match option_of(&text.value) {
                None => {
                    let message = "an option is a word and what is done: `word: a sentence`";
                    self.problems.report(text.spot, message);
                }
                Some((word, _)) if RESERVED.contains(&word.as_str()) => {
                    let message = format!("`{word}` is what `decided` gives when nothing is decided");
                    self.problems.report_with_help(text.spot, message, "another word is needed");
                }
                Some((word, _)) if !seen.insert(word.clone()) => {
                    self.problems.report(text.spot, format!("there is already an option `{word}`"));
                }
                Some((word, text)) => choices.push(Choice { word, text, right: None }),
            }
        }
        choices
    }

    /// The name of a step that is typed.
    fn one_word(&self, table: &Reader<'a>, names: &mut StepNames) -> Option<String> {
        let name = names.read(table)?;
        if name.contains(char::is_whitespace)
            && let Some(field) = table.get("name")
        {
            field.report("the name of what is asked is typed: one word, with `-` between its parts");
        }
        Some(name)
    }

    fn asked_station(&self, table: &Reader<'a>, stations: &[String]) -> Option<String> {
        let to = table.get("to").and_then(|field| field.text())?;
        if !stations.contains(&to.value) {
            let message = format!("there is no station `{}`", to.value);
            self.unknown("station", &to, message, stations.iter().map(String::as_str));
        }
        Some(to.value)
    }

    fn asks_when(&self, table: &Reader<'a>, what: &str, there: &Positions) -> Option<Trigger> {
        let comes = self.trigger(table, "at", "when", there);
        if comes.is_none() && table.get("at").is_none() && table.get("when").is_none() {
            self.problems.report(table.spot(), format!("{what} needs `at` or `when`"));
        }
        comes
    }

    fn check_count(&self, field: &Field<'a>, count: usize) {
        if !(2..=MOST_CHOICES).contains(&count) {
            field.report(&format!("there are 2 to {MOST_CHOICES} to choose from, not {count}"));
        }
    }

    fn check_length(&self, text: &At<String>) {
        if text.value.chars().count() > LONGEST_CHOICE {
            let message = format!("longer than {LONGEST_CHOICE} characters: it must fit a line of a screen");
            self.problems.report(text.spot, message);
        }
    }
}

/// Word and text of `word: text`.
fn option_of(text: &str) -> Option<(String, String)> {
    let (word, text) = text.split_once(':')?;
    let (word, text) = (word.trim().to_lowercase(), text.trim());
    let is_word = !word.is_empty() && !word.contains(char::is_whitespace);
    (is_word && !text.is_empty()).then(|| (word, text.to_owned()))
}

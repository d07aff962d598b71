//! The answer as a tree in words.

use super::{Cause, Fact, Sort, Step, Why};
use crate::timeline::{clock, length};
use std::fmt;

/// A line of an answer.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Told {
    /// How far it is indented.
    pub depth: usize,
    /// For people.
    pub text: String,
    /// The instant that it is about.
    pub tick: Option<u64>,
    /// The event that it is about.
    pub seq: Option<u64>,
    /// The component that it is about.
    pub component: Option<String>,
    /// What was reported of it.
    pub facts: Vec<Fact>,
}

impl Told {
    /// A line about an instant, and perhaps about an event.
    pub fn at(depth: usize, tick: u64, seq: Option<u64>, text: String) -> Told {
        Told { depth, text, tick: Some(tick), seq, ..Told::default() }
    }

    /// A line about nothing in particular.
    pub fn of(depth: usize, text: impl Into<String>) -> Told {
        Told { depth, text: text.into(), ..Told::default() }
    }
}

impl fmt::Display for Told {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", "  ".repeat(self.depth), self.text)?;
        for (i, fact) in self.facts.iter().enumerate() {
            let between = if i == 0 && self.text.ends_with(':') { " " } else { "; " };
            write!(f, "{between}{fact}")?;
        }
        Ok(())
    }
}

impl fmt::Display for Fact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} #{} {}", clock(self.tick).trim(), self.seq, self.text)
    }
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let lines: Vec<String> = self.lines().iter().map(Told::to_string).collect();
        f.write_str(&lines.join("\n"))
    }
}

impl Why {
    /// The answer as lines: from above it is the search, from below the story.
    pub fn lines(&self) -> Vec<Told> {
        let mut lines = vec![about(0, &self.subject, "")];
        if let Some(passed) = self.passed_ticks.filter(|passed| *passed > 0) {
            lines.push(Told::of(1, format!("its limit had been passed for {}", length(passed))));
        }
        match self.causes.len() {
            0 => lines.push(Told::of(
                0,
                "Nothing that was set, done or left undone made the difference by itself: it would have come without any \
                 one of it. See `whatif --search` for what could have been done.",
            )),
            1 => {}
            count if self.causes.iter().any(|cause| cause.one_of_several) => {
                lines.push(Told::of(0, format!("{count} causes, each enough by itself:")));
            }
            count => lines.push(Told::of(
                0,
                format!("{count} causes; without any one of them it would not have come, or later:"),
            )),
        }
        for cause in &self.causes {
            branch(&mut lines, cause, 0);
        }
        if let Some(sign) = &self.first_sign {
            let left = self.subject.tick.saturating_sub(sign.tick);
            let text = format!("First sign on the list: {sign}, {} before", length(left));
            lines.push(Told::at(0, sign.tick, Some(sign.seq), text));
        }
        lines.push(Told::of(0, format!("{} other courses of this run were computed.", self.courses)));
        lines
    }
}

fn branch(lines: &mut Vec<Told>, cause: &Cause, depth: usize) {
    let mut passed: Vec<&Step> = Vec::new();
    for step in cause.way.iter().rev().skip(1).rev().skip(usize::from(cause.way.len() > 1)) {
        if step.passes_on {
            passed.push(step);
            continue;
        }
        lines.extend(through(depth, &mut passed));
        lines.push(on_the_way(depth, step));
    }
    lines.extend(through(depth, &mut passed));
    lines.extend(cause.way.last().map(|step| on_the_way(depth, step)));
    let text = format!("= {}{}", clock_of(cause), cause.text);
    lines.push(Told::at(depth, cause.tick, cause.seq, text));
    let without = match cause.later_ticks {
        None if cause.one_of_several => "enough by itself".to_owned(),
        None => {
            let until = clock(cause.followed_until_tick);
            format!("without it: no #{}, looked on until {}", cause.effect_seq, until.trim())
        }
        Some(later) => format!("without it: #{} {} later", cause.effect_seq, length(later)),
    };
    lines.push(Told::of(depth + 1, without));
    if let Some(last) = cause.last_tick {
        let done = if cause.sort == Sort::Omission { "doing it" } else { "lifting it" };
        let (until, time) = (clock(last), length(last.saturating_sub(cause.tick)));
        let text = format!("{done} would have helped until {}: {time} to act", until.trim());
        lines.push(Told::at(depth + 1, last, None, text));
    }
    if let Some(after) = &cause.after {
        lines.push(about(depth + 1, after, "it was to be done because "));
    }
    for cause in &cause.because {
        branch(lines, cause, depth + 2);
    }
}

fn about(depth: usize, fact: &Fact, before: &str) -> Told {
    Told::at(depth, fact.tick, Some(fact.seq), format!("{before}{fact}"))
}

/// What only passes it on, in one line: the most telling of them.
fn through(depth: usize, passed: &mut Vec<&Step>) -> Option<Told> {
    let passed = std::mem::take(passed);
    let step = passed.first()?;
    let names: Vec<&str> = passed.iter().map(|step| step.component.as_str()).collect();
    let text = format!("< {}: {}", names.join(", "), differs(step));
    Some(Told { component: Some(step.component.clone()), ..Told::at(depth, step.tick, None, text) })
}

fn on_the_way(depth: usize, step: &Step) -> Told {
    let differs = if step.reading.is_empty() { String::new() } else { format!(" {}", differs(step)) };
    let text = format!("< {}:{differs}", step.component);
    let facts = step.facts.clone();
    Told { component: Some(step.component.clone()), facts, ..Told::at(depth, step.tick, None, text) }
}

fn clock_of(cause: &Cause) -> String {
    match cause.seq {
        Some(seq) => format!("{} #{seq} ", clock(cause.tick).trim()),
        None => format!("from {} ", clock(cause.tick).trim()),
    }
}

fn differs(step: &Step) -> String {
    format!("{} {}, else {}, since {}", step.reading, step.was, step.would_be, clock(step.tick).trim())
}

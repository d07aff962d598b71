//! Why moments came, as trees of short texts: from the effect to what began it, each with the event that shows it.

use super::moments::Moment;
use deadship_run::Envelope;
use deadship_run::timeline::{clock, length};
use deadship_run::whatif::{Effect, WhatIf};
use deadship_run::why::{Cause, Fact, Sort, Step, Why, explain};

/// A text, the event that shows it, and what stands below it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Reason {
    /// For people.
    pub(crate) text: String,
    /// Event.
    pub(crate) seq: Option<u64>,
    /// What led to it.
    pub(crate) below: Vec<Reason>,
}

/// Of each moment that can be asked about, why it came; of the others nothing. `veil` hides names in a text.
pub(crate) fn reasons(
    log: &[Envelope],
    moments: &[Moment],
    veil: &dyn Fn(&str) -> String,
) -> Vec<Vec<Reason>> {
    let asked: Vec<Option<(Effect, u64)>> =
        moments.iter().map(|moment| Effect::of(log, moment.seq)).collect();
    let last =
        moments.iter().zip(&asked).filter(|(_, asked)| asked.is_some()).map(|(moment, _)| moment.tick).max();
    let Some(last) = last else { return vec![Vec::new(); moments.len()] };
    // Where the run cannot be computed again, the head of the report says why.
    let Ok(runs) = WhatIf::open(log.to_vec(), last) else { return vec![Vec::new(); moments.len()] };
    let of_one = |asked: Option<(Effect, u64)>| match asked {
        None => Vec::new(),
        Some((effect, seq)) => tree(&explain(&runs, &effect, seq), veil),
    };
    asked.into_iter().map(of_one).collect()
}

fn tree(why: &Why, veil: &dyn Fn(&str) -> String) -> Vec<Reason> {
    let mut found: Vec<Reason> = why.causes.iter().map(|cause| branch(cause, veil)).collect();
    if found.is_empty() {
        let text = "Nothing that was set, done or left undone made the difference by itself.";
        found.push(Reason { text: text.to_owned(), ..Reason::default() });
    }
    if let Some(sign) = &why.first_sign {
        let before = why.subject.tick.saturating_sub(sign.tick);
        let text =
            format!("First sign on the list of alerts, {} before: {}", length(before), told(sign, veil));
        found.push(Reason { text, seq: Some(sign.seq), below: Vec::new() });
    }
    found
}

fn branch(cause: &Cause, veil: &dyn Fn(&str) -> String) -> Reason {
    let mut below = Vec::new();
    let without = match cause.later_ticks {
        None if cause.one_of_several => "There was another that would have been enough".to_owned(),
        None => format!(
            "Without it, #{} does not come (looked on until {})",
            cause.effect_seq,
            clock(cause.followed_until_tick).trim()
        ),
        Some(later) => format!("Without it, #{} would have come {} later", cause.effect_seq, length(later)),
    };
    let help = cause.last_tick.map(|last| {
        let what = if cause.sort == Sort::Omission { "doing it" } else { "undoing it" };
        let time = length(last.saturating_sub(cause.tick));
        format!("; {what} would have helped until {}: {time} to act", clock(last).trim())
    });
    below.push(Reason { text: format!("{without}{}.", help.unwrap_or_default()), ..Reason::default() });
    if !cause.way.is_empty() {
        let steps = cause.way.iter().rev().map(|step| passed(step, veil)).collect();
        below.push(Reason { text: "How it went on from there".to_owned(), seq: None, below: steps });
    }
    if let Some(after) = &cause.after {
        let text = format!("It was to be done because {}", told(after, veil));
        below.push(Reason { text, seq: Some(after.seq), below: Vec::new() });
    }
    below.extend(cause.because.iter().map(|cause| branch(cause, veil)));
    let from = if cause.seq.is_some() { "" } else { "from " };
    Reason {
        text: format!("{from}{} {}", clock(cause.tick).trim(), veil(&cause.text)),
        seq: cause.seq,
        below,
    }
}

fn passed(step: &Step, veil: &dyn Fn(&str) -> String) -> Reason {
    let facts = step.facts.iter().map(|fact| Reason {
        text: told(fact, veil),
        seq: Some(fact.seq),
        below: Vec::new(),
    });
    let text = format!(
        "{}: {} {} instead of {}, since {}",
        step.component,
        step.reading,
        step.was,
        step.would_be,
        clock(step.tick).trim()
    );
    Reason { text, seq: None, below: facts.collect() }
}

fn told(fact: &Fact, veil: &dyn Fn(&str) -> String) -> String {
    format!("{} {}", clock(fact.tick).trim(), veil(&fact.text))
}

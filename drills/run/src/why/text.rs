//! The answer as a tree in words.

use super::{Cause, Fact, Sort, Step, Why};
use crate::timeline::clock;
use deadship_plant::TICK_S;
use std::fmt;

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}", told(&self.subject))?;
        if let Some(passed) = self.passed_ticks.filter(|passed| *passed > 0) {
            writeln!(f, "  its limit had been passed for {}", span(passed))?;
        }
        match self.causes.len() {
            0 => writeln!(
                f,
                "Nothing that was set, done or left undone made the difference by itself: it would have come without any one\nof it. See `whatif --search` for what could have been done."
            )?,
            1 => {}
            count if self.causes.iter().any(|cause| cause.one_of_several) => {
                writeln!(f, "{count} causes, each enough by itself:")?;
            }
            count => {
                writeln!(f, "{count} causes; without any one of them it would not have come, or later:")?
            }
        }
        for cause in &self.causes {
            branch(f, cause, 0)?;
        }
        if let Some(sign) = &self.first_sign {
            let left = self.subject.tick.saturating_sub(sign.tick);
            writeln!(f, "First sign on the list: {}, {} before", told(sign), span(left))?;
        }
        write!(f, "{} other courses of this run were computed.", self.courses)
    }
}

fn branch(f: &mut fmt::Formatter<'_>, cause: &Cause, depth: usize) -> fmt::Result {
    let margin = "  ".repeat(depth);
    let mut passed: Vec<&Step> = Vec::new();
    for step in cause.way.iter().rev().skip(1).rev().skip(usize::from(cause.way.len() > 1)) {
        if step.passes_on {
            passed.push(step);
            continue;
        }
        through(f, &margin, &mut passed)?;
        writeln!(f, "{margin}< {}", line(step))?;
    }
    through(f, &margin, &mut passed)?;
    if let Some(step) = cause.way.last() {
        writeln!(f, "{margin}< {}", line(step))?;
    }
    writeln!(f, "{margin}= {}{}", clock_of(cause), cause.text)?;
    let margin = format!("{margin}  ");
    match cause.later_ticks {
        None if cause.one_of_several => writeln!(f, "{margin}enough by itself")?,
        None => {
            let until = clock(cause.followed_until_tick);
            writeln!(
                f,
                "{margin}without it: #{} would not have come until {}",
                cause.effect_seq,
                until.trim()
            )?;
        }
        Some(later) => writeln!(f, "{margin}without it: #{} {} later", cause.effect_seq, span(later))?,
    }
    if let Some(last) = cause.last_tick {
        let done = if cause.sort == Sort::Omission { "doing it" } else { "lifting it" };
        let (until, time) = (clock(last), span(last.saturating_sub(cause.tick)));
        writeln!(f, "{margin}{done} would have helped until {}: {time} to act", until.trim())?;
    }
    if let Some(after) = &cause.after {
        writeln!(f, "{margin}it was to be done because {}", told(after))?;
    }
    cause.because.iter().try_for_each(|cause| branch(f, cause, depth + 2))
}

/// What only passes it on, in one line: the most telling of them.
fn through(f: &mut fmt::Formatter<'_>, margin: &str, passed: &mut Vec<&Step>) -> fmt::Result {
    if let Some(step) = passed.first() {
        let names: Vec<&str> = passed.iter().map(|step| step.component.as_str()).collect();
        writeln!(f, "{margin}< {}: {}", names.join(", "), differs(step))?;
    }
    passed.clear();
    Ok(())
}

fn clock_of(cause: &Cause) -> String {
    match cause.seq {
        Some(seq) => format!("{} #{seq} ", clock(cause.tick).trim()),
        None => format!("from {} ", clock(cause.tick).trim()),
    }
}

fn line(step: &Step) -> String {
    let differs = (!step.reading.is_empty()).then(|| differs(step));
    let told: Vec<String> = differs.into_iter().chain(step.facts.iter().map(told)).collect();
    format!("{}: {}", step.component, told.join("; "))
}

fn differs(step: &Step) -> String {
    format!("{} {}, else {}, since {}", step.reading, step.was, step.would_be, clock(step.tick).trim())
}

fn told(fact: &Fact) -> String {
    format!("{} #{} {}", clock(fact.tick).trim(), fact.seq, fact.text)
}

/// A length of time: `12.3 s`, `7 min 54 s`.
fn span(ticks: u64) -> String {
    let seconds = ticks as f64 * TICK_S;
    if seconds < 60.0 {
        return format!("{seconds:.1} s");
    }
    let whole = seconds.round() as u64;
    format!("{} min {} s", whole / 60, whole % 60)
}

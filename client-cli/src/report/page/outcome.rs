//! What was expected, what became of it, and by which event.

use super::{event, or, part, time};
use crate::report::Report;
use deadship_run::debrief::{Debrief, Mark, ObjectiveCourse, Outcome, Raters};
use deadship_run::drill::AIM;
use deadship_run::timeline::length;
use maud::{Markup, html};

/// What was expected.
pub(super) fn section(report: &Report) -> Markup {
    let debrief = &report.facts.debrief;
    let is = |outcome| debrief.marks.iter().filter(|mark| mark.outcome == outcome).count();
    let (met, missed, open) = (is(Outcome::Met), is(Outcome::Missed), is(Outcome::Open));
    let count = debrief.marks.len();
    // A run that is over will not reach it any more.
    let aim_outcome = match debrief.aim.as_ref().map_or(Outcome::Open, |aim| aim.outcome) {
        Outcome::Open if debrief.ended.is_some() => Outcome::Missed,
        outcome => outcome,
    };
    part(
        "expected",
        html! {
            @match &debrief.aim {
                None => p { "The drill names no aim." },
                Some(aim) => div class={ "aim " (class(aim_outcome)) } {
                    p { strong { (sign(aim_outcome)) " " (aim_words(aim)) } }
                    p { (or(&aim.text, "The drill does not say it in words.")) }
                    @if let Some(seq) = aim.seq { p { "Shown by " (event(seq)) "." } (readings(report, AIM)) }
                },
            }
            @if count == 0 { p { "The drill expects nothing on the way." } }
            @else {
                p { "On the way " (met) " of " (count) " met, " (missed) " missed, " (open) " undecided." }
                div.wide tabindex="0" role="region" aria-label="What was expected on the way" {
                    table {
                        thead { tr {
                            th scope="col" { "Outcome" } th scope="col" { "Expected" } th scope="col" { "At" }
                            th scope="col" { "Shown by" }
                        } }
                        tbody { @for mark in &debrief.marks { (row(report, mark)) } }
                    }
                }
            }
            @if !debrief.objectives.is_empty() {
                h3 { "What the drill is to teach" }
                p { "The log ticks what was expected; people rate the rest. There is no overall score." }
                ul { @for objective in &debrief.objectives { li { (taught(debrief, objective)) } } }
                @if !debrief.raters.is_empty() {
                    h4 { "How far raters agree" }
                    ul { @for raters in &debrief.raters { li { (agreed(raters)) } } }
                }
            }
        },
    )
}

/// An objective: how much of what belongs to it was met, and how it was rated.
fn taught(debrief: &Debrief, course: &ObjectiveCourse) -> Markup {
    let of_it: Vec<&Mark> = debrief.marks.iter().filter(|mark| course.expects.contains(&mark.name)).collect();
    let met = of_it.iter().filter(|mark| mark.outcome == Outcome::Met).count();
    html! {
        (course.objective.text)
        @if !of_it.is_empty() { ": " (met) " of " (of_it.len()) " expected met" }
        @else { ": nothing that the log can tick" }
        @if course.ratings.is_empty() { "; not rated" }
        @else {
            ul {
                @for rating in &course.ratings {
                    li {
                        strong { (rating.level.replace('-', " ")) } ", by " (rating.by)
                        @if !rating.text.is_empty() { ": " (rating.text) }
                        ", " (event(rating.seq))
                    }
                }
            }
        }
    }
}

/// How far two raters agree. What is a warning begins a sentence of its own.
fn agreed(raters: &Raters) -> Markup {
    let text = raters.said();
    let (told, warning) = text.split_once("WARNING: ").unwrap_or((&text, ""));
    html! {
        (raters.first) " and " (raters.second) ", on scales of " (raters.levels) " levels: " (told.trim_end())
        @if !warning.is_empty() { " " strong { "Warning: " } (warning) "." }
    }
}

/// What the readings of the condition were when it was decided.
fn readings(report: &Report, name: &str) -> Markup {
    let shown = report.courses.evidence.get(name).filter(|shown| !shown.is_empty());
    html! {
        @if let Some(shown) = shown {
            details.evidence {
                summary { "readings" }
                ul { @for (name, text) in shown { li { (name) " " span.number { (text) } } } }
            }
        }
    }
}

fn row(report: &Report, mark: &Mark) -> Markup {
    // Where its time began with the run, that is said already.
    let after = mark.tick.zip(mark.from_tick.filter(|from| *from > 0));
    let after = after.map(|(tick, from)| length(tick.saturating_sub(from)));
    html! {
        tr {
            td class={ "outcome " (class(mark.outcome)) } { (sign(mark.outcome)) " " (words(mark.outcome)) }
            th scope="row" { (mark.text) }
            td.number {
                (mark.tick.map(time).unwrap_or_default())
                @if let Some(after) = after { br; span.faint { "after " (after) } }
            }
            td { @if let Some(seq) = mark.seq { (event(seq)) (readings(report, &mark.name)) } }
        }
    }
}

fn aim_words(aim: &Mark) -> String {
    match aim.tick {
        Some(tick) => format!("The aim was reached at {}.", time(tick)),
        None => "The aim was not reached.".to_owned(),
    }
}

fn words(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Met => "met",
        Outcome::Missed => "missed",
        Outcome::Open => "undecided",
    }
}

fn sign(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Met => "✓",
        Outcome::Missed => "✗",
        Outcome::Open => "○",
    }
}

fn class(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Met => "met",
        Outcome::Missed => "missed",
        Outcome::Open => "open",
    }
}

//! Another course of the run, laid beside it.

use deadship_run::timeline::{clock, what};
use deadship_run::whatif::{Row, Side, compare};
use deadship_run::{Envelope, Event};

/// Most differences in what was done that are told.
const MOST: usize = 8;

/// Another course.
pub(crate) struct Beside {
    /// What was done otherwise, as it is told to people.
    pub(crate) changes: Vec<String>,
    /// Outcome by outcome, as it went and as it would have gone.
    pub(crate) rows: Vec<Row>,
}

/// Is this a course of that run?
pub(crate) fn is_of(other: &[Envelope], log: &[Envelope]) -> bool {
    let parent = other.first().and_then(|first| match &first.event {
        Event::RunOpened(opening) => opening.parent.as_ref(),
        _ => None,
    });
    parent.is_some_and(|parent| log.first().is_some_and(|first| first.run == parent.run))
}

impl Beside {
    /// This course beside the run as it went.
    pub(crate) fn of(log: &[Envelope], other: &[Envelope]) -> Beside {
        let (went, would) = (done(log), done(other));
        let end = other.last().map_or(0, |last| last.tick).min(log.last().map_or(0, |last| last.tick));
        let only = |of: &[(u64, String)], not: &[(u64, String)], word: &str| -> Vec<(u64, String)> {
            let only = of.iter().filter(|one| one.0 <= end && !not.contains(one));
            only.map(|(tick, text)| (*tick, format!("{word} at {}: {text}", clock(*tick).trim()))).collect()
        };
        let mut changes = only(&would, &went, "done");
        changes.extend(only(&went, &would, "not done"));
        changes.sort();
        let more = changes.len().saturating_sub(MOST);
        let mut changes: Vec<String> = changes.into_iter().take(MOST).map(|(_, text)| text).collect();
        if more > 0 {
            changes.push(format!("and {more} more that followed from it"));
        }
        Beside { changes, rows: compare(&Side::of(log), &Side::of(other)).rows }
    }
}

/// What people, robots and the drill did to the plant.
fn done(log: &[Envelope]) -> Vec<(u64, String)> {
    let does = |event: &Event| {
        matches!(
            event,
            Event::ActDone { .. }
                | Event::ActRefused { .. }
                | Event::FaultSet { .. }
                | Event::FaultLifted { .. }
                | Event::Moved { .. }
        )
    };
    let done = log.iter().filter(|envelope| does(&envelope.event));
    done.map(|envelope| (envelope.tick, format!("{} {}", envelope.who, what(&envelope.event)))).collect()
}

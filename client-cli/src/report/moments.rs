//! The few moments of a run that a talk turns on.

use deadship_run::debrief::{Debrief, Note};
use deadship_run::event::Category;
use deadship_run::measures::Measures;
use deadship_run::{Envelope, Event};
use std::cmp::Reverse;

/// Most moments.
const MOST: usize = 5;
/// What comes within so many ticks belongs together: half a minute.
const TOGETHER: u64 = 600;
/// What a moment has of the run before it, ticks, unless what led to it began earlier: three minutes.
const BEFORE: u64 = 3_600;
/// So far back is looked for what led to it, ticks: twenty minutes.
const BEFORE_AT_MOST: u64 = 24_000;
/// What a moment has of the run after it, ticks: one minute.
const AFTER: u64 = 1_200;

/// A moment.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Moment {
    /// When.
    pub(crate) tick: u64,
    /// Its event.
    pub(crate) seq: u64,
    /// In a few words.
    pub(crate) title: String,
    /// Why it is proposed.
    pub(crate) because: String,
    /// What else happened about then.
    pub(crate) beside: Vec<(u64, u64, String)>,
    /// What is shown of the run around it.
    pub(crate) window: (u64, u64),
    /// Where to look for what it shows in.
    pub(crate) signs: Signs,
    /// How much it weighs.
    pub(crate) weight: u32,
}

/// What is known of the readings in which a moment shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Signs {
    /// A value that was measured, by a component: the reading is found by it.
    pub(crate) measured: Option<(String, f64, f64)>,
    /// Names of readings, the nearest first, each with its limit.
    pub(crate) readings: Vec<(String, Option<f64>)>,
    /// Names of readings that are shown if there is room.
    pub(crate) besides: Vec<String>,
    /// An expectation whose condition names readings.
    pub(crate) expected: Option<String>,
}

/// The moments of a run, in order of time: those that its measures propose, and what people marked.
pub(crate) fn moments(log: &[Envelope], debrief: &Debrief, measures: &Measures) -> Vec<Moment> {
    let mut found = marked(debrief);
    found.extend(proposed(log, measures));
    found.sort_by_key(|moment| (Reverse(moment.weight), moment.tick));
    let mut chosen: Vec<Moment> = Vec::new();
    for moment in found {
        let room = chosen.len() < MOST;
        match chosen.iter_mut().find(|near| near.tick.abs_diff(moment.tick) <= TOGETHER) {
            Some(near) => near.beside.push((moment.tick, moment.seq, moment.title)),
            None if room => chosen.push(moment),
            None => {}
        }
    }
    for (tick, seq, title) in log.iter().filter_map(|envelope| {
        of_event(&envelope.event).map(|(title, _)| (envelope.tick, envelope.seq, title))
    }) {
        let near = chosen.iter_mut().find(|near| near.tick.abs_diff(tick) <= TOGETHER);
        if let Some(near) = near.filter(|near| near.seq != seq) {
            near.beside.push((tick, seq, title));
        }
    }
    chosen.sort_by_key(|moment| moment.tick);
    chosen.iter_mut().for_each(|moment| {
        moment.beside.sort();
        moment.beside.dedup_by_key(|beside| beside.1);
        look_around(moment, log);
    });
    chosen
}

/// What the measures propose, the weightiest first, and where the plant could not be computed.
fn proposed(log: &[Envelope], measures: &Measures) -> Vec<Moment> {
    let event = |seq: u64| log.iter().find(|envelope| envelope.seq == seq).map(|envelope| &envelope.event);
    let of_measures = measures.moments.iter().enumerate().map(|(at, proposed)| {
        let mut signs = match event(proposed.seq) {
            Some(Event::ExpectationMissed { name, .. } | Event::ExpectationMet { name, .. }) => {
                Signs { expected: Some(name.clone()), ..Signs::default() }
            }
            Some(other) => of_event(other).map(|known| known.1).unwrap_or_default(),
            None => Signs::default(),
        };
        signs.besides = proposed.readings.clone();
        Moment {
            tick: proposed.tick,
            seq: proposed.seq,
            title: proposed.title.clone(),
            because: proposed.why.clone(),
            signs,
            weight: PROPOSED.saturating_sub(at as u32),
            ..Moment::default()
        }
    });
    let failed = log.iter().filter_map(|envelope| match &envelope.event {
        Event::StepFailed { what, .. } => Some(Moment {
            tick: envelope.tick,
            seq: envelope.seq,
            title: format!("The plant could not be computed: {what}"),
            because: "from here on the run says nothing about a ship".to_owned(),
            weight: FAILED,
            ..Moment::default()
        }),
        _ => None,
    });
    of_measures.chain(failed).collect()
}

/// Weights: the weightiest that is proposed by measures, and what goes before it or stands among the rest.
const PROPOSED: u32 = 100;
const FAILED: u32 = 120;
const MARKED_UNSAFE: u32 = 110;
const MARKED: u32 = 98;

/// What people marked.
fn marked(debrief: &Debrief) -> Vec<Moment> {
    let one = |note: &Note| {
        Some(Moment {
            tick: note.about_tick,
            seq: note.seq,
            title: format!("Marked {}", note.said().replacen("well-done", "well done", 1)),
            because: format!("marked by {}", note.by),
            weight: if note.category? == Category::Unsafe { MARKED_UNSAFE } else { MARKED },
            ..Moment::default()
        })
    };
    debrief.notes.iter().filter_map(one).collect()
}

/// Title and signs of an event that is worth telling beside a moment.
fn of_event(event: &Event) -> Option<(String, Signs)> {
    Some(match event {
        Event::Found { component, code, text, measured, limit, .. }
            if deadship_run::debrief::is_trip(code) =>
        {
            let measured = Some((component.clone(), *measured, *limit));
            (format!("{component} {text}"), Signs { measured, ..Signs::default() })
        }
        Event::FloodBegan { count } => {
            (format!("A flood of alerts: {count} within ten minutes"), Signs::default())
        }
        Event::OrderOverdue { number, text, .. } => {
            (format!("Order {number} was not reported in time: {text}"), Signs::default())
        }
        Event::FaultSet { component, fault, .. } => {
            (format!("The fault {component}.{fault} was set"), Signs::default())
        }
        Event::AlertRaised { hidden: None, since_tick, priority, text, shown, reading, limit, .. }
            if *since_tick > 0 =>
        {
            let readings = vec![(reading.clone(), Some(*limit))];
            let title = format!("{}: {text} ({shown})", priority.word());
            (title, Signs { readings, ..Signs::default() })
        }
        _ => return None,
    })
}

/// What came before a moment in the readings of the same set, and how far back that began.
fn look_around(moment: &mut Moment, log: &[Envelope]) {
    let end = log.last().map_or(0, |last| last.tick);
    let mut from = moment.tick.saturating_sub(BEFORE);
    let set = moment.signs.measured.as_ref().map(|(component, ..)| set_of(component).to_owned());
    let earliest = moment.tick.saturating_sub(BEFORE_AT_MOST);
    for envelope in log.iter().rev().filter(|envelope| envelope.tick <= moment.tick + TOGETHER) {
        let Event::AlertRaised { reading, limit, since_tick, .. } = &envelope.event else { continue };
        let near = envelope.tick.abs_diff(moment.tick) <= TOGETHER;
        let of_set = set.as_deref() == Some(set_of(reading)) && envelope.tick >= earliest;
        if *since_tick == 0
            || !(near || of_set)
            || moment.signs.readings.iter().any(|known| known.0 == *reading)
        {
            continue;
        }
        moment.signs.readings.push((reading.clone(), Some(*limit)));
        if of_set {
            from = from.min(since_tick.saturating_sub(TOGETHER));
        }
    }
    moment.window = (from, (moment.tick + AFTER).min(end.max(moment.tick)));
}

/// The part of a name that stands for a whole set: `dg1` of `dg1.engine.speed`.
pub(crate) fn set_of(name: &str) -> &str {
    name.split('.').next().unwrap_or(name)
}

//! The few moments of a run that a talk turns on.

use deadship_run::debrief::{Debrief, Outcome};
use deadship_run::event::Category;
use deadship_run::{Envelope, Event};

/// Most moments.
const MOST: usize = 5;
/// So many there should be, if there is anything to show.
const ENOUGH: usize = 3;
/// What comes within so many ticks belongs together: half a minute.
const TOGETHER: u64 = 600;
/// What a moment has of the run before it, ticks, unless what led to it began earlier: three minutes.
const BEFORE: u64 = 3_600;
/// So far back is looked for what led to it, ticks: twenty minutes.
const BEFORE_AT_MOST: u64 = 24_000;
/// What a moment has of the run after it, ticks: one minute.
const AFTER: u64 = 1_200;

/// A moment.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Moment {
    /// When.
    pub(crate) tick: u64,
    /// Its event.
    pub(crate) seq: u64,
    /// In a few words.
    pub(crate) title: String,
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
    /// An expectation whose condition names readings.
    pub(crate) expected: Option<String>,
}

/// The moments of a run, in order of time.
pub(crate) fn moments(log: &[Envelope], debrief: &Debrief) -> Vec<Moment> {
    let mut found = candidates(log, debrief);
    found.sort_by_key(|moment| (std::cmp::Reverse(moment.weight), moment.tick));
    let mut chosen: Vec<Moment> = Vec::new();
    for moment in found {
        let room = chosen.len() < ENOUGH || (chosen.len() < MOST && moment.weight >= WORTH);
        match chosen.iter_mut().find(|near| near.tick.abs_diff(moment.tick) <= TOGETHER) {
            Some(near) => near.beside.push((moment.tick, moment.seq, moment.title)),
            None if room => chosen.push(moment),
            None => {}
        }
    }
    chosen.sort_by_key(|moment| moment.tick);
    chosen.iter_mut().for_each(|moment| {
        moment.beside.sort();
        look_around(moment, log);
    });
    chosen
}

/// From here on a moment is one of its own merit.
const WORTH: u32 = 40;

fn candidates(log: &[Envelope], debrief: &Debrief) -> Vec<Moment> {
    let mut found = Vec::new();
    for envelope in log {
        let Some((weight, title, signs)) = of_event(&envelope.event) else { continue };
        found.push(Moment {
            tick: envelope.tick,
            seq: envelope.seq,
            title,
            beside: Vec::new(),
            window: (envelope.tick, envelope.tick),
            signs,
            weight,
        });
    }
    for mark in debrief.marks.iter().chain(&debrief.aim) {
        let (Some(tick), Some(seq)) = (mark.tick, mark.seq) else { continue };
        let (weight, word) = match mark.outcome {
            Outcome::Missed => (85, "Missed"),
            Outcome::Met => (20, "Met"),
            Outcome::Open => continue,
        };
        let signs = Signs { expected: Some(mark.name.clone()), ..Signs::default() };
        let (title, window) = (format!("{word}: {}", mark.text), (tick, tick));
        found.push(Moment { tick, seq, title, beside: Vec::new(), window, signs, weight });
    }
    for note in &debrief.notes {
        let Some(category) = note.category else { continue };
        let weight = match category {
            Category::Unsafe => 95,
            Category::Slip | Category::Discuss => 75,
            Category::WellDone | Category::Communication => 65,
        };
        let title = format!("Marked {}", note.said().replacen("well-done", "well done", 1));
        let (tick, seq) = (note.about_tick, note.seq);
        let (beside, window) = (Vec::new(), (tick, tick));
        found.push(Moment { tick, seq, title, beside, window, signs: Signs::default(), weight });
    }
    found
}

/// Weight, title and signs of an event that may be a moment by itself.
fn of_event(event: &Event) -> Option<(u32, String, Signs)> {
    Some(match event {
        Event::Found { component, code, text, measured, limit, .. }
            if deadship_run::debrief::is_trip(code) =>
        {
            let measured = Some((component.clone(), *measured, *limit));
            // What shuts down stops a machine; a relay that trips stops what hangs on it.
            let weight = if code.contains("shutdown") { 90 } else { 80 };
            (weight, format!("{component} {text}"), Signs { measured, ..Signs::default() })
        }
        Event::StepFailed { what, .. } => {
            (99, format!("The plant could not be computed: {what}"), Signs::default())
        }
        Event::FloodBegan { count } => {
            (70, format!("A flood of alerts: {count} within ten minutes"), Signs::default())
        }
        Event::OrderOverdue { number, text, .. } => {
            (45, format!("Order {number} was not reported in time: {text}"), Signs::default())
        }
        Event::FaultSet { component, fault, .. } => {
            (30, format!("The fault {component}.{fault} was set"), Signs::default())
        }
        Event::AlertRaised { hidden: None, since_tick, priority, text, shown, reading, limit, .. }
            if *since_tick > 0 =>
        {
            let readings = vec![(reading.clone(), Some(*limit))];
            let title = format!("{}: {text} ({shown})", priority.word());
            (25, title, Signs { readings, ..Signs::default() })
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

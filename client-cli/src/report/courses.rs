//! The courses of readings, by replaying the run once: whole and thinned, and around moments in every detail.

mod readings;

use super::moments::{Moment, set_of};
use super::thin::{Point, Thin};
use deadship_plant::MODEL_VERSION;
use deadship_plant::unit::{Dimension, display_unit, resolution, to_display};
use deadship_run::answer::show_reading;
use deadship_run::debrief::Debrief;
use deadship_run::drill::AIM;
use deadship_run::replay::{ReplayError, Until, visit};
use deadship_run::{Envelope, Event, Run};
use readings::{Decision, Reading, conditions, decisions, numbers, owner_of, sources, worked};
use std::collections::{BTreeMap, BTreeSet};

/// Points that a whole course keeps at most.
const POINTS: u64 = 2_400;
/// Points that a course around a moment keeps at most, outside its detail.
const MOMENT_POINTS: u64 = 1_200;
/// Every tick is kept from so many ticks before a moment to so many after: twenty and five seconds.
const DETAIL: (u64, u64) = (400, 100);
/// Readings that a moment shows.
const OF_A_MOMENT: usize = 3;
/// Readings that can be laid beside the timeline.
const OF_THE_RUN: usize = 16;

/// The course of a reading.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Course {
    /// Full name.
    pub(crate) name: String,
    /// Unit as people read it.
    pub(crate) unit: &'static str,
    /// What it measures.
    pub(crate) dimension: Dimension,
    /// What flows there; empty where that is nothing, or more than one thing.
    pub(crate) medium: &'static str,
    /// Decimals that say something.
    pub(crate) decimals: usize,
    /// Limit that was passed, in that unit.
    pub(crate) limit: Option<f64>,
    /// Values in that unit.
    pub(crate) points: Vec<Point>,
}

/// What replaying a run showed.
#[derive(Default)]
pub(crate) struct Courses {
    /// The ship's name for people.
    pub(crate) ship: String,
    /// Readings of the whole run, the most telling first.
    pub(crate) whole: Vec<Course>,
    /// Readings of each moment.
    pub(crate) moments: Vec<Vec<Course>>,
    /// What the readings of a condition were when it was decided, by the name of the expectation.
    pub(crate) evidence: BTreeMap<String, Vec<(String, String)>>,
    /// Why there are no courses, or why they may not be what was seen.
    pub(crate) doubt: Option<String>,
}

/// Replays a log and keeps the courses that its moments and conditions name.
pub(crate) fn courses(log: &[Envelope], debrief: &Debrief, moments: &[Moment]) -> Courses {
    let last = log.last().map_or(0, |last| last.tick);
    let mut watch: Option<Watch> = None;
    let replayed = visit(log, Until::End, &mut |run| {
        watch.get_or_insert_with(|| Watch::new(run, log, debrief, moments, last)).look(run);
    });
    let doubt = match replayed {
        Ok(rebuilt) => rebuilt.difference.map_or_else(
            || of_another_model(log),
            |difference| {
                Some(format!(
                    "Computed anew, and not all as it was recorded, so readings may not be what was seen: {difference}."
                ))
            },
        ),
        Err(ReplayError::Open(error)) => {
            let said = crate::trial::open_failed(error).to_string();
            Some(format!("There are no readings: {}.", said.lines().collect::<Vec<_>>().join("; ")))
        }
        Err(error) => Some(format!("There are no readings: {error}.")),
    };
    let courses = watch.map_or_else(Courses::default, |watch| watch.close(moments));
    Courses { doubt, ..courses }
}

/// Computed by another model, and so far no difference has been found.
fn of_another_model(log: &[Envelope]) -> Option<String> {
    match log.first().map(|first| &first.event) {
        Some(Event::RunOpened(opening)) if opening.model != MODEL_VERSION => Some(format!(
            "The run was computed by model {}, readings by model {MODEL_VERSION}, so they may not be what was seen.",
            opening.model
        )),
        _ => None,
    }
}

/// What is kept while replaying.
struct Watch {
    ship: String,
    readings: Vec<Reading>,
    /// Of each reading that is kept as a whole, its course.
    whole: BTreeMap<usize, Thin>,
    around: Vec<Around>,
    decisions: Vec<Decision>,
    evidence: BTreeMap<String, Vec<(String, String)>>,
    next_tick: u64,
    /// Indices of readings in the order in which they are shown.
    order: Vec<usize>,
    limits: BTreeMap<String, f64>,
}

/// What is kept around a moment.
struct Around {
    tick: u64,
    window: (u64, u64),
    /// Readings that may be shown, the nearest first.
    wanted: Vec<usize>,
    /// Readings of which one has the value that was measured.
    candidates: Vec<usize>,
    /// Readings of the component itself.
    own: Vec<usize>,
    measured: Option<(f64, f64)>,
    limits: BTreeMap<usize, f64>,
    kept: BTreeMap<usize, (Thin, Vec<Point>)>,
}

impl Watch {
    fn new(run: &Run, log: &[Envelope], debrief: &Debrief, moments: &[Moment], last: u64) -> Watch {
        let readings = numbers(run);
        let by_name: BTreeMap<&str, usize> =
            readings.iter().enumerate().map(|(at, reading)| (reading.name.as_str(), at)).collect();
        let by_flat: BTreeMap<usize, usize> =
            readings.iter().enumerate().map(|(at, reading)| (reading.flat, at)).collect();
        let of_condition = |name: &str| -> Vec<usize> {
            conditions(run, name).filter_map(|flat| by_flat.get(&flat).copied()).collect()
        };
        let around: Vec<Around> = moments
            .iter()
            .map(|moment| {
                let named = moment.signs.readings.iter();
                let mut wanted: Vec<usize> =
                    named.filter_map(|(name, _)| by_name.get(name.as_str()).copied()).collect();
                wanted.extend(moment.signs.expected.iter().flat_map(|name| of_condition(name)));
                let besides = moment.signs.besides.iter();
                wanted.extend(besides.filter_map(|name| by_name.get(name.as_str()).copied()));
                let limits = moment
                    .signs
                    .readings
                    .iter()
                    .filter_map(|(name, limit)| Some((*by_name.get(name.as_str())?, (*limit)?)));
                let measured = moment.signs.measured.as_ref();
                let set = measured.map(|(component, ..)| set_of(component));
                let of_set = |reading: &&Reading| Some(set_of(&reading.name)) == set;
                let candidates = readings.iter().enumerate().filter(|(_, reading)| of_set(reading));
                let owner = measured.map(|(component, ..)| component.as_str());
                let own = readings.iter().enumerate().filter(|(_, reading)| owner == owner_of(&reading.name));
                Around {
                    tick: moment.tick,
                    own: own.map(|(at, _)| at).collect(),
                    window: moment.window,
                    limits: limits.collect(),
                    candidates: candidates.map(|(at, _)| at).collect(),
                    measured: measured.map(|(_, value, limit)| (*value, *limit)),
                    kept: BTreeMap::new(),
                    wanted,
                }
            })
            .collect();
        let mut order: Vec<usize> = around.iter().flat_map(|around| around.wanted.clone()).collect();
        let mut limits = BTreeMap::new();
        for envelope in log {
            if let Event::AlertRaised { reading, limit, since_tick: 1.., .. } = &envelope.event {
                order.extend(by_name.get(reading.as_str()));
                limits.entry(reading.clone()).or_insert(*limit);
            }
        }
        let names = debrief.marks.iter().map(|mark| mark.name.as_str()).chain([AIM]);
        order.extend(names.flat_map(of_condition));
        order.extend(around.iter().flat_map(|around| around.own.iter().copied()));
        order.extend(sources(&readings));
        order.extend(worked(log, &readings));
        let whole = order.iter().map(|at| (*at, Thin::new(last, POINTS))).collect();
        Watch {
            ship: run.setup.compiled.spec.title.clone(),
            whole,
            around,
            decisions: decisions(run, debrief),
            evidence: BTreeMap::new(),
            next_tick: 0,
            order,
            limits,
            readings,
        }
    }

    /// The run at the end of a tick; the last may be shown twice.
    fn look(&mut self, run: &Run) {
        let tick = run.tick();
        if tick < self.next_tick {
            return;
        }
        self.next_tick = tick + 1;
        let values = run.plant.readings();
        let value =
            |at: usize, readings: &[Reading]| values.get(readings[at].flat).copied().unwrap_or(f64::NAN);
        for (at, thin) in &mut self.whole {
            thin.take(tick, value(*at, &self.readings));
        }
        for around in
            self.around.iter_mut().filter(|around| (around.window.0..=around.window.1).contains(&tick))
        {
            let in_detail = tick + DETAIL.0 >= around.tick && tick <= around.tick + DETAIL.1;
            if tick == around.tick {
                around.find_measured(|at| value(at, &self.readings));
            }
            let ticks = around.window.1 - around.window.0;
            for at in around.wanted.iter().chain(&around.candidates) {
                let (thin, detail) =
                    around.kept.entry(*at).or_insert_with(|| (Thin::new(ticks, MOMENT_POINTS), Vec::new()));
                let value = value(*at, &self.readings);
                match in_detail {
                    true if value.is_finite() => {
                        if detail.last().is_none_or(|last| last.0 < tick) {
                            detail.push((tick, value));
                        }
                    }
                    true => {}
                    false => thin.take(tick - around.window.0, value),
                }
            }
        }
        self.decide(run, tick);
    }

    fn decide(&mut self, run: &Run, tick: u64) {
        for decision in self.decisions.iter().filter(|decision| decision.tick == tick) {
            let shown = decision.readings.iter().map(|(component, reading)| {
                let owner = &run.setup.compiled.spec.components[*component];
                let name = format!("{}.{}", owner.name, owner.kind.readings[*reading].name);
                (name, show_reading(run, *component, *reading))
            });
            self.evidence.insert(decision.name.clone(), shown.collect());
        }
    }

    fn close(mut self, moments: &[Moment]) -> Courses {
        let mut seen = BTreeSet::new();
        let mut by_weight: Vec<(&Moment, &Around)> = moments.iter().zip(&self.around).collect();
        by_weight.sort_by_key(|(moment, _)| std::cmp::Reverse(moment.weight));
        let mut order: Vec<usize> =
            by_weight.iter().filter_map(|(_, around)| around.wanted.first().copied()).collect();
        order.extend(self.order.iter().copied());
        order.retain(|at| self.whole.contains_key(at) && seen.insert(*at));
        let mut whole = Vec::new();
        for at in order {
            let reading = &self.readings[at];
            let points = self.whole.remove(&at).map(Thin::points).unwrap_or_default();
            let course = course(reading, self.limits.get(&reading.name).copied(), points);
            // What never changed tells nothing.
            if whole.len() < OF_THE_RUN && course.changes() {
                whole.push(course);
            }
        }
        let readings = &self.readings;
        let of_moments = self.around.into_iter().map(|around| around.close(readings)).collect();
        Courses { ship: self.ship, whole, moments: of_moments, evidence: self.evidence, doubt: None }
    }
}

impl Around {
    /// The reading that had the value which was measured then, or just before it fell away.
    fn find_measured(&mut self, now: impl Fn(usize) -> f64) {
        let Some((measured, limit)) = self.measured else { return };
        let is = |value: f64| (value - measured).abs() <= measured.abs() * 1e-9;
        let before =
            |at: usize| self.kept.get(&at).and_then(|kept| kept.1.last()).is_some_and(|last| is(last.1));
        let found = self.candidates.iter().copied().find(|at| is(now(*at)) || before(*at));
        if let Some(found) = found {
            self.wanted.insert(0, found);
            self.limits.insert(found, limit);
        }
        // Without it, what the component itself shows.
        self.wanted.extend(self.own.iter().copied());
    }

    fn close(mut self, readings: &[Reading]) -> Vec<Course> {
        let mut seen = BTreeSet::new();
        let mut courses = Vec::new();
        for at in self.wanted.into_iter().filter(|at| seen.insert(*at)) {
            let Some((thin, detail)) = self.kept.remove(&at) else { continue };
            let mut points: Vec<Point> =
                thin.points().into_iter().map(|(tick, value)| (tick + self.window.0, value)).collect();
            points.extend(detail);
            points.sort_by_key(|point| point.0);
            let course = course(&readings[at], self.limits.get(&at).copied(), points);
            if courses.len() < OF_A_MOMENT && course.changes() {
                courses.push(course);
            }
        }
        courses
    }
}

impl Course {
    /// The same reading elsewhere, in the unit of this one.
    pub(crate) fn in_its_unit(&self, points: Vec<Point>) -> Vec<Point> {
        points.into_iter().map(|(tick, value)| (tick, in_unit(value, self.dimension, self.unit))).collect()
    }

    /// Does it change by anything that can be read?
    fn changes(&self) -> bool {
        let values = self.points.iter().map(|point| point.1);
        let (lowest, highest) = values
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
        (highest - lowest) * 10f64.powi(self.decimals as i32) >= 1.0
    }
}

/// In which volumes below 2 m3 are shown.
const LITRES: &str = "L";

fn in_unit(value: f64, dimension: Dimension, unit: &str) -> f64 {
    if unit == LITRES { value * 1000.0 } else { to_display(value, dimension) }
}

/// A course as people read it.
fn course(reading: &Reading, limit: Option<f64>, points: Vec<Point>) -> Course {
    let dimension = reading.dimension;
    let greatest = points.iter().map(|point| point.1.abs()).fold(0.0, f64::max);
    let unit = match dimension {
        Dimension::Volume if greatest < 2.0 => LITRES,
        _ => display_unit(dimension),
    };
    let shown = |value: f64| in_unit(value, dimension, unit);
    let step = (shown(resolution(dimension, greatest)) - shown(0.0)).abs();
    let decimals = if step > 0.0 { (-step.log10()).round().clamp(0.0, 6.0) as usize } else { 2 };
    Course {
        name: reading.name.clone(),
        unit,
        dimension,
        medium: reading.medium,
        decimals,
        limit: limit.map(shown),
        points: points.into_iter().map(|(tick, value)| (tick, shown(value))).collect(),
    }
}

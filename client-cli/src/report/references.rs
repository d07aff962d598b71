//! What the run is held against: the expert's run of the same drill and one in which nobody does anything, as a table and as
//! courses beside those of the run.

use super::courses::Course;
use super::thin::{Point, Thin};
use deadship_run::reference::{Hands, Line, Reference as Worked, both, reference, table};
use deadship_run::whatif::Side;
use deadship_run::{Envelope, Run};

/// Points that a course of a reference keeps at most: it is a thin line.
const POINTS: u64 = 600;

/// What the run is held against.
#[derive(Default)]
pub(crate) struct References {
    /// Those that there are.
    pub(crate) found: Vec<Reference>,
    /// Why another is not there.
    pub(crate) missing: Vec<String>,
    /// The run and all references side by side, in that order.
    pub(crate) lines: Vec<Line>,
}

/// One of them.
pub(crate) struct Reference {
    /// Who worked it.
    pub(crate) hands: Hands,
    /// Of each course of the run, the same reading here, in the same unit.
    pub(crate) courses: Vec<Vec<Point>>,
}

/// Runs the drill of a log by expert and by nobody. `run`: what the run itself came to; `courses`: what is drawn of it.
pub(crate) fn references(log: &[Envelope], run: &Side, courses: &[Course]) -> References {
    let last = log.last().map_or(0, |last| last.tick);
    let mut all = References::default();
    let mut worked: Vec<Worked> = Vec::new();
    let outcomes = both(|hands| {
        let mut watch = Watch::new(courses, last);
        let outcome = reference(log, hands, &mut |run| watch.look(run));
        (hands, outcome.map(|reference| (reference, watch.close())))
    });
    for (hands, outcome) in outcomes {
        match outcome {
            Ok((reference, courses)) => {
                worked.push(reference);
                all.found.push(Reference { hands, courses });
            }
            Err(error) => all.missing.push(format!("No {}: {error}", hands.words())),
        }
    }
    let sides: Vec<&Side> = std::iter::once(run).chain(worked.iter().map(|one| &one.side)).collect();
    all.lines = table(&sides);
    all
}

/// Readings of a reference while it is computed, as long as the run itself lasted.
struct Watch<'c> {
    courses: &'c [Course],
    last: u64,
    next_tick: u64,
    /// Flat index of each, once a run has been seen.
    flat: Option<Vec<Option<usize>>>,
    kept: Vec<Thin>,
}

impl<'c> Watch<'c> {
    fn new(courses: &'c [Course], last: u64) -> Watch<'c> {
        let kept = courses.iter().map(|_| Thin::new(last, POINTS)).collect();
        Watch { courses, last, next_tick: 0, flat: None, kept }
    }

    fn look(&mut self, run: &Run) {
        let tick = run.tick();
        // The last tick may be shown twice.
        if tick < self.next_tick || tick > self.last {
            return;
        }
        self.next_tick = tick + 1;
        let flat = self
            .flat
            .get_or_insert_with(|| self.courses.iter().map(|course| place(run, &course.name)).collect());
        let values = run.plant.readings();
        for (thin, flat) in self.kept.iter_mut().zip(flat) {
            if let Some(value) = flat.and_then(|flat| values.get(flat)) {
                thin.take(tick, *value);
            }
        }
    }

    fn close(self) -> Vec<Vec<Point>> {
        let of_course = self.kept.into_iter().zip(self.courses);
        of_course.map(|(thin, course)| course.in_its_unit(thin.points())).collect()
    }
}

/// Flat index of a reading by its full name.
fn place(run: &Run, name: &str) -> Option<usize> {
    let compiled = &run.setup.compiled;
    let (owner, reading) = name.rsplit_once('.')?;
    let owner = compiled.component(owner)?;
    let known = compiled.spec.components[owner].kind.readings;
    Some(compiled.reading_starts[owner] + known.iter().position(|known| known.name == reading)?)
}

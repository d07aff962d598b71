//! What measures are taken from: a log, and where it can be had the ship and what a replay shows.

use super::courses::{Course, look, of_ship};
use super::parts::Parts;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::replay::{Until, visit};
use crate::run::Run;
use crate::setup::{Prepared, Setup};
use std::sync::Arc;

/// What measures are taken from.
pub struct MeasureInput<'a> {
    log: &'a [Envelope],
    ship: Option<(Arc<Setup>, Parts)>,
    courses: Option<Vec<Course>>,
    why_not: Vec<String>,
}

impl<'a> MeasureInput<'a> {
    /// The log and its ship, without a replay: what only readings can show is left out, and said to be.
    pub fn of_log(log: &'a [Envelope]) -> MeasureInput<'a> {
        let mut input = MeasureInput { log, ship: None, courses: None, why_not: Vec::new() };
        if let Some(Event::RunOpened(opening)) = log.first().map(|first| &first.event) {
            match Prepared::new(opening.as_ref().clone()) {
                Ok(prepared) => {
                    let parts = Parts::of(&prepared.setup.compiled.spec);
                    input.ship = Some((Arc::clone(&prepared.setup), parts));
                }
                Err(error) => input.why_not.push(format!("the ship cannot be read: {error}")),
            }
        }
        input.why_not.push("the record was not replayed: what only readings show is left out".to_owned());
        input
    }

    /// The log replayed once, looked at every tick.
    pub fn replayed(log: &'a [Envelope]) -> MeasureInput<'a> {
        let mut looking = Looking::default();
        let rebuilt = visit(log, Until::End, &mut |run| looking.look(run));
        let difference = match rebuilt {
            Ok(rebuilt) => rebuilt.difference.map(|difference| difference.to_string()),
            Err(error) => Some(error.to_string()),
        };
        match difference {
            None => looking.close(log),
            Some(why) => MeasureInput::without_replay(log, &why),
        }
    }

    fn without_replay(log: &'a [Envelope], why: &str) -> MeasureInput<'a> {
        let mut input = MeasureInput::of_log(log);
        input.why_not.pop();
        input.why_not.push(format!("this version cannot replay the record: {why}"));
        input
    }

    /// The log.
    pub fn log(&self) -> &'a [Envelope] {
        self.log
    }

    /// Last tick.
    pub(super) fn end(&self) -> u64 {
        self.log.last().map_or(0, |last| last.tick)
    }

    /// What the ship is made of; `None` where this version cannot read her files.
    pub(super) fn setup(&self) -> Option<&Setup> {
        self.ship.as_ref().map(|(setup, _)| setup.as_ref())
    }

    /// The parts of the ship.
    pub(super) fn parts(&self) -> Option<&Parts> {
        self.ship.as_ref().map(|(_, parts)| parts)
    }

    /// What was so when; `None` without replay.
    pub(super) fn courses(&self) -> Option<&[Course]> {
        self.courses.as_deref()
    }

    /// Why something cannot be measured.
    pub(super) fn not_computed(&self) -> Vec<String> {
        self.why_not.clone()
    }
}

/// What is looked at while a run goes on, or is replayed: once at the end of every tick.
#[derive(Default)]
pub struct Looking {
    seen: Option<(Arc<Setup>, Parts, Vec<Course>)>,
}

impl Looking {
    /// The run at the end of a tick.
    pub fn look(&mut self, run: &Run) {
        let (_, _, courses) = self.seen.get_or_insert_with(|| {
            let setup = Arc::clone(&run.setup);
            let parts = Parts::of(&setup.compiled.spec);
            let courses = of_ship(&setup.compiled, &parts);
            (setup, parts, courses)
        });
        look(courses, run);
    }

    /// What measures of its log are taken from.
    pub fn close(self, log: &[Envelope]) -> MeasureInput<'_> {
        match self.seen {
            None => MeasureInput::without_replay(log, "the log is empty"),
            Some((setup, parts, courses)) => {
                MeasureInput { log, ship: Some((setup, parts)), courses: Some(courses), why_not: Vec::new() }
            }
        }
    }
}

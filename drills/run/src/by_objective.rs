//! A run by what it was to teach: which events belong to which objective.
//!
//! To an objective belongs what is about the components that conditions of its expectations name, or about their neighbours in
//! the ship: acts, refusals, findings, alerts, faults, needs; words and notes that name such a component itself; expectations
//! that were met or missed, and ratings. An event may belong to more than one, and then stands in each.

use crate::condition::Condition;
use crate::debrief::{Debrief, ObjectiveCourse};
use crate::envelope::Envelope;
use crate::event::Event;
use crate::measures::{Naming, neighbours, of_alert};
use crate::setup::{Prepared, Setup};
use std::collections::BTreeSet;
use std::sync::Arc;

/// An objective with its events.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Group {
    /// What is to be taught; `None`: these events belong to no objective.
    pub objective: Option<ObjectiveCourse>,
    /// Places of its events in the log, in order.
    pub places: Vec<usize>,
}

/// A run by objective.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ByObjective {
    /// One for each objective in the order of the drill, then what belongs to none.
    pub groups: Vec<Group>,
    /// Why acts and alerts are not told apart; `None`: they are.
    pub doubt: Option<String>,
}

/// Groups a log; without objectives everything is in one group.
pub fn by_objective(log: &[Envelope]) -> ByObjective {
    let debrief = Debrief::of(log);
    let (setup, doubt) = match setup_of(log) {
        Ok(setup) => (Some(setup), None),
        Err(why) => (None, Some(why)),
    };
    let mut taken = vec![false; log.len()];
    let mut groups = Vec::new();
    for course in debrief.objectives {
        let about = setup.as_ref().map(|setup| About::of(setup, &course.objective.name));
        let belongs = |envelope: &Envelope| {
            is_mark_of(&course, &envelope.event)
                || about.as_ref().is_some_and(|about| about.has(&envelope.event))
        };
        let places: Vec<usize> = (0..log.len()).filter(|at| belongs(&log[*at])).collect();
        places.iter().for_each(|at| taken[*at] = true);
        groups.push(Group { objective: Some(course), places });
    }
    let rest = (0..log.len()).filter(|at| !taken[*at]).collect();
    groups.push(Group { objective: None, places: rest });
    ByObjective { groups, doubt }
}

fn setup_of(log: &[Envelope]) -> Result<Arc<Setup>, String> {
    let Some(Event::RunOpened(opening)) = log.first().map(|first| &first.event) else {
        return Err("the log does not begin with the opening of a run".to_owned());
    };
    match Prepared::new(opening.as_ref().clone()) {
        Ok(prepared) => Ok(prepared.setup),
        Err(error) => Err(format!("this version cannot read the ship or the drill: {error}")),
    }
}

/// Something expected that was decided, or a rating.
fn is_mark_of(course: &ObjectiveCourse, event: &Event) -> bool {
    match event {
        Event::ExpectationMet { name, .. } | Event::ExpectationMissed { name, .. } => {
            course.expects.contains(name)
        }
        Event::Rated { objective, .. } => *objective == course.objective.name,
        _ => false,
    }
}

/// What an objective is about.
struct About {
    setup: Arc<Setup>,
    /// Components that conditions name, and their neighbours.
    near: BTreeSet<usize>,
    /// How the components that conditions name may be called.
    named: Vec<Naming>,
}

impl About {
    fn of(setup: &Arc<Setup>, objective: &str) -> About {
        let spec = &setup.compiled.spec;
        let expects = setup.drill.expects.iter();
        let of_it = expects.filter(|expect| expect.objective.as_deref() == Some(objective));
        let conditions = of_it.flat_map(|expect| std::iter::once(&expect.when).chain(&expect.from));
        let own: BTreeSet<usize> = conditions.flat_map(|condition| named(condition, setup)).collect();
        About {
            setup: Arc::clone(setup),
            near: own.iter().flat_map(|component| neighbours(spec, *component)).collect(),
            named: own
                .iter()
                .map(|component| &spec.components[*component])
                .map(|component| Naming::new(&component.name, &component.title))
                .collect(),
        }
    }

    fn is_near(&self, component: &str) -> bool {
        self.setup.compiled.component(component).is_some_and(|component| self.near.contains(&component))
    }

    fn has(&self, event: &Event) -> bool {
        match event {
            Event::ActDone { component, .. }
            | Event::FaultSet { component, .. }
            | Event::FaultLifted { component, .. }
            | Event::FaultPlanned { component, .. }
            | Event::FaultPlanDropped { component, .. }
            | Event::Found { component, .. }
            | Event::NeedLost { component, .. }
            | Event::NeedMet { component, .. } => self.is_near(component),
            Event::ActRefused { command, .. } => command.split_whitespace().any(|word| self.is_near(word)),
            Event::AlertRaised { alert, .. }
            | Event::AlertCleared { alert, .. }
            | Event::Acknowledged { alert, .. }
            | Event::Shelved { alert, .. }
            | Event::Unshelved { alert }
            | Event::ShelvingEnded { alert, .. }
            | Event::SuppressionBegan { alert, .. }
            | Event::SuppressionEnded { alert, .. }
            | Event::FirstOut { alert, .. } => of_alert(&self.setup.compiled, alert)
                .is_some_and(|(about, watched)| self.near.contains(&about) || self.near.contains(&watched)),
            Event::Said { text, .. }
            | Event::OrderGiven { text, .. }
            | Event::OrderRepeated { text, .. }
            | Event::OrderReported { text, .. }
            | Event::OrderOverdue { text, .. }
            | Event::Reported { text, .. }
            | Event::Noted { text, .. } => self.named.iter().any(|naming| naming.is_in(text)),
            _ => false,
        }
    }
}

/// Components that a condition names.
fn named(condition: &Condition, setup: &Setup) -> Vec<usize> {
    let starts = &setup.compiled.reading_starts;
    let owner = |flat: usize| starts.partition_point(|start| *start <= flat) - 1;
    let alerts = condition.alerts().map(|alert| &setup.compiled.spec.alerts[alert]);
    condition.readings().map(owner).chain(condition.faulty()).chain(alerts.map(|alert| alert.about)).collect()
}

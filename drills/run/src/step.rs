//! One tick of a run.

use crate::event::Event;
use crate::run::Run;
use deadship_plant::ctx::{Finding, Found};
use deadship_plant::unit::format_si;

/// Ticks between two digests: 5 s.
pub const DIGEST_TICKS: u64 = 100;

/// What a tick brought.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Step {
    /// Facts, in order; the run has changed by them already.
    pub findings: Vec<Event>,
    /// What the drill does now; applied by [`crate::evolve()`], before the next tick.
    pub inputs: Vec<Event>,
}

impl Run {
    /// Advances by one tick. Whoever calls looks at [`Run::goes`] first and records what comes back.
    ///
    /// A plant that cannot be solved gives [`Event::StepFailed`]; the run cannot be stepped from then on.
    pub fn step(&mut self) -> Step {
        let found: Vec<Finding> = match self.plant.step() {
            Ok(found) => found.to_vec(),
            Err(failure) => {
                self.state.failed = Some(failure.to_string());
                self.state.hold = Some("the plant cannot be stepped on".to_owned());
                let (net, node, what) = (failure.net.to_owned(), failure.node, failure.what);
                return Step { findings: vec![Event::StepFailed { net, node, what }], inputs: Vec::new() };
            }
        };
        let mut findings = self.tend_hidden();
        for finding in &found {
            let event = self.tell(finding);
            findings.push(event);
            if let Found::AlertOn(index) = finding.what {
                self.came_up(index, &mut findings);
            }
        }
        findings.extend(self.look_at_list());
        findings.extend(self.overdue_orders());
        let seen = self.look();
        findings.extend(seen.findings);
        if self.tick().is_multiple_of(DIGEST_TICKS) {
            findings.push(Event::Digest { digest: self.digest() });
        }
        Step { findings, inputs: seen.inputs }
    }

    /// Alerts whose condition is true before the first tick.
    pub(crate) fn raise_standing_alerts(&mut self) -> Vec<Event> {
        self.suppress_from_the_start();
        let standing: Vec<usize> =
            (0..self.state.alerts.len()).filter(|&alert| self.plant.alert_on(alert)).collect();
        let tick = self.plant.tick;
        standing
            .into_iter()
            .map(|alert| {
                let spec = &self.setup.compiled.spec.alerts[alert];
                let measured = self.plant.reading(spec.reading.0, spec.reading.1);
                let (limit, since_tick) = (spec.limit, self.setup.settled_ticks);
                self.tell(&Finding { tick, what: Found::AlertOn(alert), measured, limit, since_tick })
            })
            .collect()
    }

    /// A finding of the plant as an event.
    fn tell(&mut self, finding: &Finding) -> Event {
        let setup = std::sync::Arc::clone(&self.setup);
        let components = &setup.compiled.spec.components;
        let since_tick = finding.since_tick.saturating_sub(setup.settled_ticks);
        let (measured, limit) = (recordable(finding.measured), recordable(finding.limit));
        match finding.what {
            Found::Kind(component, index) => {
                let owner = &components[component];
                let def = &owner.kind.findings[index];
                let text = def
                    .text
                    .replace("{measured}", &format_si(measured, def.dimension))
                    .replace("{limit}", &format_si(limit, def.dimension));
                let (component, code) = (owner.name.clone(), def.code.to_owned());
                Event::Found { component, code, text, measured, limit, since_tick }
            }
            Found::AlertOn(index) => self.alert_raised(index, measured, limit, since_tick),
            Found::AlertOff(index) => {
                let hidden = self.hidden(index);
                let life = &mut self.state.alerts[index];
                life.clear();
                let alert = setup.compiled.spec.alerts[index].name.clone();
                Event::AlertCleared { alert, occurrence: life.occurrence, measured, limit, hidden }
            }
            Found::NeedLost(component, need) => Event::NeedLost {
                component: components[component].name.clone(),
                need: components[component].kind.needs[need].name.to_owned(),
            },
            Found::NeedMet(component, need) => Event::NeedMet {
                component: components[component].name.clone(),
                need: components[component].kind.needs[need].name.to_owned(),
                since_tick,
            },
        }
    }

    fn alert_raised(&mut self, index: usize, measured: f64, limit: f64, since_tick: u64) -> Event {
        let tick = self.tick();
        self.state.occurrences += 1;
        let occurrence = self.state.occurrences;
        self.state.alerts[index].raise(occurrence, tick);
        let hidden = self.hidden(index);
        let spec = &self.setup.compiled.spec.alerts[index];
        let side = match spec.when {
            deadship_plant::spec::Beyond::Below => "below",
            deadship_plant::spec::Beyond::Above => "above",
        };
        let def = {
            let (component, reading) = spec.reading;
            &self.setup.compiled.spec.components[component].kind.readings[reading]
        };
        let shown = match def.words {
            [] => {
                let dimension = def.dimension;
                format!("{}, {side} {}", format_si(measured, dimension), format_si(limit, dimension))
            }
            words => crate::condition::word(words, measured).to_owned(),
        };
        Event::AlertRaised {
            alert: spec.name.clone(),
            occurrence,
            priority: spec.priority,
            text: spec.text.clone(),
            reading: self.setup.compiled.reading_name(spec.reading),
            measured,
            limit,
            shown,
            since_tick,
            hidden,
        }
    }
}

/// JSON has no infinity: the greatest number stands for it.
fn recordable(value: f64) -> f64 {
    if value.is_nan() { 0.0 } else { value.clamp(-f64::MAX, f64::MAX) }
}

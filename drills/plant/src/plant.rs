//! A compiled plant: flat arrays with indices, and the one short function that says in which order a tick happens.

pub(crate) mod alerts;
mod evidence;

use crate::ctx::{Ctx, Finding, Outbox, View, Wiring};
use crate::kind::{Act, Block, Hook, Hooks};
use crate::nets::Nets;
use crate::spec::{ShipSpec, Surroundings};
use crate::{HEAT_TICKS, SUBSTEP_S, SUBSTEPS, TICK_S};
use std::sync::Arc;

/// What does not change while a plant runs.
pub struct Compiled {
    /// The ship as it was read.
    pub spec: ShipSpec,
    /// Indices of each component.
    pub wiring: Vec<Wiring>,
    /// Parameters, flat.
    pub params: Vec<f64>,
    /// First reading of each component.
    pub reading_starts: Vec<usize>,
    /// Net-local index of each node of the spec.
    pub node_index: Vec<usize>,
    pub(crate) phases: Phases,
    pub(crate) alert_watches: Vec<alerts::AlertWatch>,
}

/// Which hook of which component runs in each phase.
#[derive(Default)]
pub(crate) struct Phases {
    pub(crate) settle: Vec<(Hook, usize)>,
    pub(crate) control: Vec<(Hook, usize)>,
    pub(crate) electric: Vec<(Hook, usize)>,
    pub(crate) motion: Vec<(Hook, usize)>,
    pub(crate) liquid: Vec<(Hook, usize)>,
    pub(crate) air: Vec<(Hook, usize)>,
    pub(crate) after: Vec<(Hook, usize)>,
    pub(crate) heat: Vec<(Hook, usize)>,
    pub(crate) publish: Vec<(Hook, usize)>,
}

impl Phases {
    pub(crate) fn add(&mut self, hooks: &Hooks, component: usize) {
        let lists = [
            (hooks.settle, &mut self.settle),
            (hooks.control, &mut self.control),
            (hooks.electric, &mut self.electric),
            (hooks.motion, &mut self.motion),
            (hooks.liquid, &mut self.liquid),
            (hooks.air, &mut self.air),
            (hooks.after, &mut self.after),
            (hooks.heat, &mut self.heat),
            (hooks.publish, &mut self.publish),
        ];
        for (hook, list) in lists {
            if let Some(hook) = hook {
                list.push((hook, component));
            }
        }
    }
}

/// The course of a fault: where its severity is, where it is going, and whether it comes and goes.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FaultCourse {
    /// Severity while it is present, 0 to 1.
    pub severity: f64,
    /// Severity it is going to, 0 to 1.
    pub target: f64,
    /// Change of severity per second; infinite for sudden.
    pub rate_per_s: f64,
    /// Ticks from one coming to the next; 0 for a fault that stays.
    pub period_ticks: f64,
    /// Ticks of each period in which it is present.
    pub present_ticks: f64,
    /// Ticks since it last came.
    pub phase_ticks: f64,
}

impl FaultCourse {
    /// Goes on by a tick; returns how severe the fault is in it.
    fn advance(&mut self) -> f64 {
        let step = self.rate_per_s * TICK_S;
        self.severity += (self.target - self.severity).clamp(-step, step);
        if self.period_ticks <= 0.0 {
            return self.severity;
        }
        let present = self.phase_ticks < self.present_ticks;
        self.phase_ticks += 1.0;
        if self.phase_ticks >= self.period_ticks {
            self.phase_ticks = 0.0;
        }
        if present { self.severity } else { 0.0 }
    }

    /// Will the next tick find it otherwise?
    fn under_way(&self) -> bool {
        self.severity != self.target || self.period_ticks > 0.0
    }
}

/// How an intermittent fault comes and goes: present at first, then the same in every period.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Intermittent {
    /// From one coming to the next, s.
    pub period_s: f64,
    /// How long of each period it is present, s.
    pub present_s: f64,
}

impl Intermittent {
    /// Shortest period, s: two ticks.
    pub const SHORTEST_S: f64 = 2.0 * TICK_S;

    /// Is it present for a part of each period, and is the period longer than the shortest?
    pub fn makes_sense(&self) -> bool {
        self.period_s >= Self::SHORTEST_S && self.present_s >= TICK_S && self.present_s < self.period_s
    }
}

/// A net that could not be solved: the run goes on hold with this as evidence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("the {net} net could not be solved at tick {tick}, at `{node}`: {what}")]
pub struct StepFailure {
    /// Which net.
    pub net: &'static str,
    /// When.
    pub tick: u64,
    /// Node that is worst.
    pub node: String,
    /// What is wrong with it.
    pub what: String,
}

/// A plant that can be stepped.
#[derive(Clone)]
pub struct Plant {
    /// What does not change.
    pub compiled: Arc<Compiled>,
    /// Ticks done.
    pub tick: u64,
    pub(crate) outside: Surroundings,
    pub(crate) state: Vec<f64>,
    pub(crate) faults: Vec<f64>,
    pub(crate) courses: Vec<FaultCourse>,
    /// Faults whose severity may change by itself; the others are as their courses say and are passed over. May name
    /// one that rests, never misses one that moves.
    pub(crate) courses_under_way: Vec<usize>,
    pub(crate) needs: Vec<f64>,
    pub(crate) nets: Nets,
    pub(crate) being_read: Vec<f64>,
    pub(crate) published: Vec<f64>,
    pub(crate) alert_timer_s: Vec<f64>,
    pub(crate) alert_gate_s: Vec<f64>,
    pub(crate) alert_on: Vec<bool>,
    pub(crate) outbox: Outbox,
    pub(crate) reported: usize,
    pub(crate) requests: Vec<crate::ctx::Request>,
    pub(crate) last_acts: evidence::LastActs,
}

impl Plant {
    /// Advances by one tick; returns what was found out, in order.
    pub fn step(&mut self) -> Result<&[Finding], StepFailure> {
        self.tick += 1;
        // What hands found since the last step (a reset, a contactor closed) belongs to this one.
        self.outbox.findings.drain(..self.reported);
        self.advance_faults();
        self.do_requests();
        self.nets.dc_draw_a.fill(0.0);
        self.nets.ac.clear_standing();
        self.nets.ac.clear_leaks();
        self.nets.liquid.source_m3_s.copy_from_slice(&self.nets.swell.source_m3_s);
        self.nets.air.source_kg_s.fill(0.0);
        self.nets.space.clear_flows();
        self.nets.bilge.inflow_m3_s.fill(0.0);
        self.run(|p| &p.control, TICK_S);
        self.substeps();
        self.run(|p| &p.liquid, TICK_S);
        self.solve_liquid()?;
        self.nets.blend.gather(&self.nets.liquid, TICK_S);
        self.run(|p| &p.air, TICK_S);
        self.step_air()?;
        self.nets.shaft.quadratic_nm_s2.fill(0.0);
        self.run(|p| &p.after, TICK_S);
        if self.tick.is_multiple_of(HEAT_TICKS) {
            self.step_heat();
        }
        self.run(|p| &p.publish, TICK_S);
        self.check_finite()?;
        self.published.copy_from_slice(&self.being_read);
        self.watch_alerts();
        self.reported = self.outbox.findings.len();
        Ok(&self.outbox.findings)
    }

    fn substeps(&mut self) {
        for _ in 0..SUBSTEPS {
            self.nets.ac.clear();
            self.run(|p| &p.electric, SUBSTEP_S);
            self.nets.ac.solve();
            self.nets.shaft.clear();
            self.run(|p| &p.motion, SUBSTEP_S);
            self.nets.shaft.step(SUBSTEP_S);
        }
        self.nets.ac.find_branch_currents();
    }

    fn solve_liquid(&mut self) -> Result<(), StepFailure> {
        self.nets.liquid.solve(TICK_S).map_err(|failure| StepFailure {
            net: "liquid",
            tick: self.tick,
            node: self.compiled.liquid_node_name(failure.node).into(),
            what: self.liquid_evidence(failure),
        })
    }

    fn step_air(&mut self) -> Result<(), StepFailure> {
        self.nets.air.step(TICK_S).map_err(|node| StepFailure {
            net: "air",
            tick: self.tick,
            node: self.compiled.air_node_name(node).into(),
            what: self.air_evidence(node),
        })
    }

    fn step_heat(&mut self) {
        let dt_s = TICK_S * HEAT_TICKS as f64;
        for branch in &mut self.nets.liquid.branches {
            branch.heat_w = 0.0;
        }
        self.nets.space.heat_w.fill(0.0);
        self.nets.heat.heat_w.fill(0.0);
        self.run(|p| &p.heat, dt_s);
        let nets = &mut self.nets;
        nets.heat.step(&nets.liquid, dt_s);
        nets.swell.step(&nets.liquid, &nets.heat, dt_s);
        nets.blend.step(&nets.liquid, &nets.heat);
        nets.blend.refresh(&mut nets.liquid, &mut nets.heat);
    }

    /// A number that is not finite must never be shown or stepped on: the run stops with the component's name.
    fn check_finite(&self) -> Result<(), StepFailure> {
        if all_finite(&self.being_read) {
            return Ok(());
        }
        let Some(at) = self.being_read.iter().position(|r| !r.is_finite()) else { return Ok(()) };
        let (component, reading) = self.compiled.reading_at(at);
        let owner = &self.compiled.spec.components[component];
        Err(StepFailure {
            net: "whole",
            tick: self.tick,
            node: owner.name.clone(),
            what: self.reading_evidence(component, reading, self.being_read[at]),
        })
    }

    pub(crate) fn run(&mut self, phase: impl Fn(&Phases) -> &[(Hook, usize)], dt_s: f64) {
        let Some(&(_, first)) = phase(&self.compiled.phases).first() else { return };
        let (compiled, mut ctx) = self.ctx(first, dt_s);
        for &(hook, component) in phase(&compiled.phases) {
            ctx.wiring = &compiled.wiring[component];
            hook(&mut ctx);
        }
    }

    /// What a component's functions are given, beside what does not change.
    fn ctx(&mut self, component: usize, dt_s: f64) -> (&Compiled, Ctx<'_>) {
        let compiled = &*self.compiled;
        let ctx = Ctx {
            dt_s,
            tick: self.tick,
            wiring: &compiled.wiring[component],
            params: &compiled.params,
            state: &mut self.state,
            faults: &self.faults,
            needs: &mut self.needs,
            nets: &mut self.nets,
            readings: &mut self.being_read,
            published: &self.published,
            reading_starts: &compiled.reading_starts,
            alerts: (&compiled.spec.alerts, &self.alert_on),
            outside: &self.outside,
            outbox: &mut self.outbox,
        };
        (compiled, ctx)
    }

    fn view(&self, component: usize) -> View<'_> {
        View {
            tick: self.tick,
            wiring: &self.compiled.wiring[component],
            params: &self.compiled.params,
            state: &self.state,
            faults: &self.faults,
            nets: &self.nets,
            published: &self.published,
            reading_starts: &self.compiled.reading_starts,
            alerts: (&self.compiled.spec.alerts, &self.alert_on),
            wirings: &self.compiled.wiring,
        }
    }

    /// What stands in the way of an act now; empty when it can be done. Changes nothing.
    pub fn permit(&self, component: usize, act: Act) -> Vec<Block> {
        let mut blocks = Vec::new();
        if let Some(permit) = self.compiled.wiring[component].kind.hooks.permit {
            permit(&self.view(component), act, &mut blocks);
        }
        blocks
    }

    /// Does an act. Total: whether it may be done is [`Plant::permit`]'s business.
    pub fn act(&mut self, component: usize, act: Act) {
        self.last_acts.note(self.tick, component, act);
        if let Some(do_act) = self.compiled.wiring[component].kind.hooks.act {
            do_act(&mut self.ctx(component, TICK_S).1, act);
        }
    }

    /// Commands of one component to another, asked for in the last tick. One that is not permitted is let fall: the
    /// asking component sees from readings that nothing happened.
    fn do_requests(&mut self) {
        std::mem::swap(&mut self.requests, &mut self.outbox.requests);
        for i in 0..self.requests.len() {
            let request = self.requests[i];
            let act = Act { index: request.act, value: request.value, remote: true };
            if self.permit(request.to, act).is_empty() {
                self.act(request.to, act);
            }
        }
        self.requests.clear();
    }

    /// Sends a fault to a severity (0 lifts it), at once or over `ramp_s`.
    pub fn set_fault(&mut self, component: usize, fault: usize, severity: f64, ramp_s: f64) {
        let slot = self.compiled.wiring[component].faults + fault;
        let severity_now = self.courses[slot].severity;
        let target = severity.clamp(0.0, 1.0);
        let rate_per_s = if ramp_s > 0.0 { (target - severity_now).abs() / ramp_s } else { f64::MAX };
        self.courses[slot] =
            FaultCourse { severity: severity_now, target, rate_per_s, ..FaultCourse::default() };
        if !self.courses_under_way.contains(&slot) {
            self.courses_under_way.push(slot);
        }
    }

    /// The same for a fault that comes and goes.
    pub fn set_intermittent_fault(
        &mut self,
        component: usize,
        fault: usize,
        severity: f64,
        ramp_s: f64,
        pulse: Intermittent,
    ) {
        self.set_fault(component, fault, severity, ramp_s);
        let course = &mut self.courses[self.compiled.wiring[component].faults + fault];
        course.period_ticks = libm::round(pulse.period_s / TICK_S);
        course.present_ticks = libm::round(pulse.present_s / TICK_S);
    }

    /// Severity of a fault now.
    pub fn fault(&self, component: usize, fault: usize) -> f64 {
        self.faults[self.compiled.wiring[component].faults + fault]
    }

    fn advance_faults(&mut self) {
        let (faults, courses) = (&mut self.faults, &mut self.courses);
        self.courses_under_way.retain(|&slot| {
            faults[slot] = courses[slot].advance();
            courses[slot].under_way()
        });
    }

    /// The nets as the last step left them: for looking only.
    pub fn nets(&self) -> &Nets {
        &self.nets
    }

    /// A reading as last published, SI.
    pub fn reading(&self, component: usize, reading: usize) -> f64 {
        self.published[self.compiled.reading_starts[component] + reading]
    }

    /// All readings as last published, SI, in order of component and reading.
    pub fn readings(&self) -> &[f64] {
        &self.published
    }

    /// Tick since which a need is unmet; `None` while it is met.
    pub fn need_unmet_since(&self, component: usize, need: usize) -> Option<u64> {
        let since = self.needs[self.compiled.wiring[component].needs + need];
        (since >= 0.0).then_some(since as u64)
    }
}

/// Are all of these numbers? Asked of every reading in every tick, so without a branch for each: only an exponent of all
/// ones (infinite, or no number) carries into the sign's place when one is added to it.
fn all_finite(numbers: &[f64]) -> bool {
    const SIGN: u64 = 1 << 63;
    const EXPONENT_ONE: u64 = 1 << (f64::MANTISSA_DIGITS - 1);
    numbers.iter().fold(0, |carries, number| carries | ((number.to_bits() & !SIGN) + EXPONENT_ONE)) < SIGN
}

#[cfg(test)]
mod tests {
    use super::all_finite;

    #[test]
    fn what_is_no_number_is_found_wherever_it_stands() {
        let sound = [0.0, -0.0, 1.0, -1.0, f64::MIN, f64::MAX, f64::MIN_POSITIVE, 5e-324, -5e-324];
        assert!(all_finite(&sound));
        for odd in [f64::NAN, -f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            for at in 0..sound.len() {
                let mut numbers = sound;
                numbers[at] = odd;
                assert!(!all_finite(&numbers), "{odd} at {at}");
            }
        }
    }
}

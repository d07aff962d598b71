//! Applying events. Total: no rules, nothing can fail; what names something unknown changes nothing.

use crate::command::verb_of;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::orders::Order;
use crate::run::{FaultNow, Link, Person, Run};
use crate::watch::is_planned;
use crate::who::Who;
use deadship_plant::kind::{Act, Verb};

/// Applies an event. An input changes the run; a finding is only taken note of, because stepping has brought about
/// already what it tells.
pub fn evolve(run: &mut Run, envelope: &Envelope) {
    run.last_seq = envelope.seq;
    take_note(run, envelope);
    let (who, tick) = (&envelope.who, envelope.tick);
    match &envelope.event {
        Event::StationTaken { .. } | Event::StationLeft { .. } | Event::Moved { .. } => {
            move_people(run, who, &envelope.event);
        }
        Event::ActDone { .. } => act(run, who, &envelope.event),
        Event::Acknowledged { .. } | Event::Silenced {} | Event::Shelved { .. } | Event::Unshelved { .. } => {
            alerts(run, &envelope.event);
        }
        Event::FaultSet { .. } | Event::FaultLifted { .. } => {
            fault(run, tick, &envelope.event);
            run.follow_plans(who, &envelope.event);
        }
        Event::FaultPlanned { .. } | Event::FaultPlanDropped { .. } => {
            run.follow_plans(who, &envelope.event);
        }
        Event::Said { step: Some(step), .. } => {
            run.state.steps.insert(step.clone());
        }
        Event::OrderGiven { .. } | Event::OrderRepeated { .. } | Event::OrderReported { .. } => {
            orders(run, tick, &envelope.event);
        }
        Event::HoldSet { reason } => run.state.hold = Some(reason.clone()),
        Event::HoldLifted {} => {
            run.state.hold = None;
            run.follow_asks(who, tick, &envelope.event);
        }
        Event::Asked { .. } | Event::Answered { .. } => run.follow_asks(who, tick, &envelope.event),
        Event::SpeedSet { factor } => run.state.speed = *factor,
        Event::StepTicked { procedure, step, done } => {
            run.state.ticked.insert(format!("{procedure}/{step}"), (tick, *done));
        }
        Event::RunEnded { reason } => run.state.ended = Some(reason.clone()),
        Event::RunOpened(_) | Event::ActRefused { .. } | Event::Said { .. } | Event::Reported { .. } => {}
        Event::Noted { .. } | Event::Rated { .. } | Event::PersonRemoved { .. } => {}
        Event::AlertRaised { .. }
        | Event::AlertCleared { .. }
        | Event::NeedLost { .. }
        | Event::NeedMet { .. }
        | Event::Found { .. }
        | Event::AimReached { .. }
        | Event::ExpectationMet { .. }
        | Event::ExpectationMissed { .. }
        | Event::Digest { .. }
        | Event::StepFailed { .. }
        | Event::OrderOverdue { .. }
        | Event::SuppressionBegan { .. }
        | Event::SuppressionEnded { .. }
        | Event::ShelvingEnded { .. }
        | Event::FirstOut { .. }
        | Event::FloodBegan { .. }
        | Event::FloodEnded { .. }
        | Event::AnswerKnown { .. }
        | Event::Undecided { .. } => {}
    }
}

/// Names of the events that `take_note` takes note of.
pub(crate) const NOTED: [&str; 8] =
    ["alert-raised", "need-lost", "fault-set", "fault-planned", "hold-set", "noted", "order-given", "asked"];

/// Remembers which event brought what is the case now.
pub(crate) fn take_note(run: &mut Run, envelope: &Envelope) {
    let link = Link { seq: envelope.seq, chain: envelope.chain };
    match &envelope.event {
        Event::AlertRaised { alert, .. } => {
            run.links.alerts.insert(alert.clone(), link);
        }
        Event::NeedLost { component, need } => {
            run.links.needs.insert((component.clone(), need.clone()), link);
        }
        Event::FaultSet { component, fault, .. } => {
            run.links.faults.insert((component.clone(), fault.clone()), link);
        }
        Event::FaultPlanned { component, fault, .. } => {
            run.links.planned.insert((component.clone(), fault.clone()), link);
        }
        Event::HoldSet { .. } => run.links.hold = Some(link),
        Event::Asked { ask, .. } => {
            run.links.asked.insert(ask.clone(), link);
        }
        Event::OrderGiven { number, .. } => {
            run.links.orders.insert(*number, link);
        }
        Event::Noted { on, .. } => {
            let to = on.and_then(|on| run.links.notes.get(&on).copied()).unwrap_or(link);
            run.links.notes.insert(envelope.seq, to);
        }
        _ => {}
    }
}

/// The event that certainly led to this one: what it ends or answers.
pub(crate) fn cause_of(run: &Run, who: &Who, event: &Event) -> Option<Link> {
    let links = &run.links;
    match event {
        Event::AlertCleared { alert, .. }
        | Event::Acknowledged { alert, .. }
        | Event::SuppressionEnded { alert, .. }
        | Event::FirstOut { alert, .. } => links.alerts.get(alert).copied(),
        Event::NeedMet { component, need, .. } => {
            links.needs.get(&(component.clone(), need.clone())).copied()
        }
        Event::FaultLifted { component, fault, .. } => {
            links.faults.get(&(component.clone(), fault.clone())).copied()
        }
        Event::FaultSet { component, fault, .. } if is_planned(who, event) => {
            links.planned.get(&(component.clone(), fault.clone())).copied()
        }
        Event::FaultPlanDropped { component, fault } => {
            links.planned.get(&(component.clone(), fault.clone())).copied()
        }
        Event::HoldLifted {} => links.hold,
        Event::OrderRepeated { number, .. }
        | Event::OrderReported { number, .. }
        | Event::OrderOverdue { number, .. } => links.orders.get(number).copied(),
        Event::Answered { ask, .. } | Event::AnswerKnown { ask, .. } | Event::Undecided { ask, .. } => {
            links.asked.get(ask).copied()
        }
        Event::Noted { on: Some(on), .. } => links.notes.get(on).copied(),
        _ => None,
    }
}

fn person<'r>(run: &'r mut Run, who: &Who) -> Option<&'r mut Person> {
    let key = who.key()?;
    let fresh =
        || Person { who: who.clone(), station: None, place: None, arrives_tick: 0, busy_until_tick: 0 };
    Some(run.state.people.entry(key).or_insert_with(fresh))
}

fn move_people(run: &mut Run, who: &Who, event: &Event) {
    let index = match event {
        Event::StationTaken { place: Some(place), .. } | Event::Moved { place, .. } => run.setup.place(place),
        _ => None,
    };
    let Some(person) = person(run, who) else { return };
    match event {
        Event::StationTaken { station, .. } => {
            person.station = Some(station.clone());
            // Someone who was aboard before may be on the way: they walk on.
            if person.place != index {
                (person.place, person.arrives_tick) = (index, 0);
            }
        }
        Event::StationLeft { .. } => person.station = None,
        Event::Moved { arrives_tick, .. } => {
            (person.place, person.arrives_tick) = (index, *arrives_tick);
        }
        _ => {}
    }
}

fn alerts(run: &mut Run, event: &Event) {
    match event {
        Event::Acknowledged { alert, occurrence } => {
            let life = run.setup.alert(alert).map(|index| &mut run.state.alerts[index]);
            if let Some(life) = life.filter(|life| life.occurrence == *occurrence) {
                life.acknowledge();
            }
        }
        Event::Silenced {} => run.state.alerts.iter_mut().for_each(|life| life.sounding = false),
        Event::Shelved { alert, until_tick } => {
            if let Some(index) = run.setup.alert(alert) {
                run.state.alerts[index].shelve(*until_tick);
            }
        }
        Event::Unshelved { alert } => {
            if let Some(index) = run.setup.alert(alert) {
                run.state.alerts[index].unshelve();
            }
        }
        _ => {}
    }
}

fn act(run: &mut Run, who: &Who, event: &Event) {
    let Event::ActDone { component, verb, setting, value, remote, busy_until_tick, .. } = event else {
        return;
    };
    if let Some(person) = who.key().and_then(|key| run.state.people.get_mut(&key)) {
        person.busy_until_tick = *busy_until_tick;
    }
    let Some(index) = run.setup.compiled.component(component) else { return };
    let acts = run.setup.compiled.spec.components[index].kind.acts;
    let Some(verb) = verb_of(verb) else { return };
    let found = acts.iter().position(|def| def.verb == verb && def.setting == setting);
    if let Some(act) = found {
        run.plant.act(index, Act { index: act, value: *value, remote: *remote });
        if verb == Verb::Reset {
            run.reset_first_outs(index);
        }
    }
}

fn orders(run: &mut Run, tick: u64, event: &Event) {
    let orders = &mut run.state.orders;
    match event.clone() {
        Event::OrderGiven { number, from, to, text, due_tick, step } => {
            orders.given = number;
            let order =
                Order { number, from, to, text, tick, due_tick, read_back_tick: None, overdue: false };
            orders.open.push(order);
            run.state.steps.extend(step);
        }
        Event::OrderRepeated { number, .. } => {
            if let Some(order) = orders.open.iter_mut().find(|order| order.number == number) {
                order.read_back_tick = Some(tick);
            }
        }
        Event::OrderReported { number, .. } => orders.open.retain(|order| order.number != number),
        _ => {}
    }
}

fn fault(run: &mut Run, tick: u64, event: &Event) {
    let (component, fault, to, ramp_s, pulse, step) = match event {
        Event::FaultSet { component, fault, severity, ramp_s, intermittent, step } => {
            (component, fault, Some(*severity), *ramp_s, *intermittent, step)
        }
        Event::FaultLifted { component, fault, step } => (component, fault, None, 0.0, None, step),
        _ => return,
    };
    run.state.steps.extend(step.clone());
    let Some((owner, index)) = run.setup.fault(component, fault) else { return };
    match pulse {
        Some(pulse) => {
            run.plant.set_intermittent_fault(owner, index, to.unwrap_or(0.0), ramp_s, pulse);
        }
        None => run.plant.set_fault(owner, index, to.unwrap_or(0.0), ramp_s),
    }
    let name = format!("{component}.{fault}");
    match to {
        Some(severity) => {
            run.state.faults.insert(name, FaultNow { severity, set_tick: tick });
        }
        None => {
            run.state.faults.remove(&name);
        }
    }
}

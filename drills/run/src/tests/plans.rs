//! Faults that wait for a condition.

use super::kit::{Scene, ada, bo, instructor};
use crate::checkpoint::still_matters;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::fork::{Change, fork};
use crate::ids::run_id;
use crate::replay::{Until, rebuild, rebuild_from, resume, verify};
use crate::setup::Prepared;
use crate::timeline;
use crate::watch::{LOOK_TICKS, MOST_PLANNED};
use crate::who::Who;

const RUNS: &str = "[pump.running] == \"yes\"";

/// With shore supply on and a seizing pump planned for when it runs.
fn planned() -> Scene {
    let mut scene = Scene::crewed();
    scene.ok(&bo(), "close shore");
    scene.run(12.0);
    scene.ok(&instructor(), &format!("fault pump.stiff 40 % over 2 s when {RUNS}"));
    scene
}

/// The same, and it has struck.
fn struck() -> Scene {
    let mut scene = planned();
    scene.run(3.15);
    scene.ok(&bo(), "start pump");
    scene.run(10.0);
    scene
}

/// Where a fault of the pump was set: the drill itself has one of the tank.
fn set(log: &[Envelope]) -> Vec<&Envelope> {
    let of_pump =
        |e: &&Envelope| matches!(&e.event, Event::FaultSet { component, .. } if component == "pump");
    log.iter().filter(of_pump).collect()
}

#[test]
fn a_planned_fault_strikes_once_when_its_condition_is_true() {
    let mut scene = planned();
    let plan = scene.log.last().unwrap().clone();
    assert_eq!(
        timeline::what(&plan.event),
        format!("plans the fault pump.stiff, 40 % over 2 s, when {RUNS}")
    );
    scene.run(5.0);
    assert_eq!(scene.count("fault-set"), 0, "the pump stands still");
    assert_eq!(scene.recorder.run().state.planned.len(), 1);
    scene.ok(&bo(), "start pump");
    let started = scene.recorder.run().tick();
    scene.run(10.0);
    let [fault] = set(&scene.log)[..] else { panic!("not once") };
    let Event::FaultSet { severity, ramp_s, step, .. } = &fault.event else { unreachable!() };
    assert_eq!((*severity, *ramp_s, step), (0.4, 2.0, &None));
    assert_eq!((&fault.who, fault.cause, fault.chain), (&Who::Drill, Some(plan.seq), plan.chain));
    assert!(fault.tick.is_multiple_of(LOOK_TICKS) && fault.tick <= started + 2 * LOOK_TICKS);
    assert!(scene.recorder.run().state.planned.is_empty());
    // Lifted, it does not come again, though its condition is still true.
    scene.ok(&instructor(), "lift pump.stiff");
    scene.run(5.0);
    assert_eq!(set(&scene.log).len(), 1);
    verify(&scene.log).unwrap();
}

#[test]
fn every_mistake_in_a_condition_is_told_with_its_place() {
    let mut scene = Scene::crewed();
    let line = "fault pump.seized when [pump.runing] == \"yes\" && alert('header.lo')";
    let refusal = scene.no(&instructor(), line, &["bad-condition", "bad-condition"]);
    assert_eq!(
        refusal.to_string(),
        "character 2 of the condition: there is no reading `pump.runing` (did you mean `pump.running`?); \
         character 34 of the condition: there is no alert `header.lo` (did you mean `header.low`?)"
    );
    scene.no(&instructor(), "fault pump.seized when [pump.speed]", &["bad-condition"]);
    scene.no(&instructor(), "fault pump.seized 0 % when time > 3 s", &["value-out-of-range"]);
    scene.no(&ada(), "fault pump.seized when time > 3 s", &["not-your-role"]);
    scene.ok(&instructor(), "fault pump.seized when done(\"pump-on\") && !done(\"aim\")");
}

#[test]
fn a_second_plan_takes_the_place_of_the_first_and_lift_drops_it() {
    let mut scene = planned();
    scene.ok(&instructor(), "fault pump.stiff when time > 1000 s");
    let plan = scene.log.last().unwrap().clone();
    assert_eq!(scene.recorder.run().state.planned["pump.stiff"].when, "time > 1000 s");
    scene.ok(&bo(), "start pump");
    scene.run(3.0);
    assert_eq!(scene.count("fault-set"), 0, "the first is gone");
    // One that is set by hand meanwhile leaves the plan alone; lifting lifts and drops.
    scene.ok(&instructor(), "fault pump.stiff 5 %");
    assert_eq!(scene.log.last().unwrap().cause, None);
    assert_eq!(scene.recorder.run().state.planned.len(), 1);
    let events = scene.ok(&instructor(), "lift pump.stiff");
    let names: Vec<&str> = events.iter().map(Event::name).collect();
    assert_eq!(names, ["fault-lifted", "fault-plan-dropped"]);
    let dropped = scene.log.last().unwrap();
    assert_eq!(dropped.cause, Some(plan.seq));
    assert_eq!(timeline::what(&dropped.event), "drops the planned fault pump.stiff");
    assert!(scene.recorder.run().state.planned.is_empty());
    scene.no(&instructor(), "lift pump.stiff", &["fault-not-set"]);
    verify(&scene.log).unwrap();
}

#[test]
fn so_many_can_be_planned() {
    let mut scene = planned();
    let state = &mut scene.recorder.run_mut().state;
    let plan = state.planned["pump.stiff"].clone();
    // The small ship has fewer faults than can be planned.
    for other in 1..MOST_PLANNED {
        state.planned.insert(format!("other.{other}"), plan.clone());
    }
    let refusal = scene.no(&instructor(), "fault pump.seized when time > 900 s", &["too-many-planned"]);
    assert_eq!(refusal.to_string(), "20 faults are planned already: `lift` drops one");
    scene.ok(&instructor(), "fault pump.stiff when time > 800 s");
    scene.ok(&instructor(), "lift pump.stiff");
    scene.ok(&instructor(), "fault pump.seized when time > 900 s");
}

#[test]
fn a_plan_is_in_the_digest_and_gone_from_it_when_it_is_dropped() {
    let mut scene = Scene::crewed();
    let before = scene.recorder.run().digest();
    scene.ok(&instructor(), "fault pump.stiff when time > 1000 s");
    assert_ne!(scene.recorder.run().digest(), before);
    scene.ok(&instructor(), "lift pump.stiff");
    assert_eq!(scene.recorder.run().digest(), before);
}

#[test]
fn a_log_that_ends_before_the_fault_gets_it_back() {
    let scene = struck();
    let fault = set(&scene.log)[0];
    // At the same look a mark is met and a message is said; writing stopped after the mark.
    let (before, _) = scene.log.split_at(fault.seq as usize - 1);
    let last = before.last().unwrap();
    assert_eq!((last.event.name(), last.tick), ("expectation-met", fault.tick));
    let rebuilt = rebuild(before, Until::End).unwrap();
    let pending = &rebuilt.pending[0];
    assert_eq!((pending.seq, pending.cause, &pending.event), (fault.seq, fault.cause, &fault.event));
    assert_eq!(rebuilt.pending[1].event.name(), "said");
    assert!(rebuilt.recorder.run().state.planned.is_empty(), "it has been applied");
}

#[test]
fn in_a_fork_it_strikes_anew() {
    let scene = struck();
    let tick = scene.recorder.run().tick();
    let (copy, log) = fork(&scene.log, Until::Tick(tick), run_id("copy", 1), &[], &instructor(), "").unwrap();
    let ([first], [again]) = (&set(&scene.log)[..], &set(&log)[..]) else { panic!("not once") };
    assert_eq!((first.tick, &first.event, &first.who), (again.tick, &again.event, &again.who));
    assert_eq!(copy.run().plant.digest(), scene.recorder.run().plant.digest());
    verify(&log).unwrap();
    let start = scene.log.iter().find(|e| timeline::what(&e.event) == "start pump").unwrap();
    let later = Change::Move { seq: start.seq, tick: first.tick + 33 };
    let (_, log) =
        fork(&scene.log, Until::Tick(tick), run_id("copy", 2), &[later], &instructor(), "").unwrap();
    let [later] = set(&log)[..] else { panic!("not once") };
    assert!(later.tick > first.tick + 33);
    verify(&log).unwrap();
    let never = Change::Drop { seq: start.seq };
    let (copy, log) =
        fork(&scene.log, Until::Tick(tick), run_id("copy", 3), &[never], &instructor(), "").unwrap();
    assert_eq!((set(&log).len(), copy.run().state.planned.len()), (0, 1));
}

#[test]
fn in_a_fork_a_fault_and_its_plan_are_lifted_by_one_command_again() {
    let mut scene = planned();
    scene.ok(&instructor(), "fault pump.stiff 5 %");
    scene.ok(&instructor(), "lift pump.stiff");
    scene.ok(&bo(), "say done");
    let said = Change::Drop { seq: scene.find("said").seq };
    let (copy, log) = fork(&scene.log, Until::End, run_id("copy", 4), &[said], &instructor(), "").unwrap();
    assert!(log.iter().all(|e| e.event.name() != "act-refused"));
    assert!(copy.run().state.planned.is_empty() && copy.run().state.faults.is_empty());
}

#[test]
fn a_plan_waits_on_behind_a_checkpoint() {
    let mut scene = planned();
    let bytes = loop {
        scene.run(0.05);
        if let Some(bytes) = scene.recorder.checkpoint(scene.log.last().unwrap()) {
            break bytes;
        }
    };
    let at_checkpoint = scene.log.len();
    scene.ok(&bo(), "start pump");
    scene.run(10.0);
    assert_eq!(scene.count("fault-set"), 1);
    let whole = rebuild(&scene.log, Until::End).unwrap();
    let fast = rebuild_from(&scene.log, &bytes).unwrap();
    assert!(whole.difference.is_none() && fast.difference.is_none());
    assert_eq!(fast.recorder.run().digest(), whole.recorder.run().digest());
    // Going on from the checkpoint alone gives the same events, with the same cause.
    let Event::RunOpened(opening) = &scene.log[0].event else { panic!("no opening") };
    let prepared = Prepared::new(opening.as_ref().clone()).unwrap();
    let (before, after) = scene.log.split_at(at_checkpoint);
    let last = before.last().unwrap();
    let few: Vec<Envelope> =
        before.iter().filter(|e| e.seq == last.seq || still_matters(&e.encode())).cloned().collect();
    let started = &after[..1];
    assert_eq!(started[0].event.name(), "act-done");
    let mut resumed = resume(&prepared, &few, &bytes, started).unwrap().unwrap().recorder;
    let mut log = started.to_vec();
    for _ in 0..200 {
        log.extend(resumed.tick(&last.at));
    }
    let plain = |log: &[Envelope]| -> Vec<_> {
        log.iter().map(|e| (e.seq, e.tick, e.cause, e.chain, e.event.clone())).collect()
    };
    assert_eq!(plain(&log), plain(after));
}

#[test]
fn a_condition_that_cannot_be_read_any_more_is_said_once() {
    let mut scene = planned();
    let run = scene.recorder.run_mut();
    run.state.planned.get_mut("pump.stiff").unwrap().when = "[pump.sped] > 3 rpm".to_owned();
    run.conditions.clear();
    scene.run(3.0);
    assert_eq!(scene.count("step-failed"), 1);
    let failed = scene.find("step-failed");
    assert_eq!(failed.who, Who::Drill);
    assert_eq!(
        timeline::what(&failed.event),
        "cannot be stepped: drill, plan/pump.stiff: there is no reading `pump.sped`"
    );
    scene.ok(&instructor(), "fault pump.stiff when time > 1 s");
    scene.run(1.0);
    assert_eq!(scene.count("fault-set"), 1, "planned anew it is looked at again");
}

//! Measures of whole runs of the library, of a small ship worked by hand, and of events put together for it.

use super::{MeasureInput, Measures, Reached, StartEnd, acts};
use crate::crew::Crew;
use crate::envelope::Envelope;
use crate::event::{Event, Reason};
use crate::ids::run_id;
use crate::library::Library;
use crate::recorder::Recorder;
use crate::tests::kit::{Scene, ada, bo, instructor};
use crate::who::{Role, Who};
use deadship_plant::spec::Priority;

const AT: &str = "2026-01-01T00:00:00Z";

/// The log of a drill of the library, worked by the robot crew.
fn rehearsed(drill: &str, procedure: &str) -> Vec<Envelope> {
    let opening = Library::built_in().opening(drill, None).unwrap();
    let id = run_id(&opening.drill, opening.seed);
    let (mut recorder, mut log) =
        Recorder::open(id, opening, &Who::person("test", Role::Instructor), AT).unwrap();
    let mut crew = Crew::new(&recorder.run().setup, Some(procedure)).unwrap();
    while recorder.run().goes() {
        log.extend(crew.act(&mut recorder, AT));
        log.extend(recorder.tick(AT));
    }
    log
}

#[test]
fn the_expert_on_the_first_drill() {
    let log = rehearsed("first-light", "first-light");
    let measures = Measures::of(&MeasureInput::replayed(&log));
    insta::assert_snapshot!(measures.to_text());
    assert_eq!(measures.not_computed, Vec::<String>::new());
    let blackout = measures.get("blackout-time").unwrap();
    let generator = measures.get("first-generator").unwrap();
    // The run begins dead, and the first generator ends it: two ways to the same instant.
    assert_eq!((blackout.value, blackout.tick), (generator.value, generator.tick));
    let back: Measures = serde_json::from_str(&measures.to_json()).unwrap();
    assert_eq!(back, measures);
}

#[test]
fn the_crew_that_forgets_the_pump() {
    let log = rehearsed("first-light", "first-light-pump-forgotten");
    let measures = Measures::of(&MeasureInput::replayed(&log));
    insta::assert_snapshot!(measures.to_text());
    assert_eq!(measures.get("sea-water-back").unwrap().reached, Reached::NotReached);
    let missing = &measures.restart.by_procedure.as_ref().unwrap().items;
    let missing: Vec<&str> =
        missing.iter().filter(|item| item.tick.is_none()).map(|item| item.name.as_str()).collect();
    assert_eq!(missing, ["start sea.pump.1", "start sea.pump.harbour"]);
}

#[test]
fn the_expert_on_the_second_drill() {
    let log = rehearsed("vacuum-lost", "vacuum-lost");
    let measures = Measures::of(&MeasureInput::replayed(&log));
    insta::assert_snapshot!(measures.to_text());
    // The drill has marks for three of these: measured here from the plant, there by its own conditions twice a second.
    for (name, mark) in
        [("emergency-power", "emergency-power"), ("first-generator", "first-set-on-the-board")]
    {
        let measure = measures.get(name).unwrap();
        let met = log
            .iter()
            .find(|envelope| matches!(&envelope.event, Event::ExpectationMet { name, .. } if name == mark));
        let (measured, marked) = (measure.tick.unwrap(), met.unwrap().tick);
        assert!(marked.abs_diff(measured) <= 20, "{name}: {measured} and {marked}");
    }
}

#[test]
fn without_a_replay_it_is_said_what_is_missing() {
    let opening = Library::built_in().opening("first-light", None).unwrap();
    let (_, log) = Recorder::open(run_id("x", 1), opening, &instructor(), AT).unwrap();
    let measures = Measures::of(&MeasureInput::of_log(&log));
    assert_eq!(measures.get("blackout-time").unwrap().reached, Reached::NotComputed);
    assert_eq!(measures.get("first-generator").unwrap().reached, Reached::NotReached);
    assert!(measures.not_computed[0].contains("not replayed"), "{:?}", measures.not_computed);
    let measures = Measures::of(&MeasureInput::replayed(&[]));
    assert!(measures.not_computed[0].contains("empty"), "{:?}", measures.not_computed);
}

#[test]
fn a_record_of_another_model_says_so() {
    let mut scene = Scene::crewed();
    scene.ok(&bo(), "close shore");
    scene.run(30.0);
    let digest = scene.log.iter_mut().rev().find(|envelope| matches!(envelope.event, Event::Digest { .. }));
    digest.unwrap().event = Event::Digest { digest: "0".repeat(16) };
    let measures = Measures::of(&MeasureInput::replayed(&scene.log));
    assert!(measures.not_computed[0].contains("cannot replay"), "{:?}", measures.not_computed);
    assert_eq!(measures.get("sea-water-back").unwrap().reached, Reached::NotComputed);
    let measures = Measures::of(&MeasureInput::of_log(&scene.log));
    assert_eq!(measures.get("blackout-time").unwrap().reached, Reached::Nothing);
}

#[test]
fn orders_acknowledgements_and_a_cured_fault() {
    let mut scene = Scene::crewed();
    scene.ok(&bo(), "close shore");
    scene.ok(&bo(), "order pumps within 1 min: stand by the valve");
    scene.run(15.0);
    scene.ok(&ada(), "repeat 1");
    scene.ok(&bo(), "start pump");
    scene.run(10.0);
    scene.ok(&ada(), "report 1");
    scene.ok(&bo(), "order pumps: open the header valve");
    scene.ok(&instructor(), "fault pump.seized");
    scene.run(20.0);
    scene.ok(&bo(), "ack all");
    scene.run(5.0);
    scene.ok(&bo(), "say the pump motor has tripped");
    scene.ok(&instructor(), "lift pump.seized");
    scene.run(600.0);
    scene.ok(&ada(), "reset pump");
    scene.run(6.0);
    scene.ok(&bo(), "start pump");
    scene.run(10.0);
    scene.ok(&instructor(), "end");
    let measures = Measures::of(&MeasureInput::replayed(&scene.log));
    insta::assert_snapshot!(measures.to_text());
    assert_eq!(measures.get("orders-closed").unwrap().value, Some(50.0));
    let times = &measures.faults[0];
    let order = [&times.sign, &times.noticed, &times.reported, &times.acted, &times.cured];
    let ticks: Vec<u64> = order.iter().map(|point| point.as_ref().unwrap().tick).collect();
    assert!(ticks.is_sorted(), "{ticks:?}");
    assert_eq!(times.reported.as_ref().unwrap().seq, times.diagnosed.as_ref().unwrap().seq);
}

/// A log of these events, one a second, by Ada.
fn log_of(events: Vec<Event>) -> Vec<Envelope> {
    let first = Scene::new().log[0].clone();
    let mut log = vec![first.clone()];
    for (i, event) in events.into_iter().enumerate() {
        let who = if event.is_finding() { Who::Plant } else { ada() };
        let (seq, tick, kind) = (i as u64 + 2, 20 * (i as u64 + 1), event.kind());
        log.push(Envelope { seq, tick, kind, who, event, ..first.clone() });
    }
    log
}

fn found(component: &str, code: &str) -> Event {
    Event::Found {
        component: component.to_owned(),
        code: code.to_owned(),
        text: format!("says {code}"),
        measured: 0.0,
        limit: 0.0,
        since_tick: 0,
    }
}

fn act(component: &str, verb: &str) -> Event {
    Event::ActDone {
        component: component.to_owned(),
        verb: verb.to_owned(),
        setting: String::new(),
        value: 0.0,
        shown: String::new(),
        remote: false,
        busy_until_tick: 0,
    }
}

#[test]
fn a_crank_that_fires_and_runs_is_no_waste() {
    let events = [
        ("one", "cranking"),
        ("two", "cranking-electric"),
        ("one", "cranking"),
        ("one", "fired"),
        ("one", "started"),
        ("two", "fired"),
        ("two", "shutdown-lube-pressure"),
        ("one", "stopped"),
        ("one", "cranking"),
        ("one", "blown-through"),
        ("one", "cranking"),
    ];
    let log = log_of(events.iter().map(|(component, code)| found(component, code)).collect());
    let ends: Vec<(String, StartEnd)> =
        acts::starts(&log).into_iter().map(|start| (start.component, start.end)).collect();
    let wanted = [
        ("one", StartEnd::Wasted),
        ("two", StartEnd::Wasted),
        ("one", StartEnd::Ran),
        ("one", StartEnd::BlownThrough),
        ("one", StartEnd::Open),
    ];
    assert_eq!(ends, wanted.map(|(component, end)| (component.to_owned(), end)));
}

#[test]
fn unsafe_acts_are_found_with_who_did_them() {
    let log = log_of(vec![
        act("breaker", "close"),
        found("breaker", "closed-out-of-phase"),
        Event::ActRefused {
            command: "start engine".to_owned(),
            reasons: vec![Reason::new("not-primed", "no oil"), Reason::new("not-here", "elsewhere")],
        },
        found("breaker", "closed"),
        found("engine", "loaded-cold"),
    ]);
    let acts = acts::unsafe_acts(&MeasureInput::of_log(&log));
    let told: Vec<(&str, &str, &[u64])> =
        acts.iter().map(|act| (act.name.as_str(), act.who.as_str(), act.seqs.as_slice())).collect();
    assert_eq!(
        told,
        [
            ("closed-out-of-step", "Ada", &[2, 3][..]),
            ("start-without-priming", "Ada", &[4][..]),
            ("loaded-cold", "plant", &[6][..]),
        ]
    );
}

fn raised(alert: &str, occurrence: u64) -> Event {
    Event::AlertRaised {
        alert: alert.to_owned(),
        occurrence,
        priority: Priority::Warning,
        text: alert.to_owned(),
        reading: "pump.speed".to_owned(),
        measured: 0.0,
        limit: 0.0,
        shown: String::new(),
        since_tick: 0,
        hidden: None,
    }
}

fn acknowledged(alert: &str, occurrence: u64) -> Event {
    Event::Acknowledged { alert: alert.to_owned(), occurrence }
}

#[test]
fn acknowledging_is_not_curing() {
    let ignored = vec![raised("pump.off", 9), acknowledged("pump.off", 9), found("pump", "tripped-overload")];
    let acts = acts::unsafe_acts(&MeasureInput::of_log(&log_of(ignored)));
    assert_eq!((acts[0].name.as_str(), acts[0].seqs.as_slice()), ("acknowledged-not-cured", &[3, 4][..]));
    let mut worked = vec![raised("pump.off", 9), acknowledged("pump.off", 9), act("pump", "stop")];
    worked.push(found("pump", "tripped-overload"));
    assert_eq!(acts::unsafe_acts(&MeasureInput::of_log(&log_of(worked))), []);
    let gone = Event::AlertCleared {
        alert: "pump.off".to_owned(),
        occurrence: 9,
        measured: 0.0,
        limit: 0.0,
        hidden: None,
    };
    let cleared =
        vec![raised("pump.off", 9), acknowledged("pump.off", 9), gone, found("pump", "tripped-overload")];
    assert_eq!(acts::unsafe_acts(&MeasureInput::of_log(&log_of(cleared))), []);
}

#[test]
fn three_in_a_minute_chatter_and_a_flood_is_counted() {
    let mut events: Vec<Event> = (0..3).map(|i| raised("pump.off", i)).collect();
    events.extend((3..12).map(|i| raised(&format!("other.{i}"), i)));
    events.push(Event::FloodBegan { count: 11 });
    events.extend(std::iter::repeat_n(Event::Silenced {}, 12));
    events.push(Event::FloodEnded { began_tick: 260 });
    let measures = Measures::of(&MeasureInput::of_log(&log_of(events)));
    let value = |name: &str| measures.get(name).unwrap().value.unwrap();
    assert_eq!(measures.alerts.chattering.len(), 1);
    assert_eq!(measures.alerts.chattering[0].seq, 2);
    assert_eq!(value("alert-peak"), 12.0);
    // Twelve alerts in 26 s: 12 × 600 / 26. The flood from 13 s to 26 s is half of it.
    assert_eq!(value("alert-average"), 276.92);
    assert_eq!(value("alert-flood-share"), 50.0);
    assert_eq!((value("warning-share"), value("alarm-share")), (100.0, 0.0));
    assert_eq!(value("unanswered-alerts"), 12.0);
}

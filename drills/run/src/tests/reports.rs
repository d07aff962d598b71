//! What people read.

use super::kit::{Scene, ada, bo, instructor};
use crate::crew::Crew;
use crate::debrief::{Debrief, Outcome};
use crate::event::Event;
use crate::timeline;

/// A run with a trip, a refusal, orders, and a fault that is lifted.
fn told() -> Scene {
    let mut scene = Scene::crewed();
    scene.ok(&bo(), "say to pumps: stand by the valve");
    scene.ok(&bo(), "close shore");
    scene.ok(&ada(), "say ready");
    scene.no(&ada(), "close shore", &["not-here"]);
    scene.run(15.0);
    scene.ok(&bo(), "start pump");
    scene.run(5.0);
    scene.ok(&bo(), "ack all");
    scene.ok(&instructor(), "fault pump.seized");
    scene.run(40.0);
    scene.ok(&instructor(), "lift pump.seized");
    scene.no(&ada(), "reset pump", &["relay-hot"]);
    scene.ok(&ada(), "open header.valve");
    scene.run(90.0);
    scene.ok(&instructor(), "note they lost sight of the tank");
    scene.ok(&instructor(), "end");
    scene
}

#[test]
fn the_timeline_in_lines() {
    let scene = told();
    let lines: Vec<String> =
        scene.log.iter().filter(|e| e.event.name() != "digest").map(timeline::line).collect();
    insta::assert_snapshot!(lines.join("\n"));
}

#[test]
fn the_report_as_text() {
    let report = Debrief::of(&told().log);
    assert!(report.to_text().lines().count() <= 30);
    insta::assert_snapshot!(report.to_text());
}

#[test]
fn the_report_as_json_comes_back() {
    let report = Debrief::of(&told().log);
    let back: Debrief = serde_json::from_str(&report.to_json()).unwrap();
    assert_eq!(back, report);
    assert_eq!(report.trips.len(), 1);
    assert_eq!(report.faults[0].name, "pump.seized");
    assert!(report.faults[0].lifted_tick.is_some());
    assert_eq!(report.marks[0].outcome, Outcome::Met);
}

#[test]
fn the_procedure_can_be_read() {
    let scene = Scene::new();
    insta::assert_snapshot!(scene.recorder.run().setup.procedures[0].to_text());
}

#[test]
fn the_brief_has_the_safety_words() {
    let scene = Scene::new();
    let brief = scene.recorder.run().setup.drill.full_brief();
    assert!(brief.contains("lock out, test dead") && brief.contains("not for use on board"));
}

#[test]
fn every_event_has_a_line() {
    let mut scene = Scene::new();
    let mut crew = Crew::new(&scene.recorder.run().setup.clone(), None).unwrap();
    for _ in 0..2000 {
        let acts = crew.act(&mut scene.recorder, "");
        scene.log.extend(acts);
        scene.run(0.05);
    }
    for envelope in &scene.log {
        assert!(!timeline::what(&envelope.event).is_empty(), "{:?}", envelope.event);
    }
    let refused = Event::Silenced {};
    assert_eq!(timeline::what(&refused), "silences the alerts");
    assert_eq!(timeline::clock(15_090), "12:34.5");
}

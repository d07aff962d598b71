//! Every refusal of the rules, and that nothing changes by it.

use super::kit::{Scene, ada, bo, instructor};
use crate::command::Command;
use crate::who::{Role, Who};

#[test]
fn a_refusal_changes_nothing_but_the_log() {
    let mut scene = Scene::crewed();
    let before = scene.recorder.run().digest();
    scene.no(&ada(), "close shore", &["not-here"]);
    assert_eq!(scene.recorder.run().digest(), before);
}

#[test]
fn stations() {
    let mut scene = Scene::new();
    scene.no(&ada(), "open header.valve", &["no-station"]);
    scene.no(&ada(), "leave", &["no-station"]);
    scene.no(&ada(), "station bridge", &["unknown-station"]);
    scene.ok(&ada(), "station pumps");
    scene.no(&ada(), "station boards", &["has-station"]);
    let refusal = scene.no(&bo(), "station pumps", &["station-taken"]);
    assert_eq!(refusal.to_string(), "pumps is held by Ada (pumps)");
    scene.ok(&ada(), "leave");
    scene.ok(&bo(), "station pumps");
    let unknown = Command::Say { to: Some("mast".to_owned()), text: "hello".to_owned() };
    assert!(scene.command(&bo(), &unknown).refusal.unwrap().has("unknown-station"));
}

#[test]
fn places_and_hands() {
    let mut scene = Scene::crewed();
    scene.no(&ada(), "go pump-room", &["already-there"]);
    scene.no(&ada(), "go ashore", &["no-way"]);
    let nowhere = Command::Go { place: "moon".to_owned() };
    assert!(scene.command(&ada(), &nowhere).refusal.unwrap().has("unknown-place"));
    scene.no(&instructor(), "go deck", &["no-station"]);
    scene.ok(&ada(), "open header.valve");
    assert_eq!(
        scene.no(&ada(), "close header.valve", &["busy"]).to_string(),
        "your hands are busy for 15 s more"
    );
    scene.no(&ada(), "go deck", &["busy"]);
    scene.run(15.0);
    scene.ok(&ada(), "go deck");
    let refusal = scene.no(&ada(), "close header.valve", &["walking"]);
    assert_eq!(refusal.to_string(), "you are walking to deck, 20 s more");
    scene.run(20.0);
    let refusal = scene.no(&ada(), "close header.valve", &["not-here"]);
    assert_eq!(refusal.to_string(), "header.valve is worked at pump-room; you are at deck");
}

#[test]
fn names_and_values() {
    let mut scene = Scene::crewed();
    let act = |component: &str, verb, setting: &str, value| Command::Act {
        component: component.to_owned(),
        verb,
        setting: setting.to_owned(),
        value,
    };
    use deadship_plant::kind::Verb;
    let mut refused = |command: Command, code: &str| {
        let refusal = scene.command(&ada(), &command).refusal.unwrap();
        assert!(refusal.has(code), "{command:?}: {refusal}");
    };
    refused(act("header.valv", Verb::Open, "", 0.0), "unknown-component");
    refused(act("header.valve", Verb::Start, "", 0.0), "unknown-act");
    refused(act("header.valve", Verb::Set, "colour", 0.0), "unknown-act");
    refused(act("header.valve", Verb::Set, "position", 1.5), "value-out-of-range");
    refused(act("header.valve", Verb::Set, "position", f64::NAN), "value-out-of-range");
    refused(act("pump", Verb::Set, "control", 2.0), "value-out-of-range");
    refused(act("pump", Verb::Set, "control", 0.5), "value-out-of-range");
}

#[test]
fn the_plant_has_its_own_reasons() {
    let mut scene = Scene::crewed();
    scene.no(&bo(), "start pump", &["no-supply"]);
    scene.ok(&instructor(), "fault header.valve.stuck");
    scene.run(0.1);
    scene.no(&ada(), "open header.valve", &["stuck"]);
}

#[test]
fn alerts() {
    let mut scene = Scene::crewed();
    scene.no(&ada(), "ack 99", &["unknown-alert"]);
    scene.ok(&ada(), "silence");
    scene.no(&ada(), "silence", &["nothing-sounds"]);
    scene.ok(&ada(), "ack 1");
    scene.no(&ada(), "ack 1", &["nothing-to-acknowledge"]);
    scene.no(&ada(), "ack all", &["nothing-to-acknowledge"]);
    scene.no(&ada(), "unshelve header.low", &["not-shelved"]);
    scene.ok(&ada(), "shelve header.low");
    scene.no(&ada(), "shelve header.low", &["already-shelved"]);
    scene.no(&ada(), "shelve pump.off for 9 h", &["value-out-of-range"]);
    scene.no(&ada(), "shelve pump.off for 0 s", &["value-out-of-range"]);
    let unknown = Command::Shelve { alert: "header.lo".to_owned(), for_s: None };
    assert!(scene.command(&ada(), &unknown).refusal.unwrap().has("unknown-alert"));
}

#[test]
fn roles() {
    let mut scene = Scene::crewed();
    let (observer, facilitator) =
        (Who::person("Olga", Role::Observer), Who::person("Fay", Role::Facilitator));
    for line in ["hold", "end", "fault pump.seized", "note hm"] {
        scene.no(&ada(), line, &["not-your-role"]);
    }
    scene.no(&observer, "say hello", &["not-your-role"]);
    scene.no(&facilitator, "open header.valve", &["not-your-role"]);
    scene.ok(&facilitator, "note they were quick");
    scene.ok(&instructor(), "open header.valve");
    let nameless = Who::person("", Role::Trainee);
    scene.no(&nameless, "station pumps", &["bad-name"]);
    scene.no(&Who::person("robot/pumps", Role::Trainee), "leave", &["bad-name"]);
}

#[test]
fn what_the_instructor_cannot_do() {
    let mut scene = Scene::new();
    scene.no(&instructor(), "resume", &["not-on-hold"]);
    scene.no(&instructor(), "lift pump.seized", &["fault-not-set"]);
    scene.no(&instructor(), "fault pump.seized 0 %", &["value-out-of-range"]);
    scene.no(&instructor(), "fault pump.seized over 100 h", &["value-out-of-range"]);
    scene.no(&instructor(), "fault pump.seized every 10 s for 10 s", &["value-out-of-range"]);
    scene.no(&instructor(), "speed 100", &["value-out-of-range"]);
    scene.no(&instructor(), "speed 1", &["already-at-speed"]);
    let unknown = Command::LiftFault { component: "pump".to_owned(), fault: "gone".to_owned() };
    assert!(scene.command(&instructor(), &unknown).refusal.unwrap().has("unknown-fault"));
    scene.ok(&instructor(), "hold");
    scene.no(&instructor(), "hold", &["already-on-hold"]);
}

#[test]
fn texts_and_steps() {
    let mut scene = Scene::crewed();
    let long = Command::Say { to: None, text: "x".repeat(501) };
    assert!(scene.command(&ada(), &long).refusal.unwrap().has("text-length"));
    let empty = Command::Say { to: None, text: "  ".to_owned() };
    assert!(scene.command(&ada(), &empty).refusal.unwrap().has("text-length"));
    scene.ok(&ada(), "tick supply");
    scene.no(&ada(), "tick supply", &["already-ticked"]);
    let unknown = Command::TickOff { procedure: String::new(), step: "suply".to_owned(), done: true };
    assert!(scene.command(&ada(), &unknown).refusal.unwrap().has("unknown-step"));
}

#[test]
fn on_hold_and_over() {
    let mut scene = Scene::crewed();
    scene.ok(&instructor(), "hold");
    for line in ["open header.valve", "go deck", "ack all", "silence"] {
        scene.no(&ada(), line, &["on-hold"]);
    }
    scene.ok(&ada(), "say we wait");
    let tick = scene.recorder.run().tick();
    scene.run(1.0);
    assert_eq!(scene.recorder.run().tick(), tick, "a run on hold does not step");
    scene.ok(&instructor(), "resume");
    scene.run(1.0);
    assert_eq!(scene.recorder.run().tick(), tick + 20);
    scene.ok(&instructor(), "end");
    scene.no(&ada(), "open header.valve", &["run-ended"]);
    scene.no(&instructor(), "resume", &["run-ended"]);
    scene.ok(&instructor(), "note well done");
}

#[test]
fn a_plant_that_failed_is_not_resumed() {
    let mut scene = Scene::new();
    let mut run = scene.recorder.run().clone();
    run.state.failed = Some("the liquid net".to_owned());
    run.state.hold = Some("the plant cannot be stepped on".to_owned());
    let refusal = crate::decide(&run, &instructor(), &Command::Resume {}).unwrap_err();
    assert!(refusal.has("run-failed"));
    scene.run(0.1);
}

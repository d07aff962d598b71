//! Runs from beginning to end.

use super::kit::{DRILL, PROCEDURE, Scene, ada, bo, instructor, opening, opening_with};
use crate::crew::Crew;
use crate::event::Event;
use crate::ids::{event_id, run_id};
use crate::who::{Role, Who};
use crate::words::Question;
use uuid::Uuid;

#[test]
fn the_log_begins_with_the_opening_and_what_stands() {
    let scene = Scene::new();
    assert!(matches!(scene.log[0].event, Event::RunOpened(_)));
    assert_eq!(scene.log[1].event.name(), "alert-raised", "the pump stands still from the start");
    assert_eq!(scene.log[1].tick, 0);
    for (seq, envelope) in (1..).zip(&scene.log) {
        assert_eq!((envelope.seq, envelope.event_id), (seq, event_id(envelope.run, seq)));
    }
}

#[test]
fn an_act_takes_effect_at_once_and_the_hand_is_busy_afterwards() {
    let mut scene = Scene::crewed();
    let events = scene.ok(&ada(), "open header.valve");
    let Event::ActDone { remote, busy_until_tick, .. } = &events[0] else { panic!("{events:?}") };
    assert_eq!((*remote, *busy_until_tick), (false, 300));
    scene.run(8.5);
    assert_eq!(
        scene.ask(&ada(), Question::Read("header.valve.position".to_owned())),
        ["header.valve.position 100.0 %"]
    );
}

#[test]
fn from_the_panel_or_at_the_place() {
    let mut scene = Scene::crewed();
    scene.ok(&bo(), "close shore");
    scene.run(15.0);
    let events = scene.ok(&bo(), "start pump");
    assert!(matches!(&events[0], Event::ActDone { remote: true, .. }), "{events:?}");
}

#[test]
fn what_is_seen_depends_on_where_one_stands() {
    let mut scene = Scene::crewed();
    let read = |scene: &Scene, who: &Who, name: &str| scene.ask(who, Question::Read(name.to_owned()));
    assert_eq!(
        read(&scene, &bo(), "header.tank"),
        ["header.tank.level 50.0 %", "header.tank.shown-volume 1000 L"]
    );
    assert_eq!(read(&scene, &ada(), "header.tank"), ["header.tank cannot be read from where you are"]);
    assert_eq!(read(&scene, &instructor(), "header.tank.spilled"), ["header.tank.spilled 0 L"]);
    assert_eq!(
        read(&scene, &ada(), "header.tnk"),
        ["there is no header.tnk to read (did you mean header.tank?)"]
    );
    scene.ok(&ada(), "go deck");
    assert_eq!(read(&scene, &ada(), "header.valve"), ["header.valve cannot be read from where you are"]);
    scene.run(20.0);
    assert!(read(&scene, &ada(), "header.tank").contains(&"header.tank.volume 1000 L".to_owned()));
    assert_eq!(scene.ask(&ada(), Question::Look(None))[0], "Deck:");
    let observer = Who::person("Olga", Role::Observer);
    assert_eq!(
        read(&scene, &observer, "header.tank.spilled"),
        ["header.tank.spilled cannot be read from where you are"]
    );
    assert_eq!(scene.ask(&bo(), Question::Who)[0], "Ada (pumps): at deck");
}

#[test]
fn a_command_given_twice_is_done_once() {
    let mut scene = Scene::crewed();
    let command = crate::Command::Go { place: "deck".to_owned() };
    let id = Some(Uuid::from_u128(1));
    let first = scene.recorder.command(&command, &ada(), id, "");
    let last_seq = scene.recorder.run().last_seq;
    let again = scene.recorder.command(&command, &ada(), id, "");
    assert!(again.repeated && !first.repeated);
    assert_eq!((again.envelopes, again.refusal), (first.envelopes, first.refusal));
    assert_eq!(scene.recorder.run().last_seq, last_seq);
    let refused = Some(Uuid::from_u128(2));
    let first = scene.recorder.command(&command, &ada(), refused, "");
    let again = scene.recorder.command(&command, &ada(), refused, "");
    assert!(first.refusal.is_some());
    assert_eq!(again.refusal, first.refusal);
}

#[test]
fn the_drill_keeps_its_schedule() {
    let mut scene = Scene::crewed();
    scene.run(40.0);
    let said = scene.find("said");
    assert_eq!((said.tick, &said.who), (100, &Who::Drill));
    let fault = scene.find("fault-set");
    assert_eq!((fault.tick, &fault.who), (600, &Who::Drill));
    assert_eq!(scene.count("fault-set"), 1, "a fault strikes once");
    assert_eq!(scene.count("digest"), 8);
}

#[test]
fn causes_and_chains() {
    let mut scene = Scene::crewed();
    scene.ok(&ada(), "ack 1");
    let raised = scene.find("alert-raised").clone();
    let acknowledged = scene.find("acknowledged");
    assert_eq!(acknowledged.cause, Some(raised.seq));
    scene.ok(&instructor(), "fault pump.seized");
    scene.ok(&instructor(), "lift pump.seized");
    let (set, lifted) = (scene.find("fault-set").clone(), scene.find("fault-lifted"));
    assert_eq!(lifted.cause, Some(set.seq));
    assert_ne!(lifted.chain, set.chain, "a command begins its own chain");
}

#[test]
fn an_intermittent_fault_comes_and_goes() {
    let mut scene = Scene::crewed();
    scene.ok(&instructor(), "fault pump.stiff 60 % every 4 s for 1 s");
    let mut seen = Vec::new();
    for _ in 0..8 {
        scene.run(0.5);
        let run = scene.recorder.run();
        let (component, fault) = run.setup.fault("pump", "stiff").unwrap();
        seen.push(run.plant.fault(component, fault));
    }
    assert_eq!(seen, [0.6, 0.6, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]);
    scene.run(0.5);
    let (component, fault) = scene.recorder.run().setup.fault("pump", "stiff").unwrap();
    assert_eq!(scene.recorder.run().plant.fault(component, fault), 0.6, "it comes again");
    scene.ok(&instructor(), "lift pump.stiff");
    scene.run(5.0);
    assert_eq!(scene.recorder.run().plant.fault(component, fault), 0.0);
}

#[test]
fn a_robot_goes_by_what_it_can_see_where_it_stands() {
    // The shaft turns in the pump room; the one who started the pump stands in the control room.
    let procedure =
        PROCEDURE.replace("until = '[pump.running] == \"yes\"'", "until = '[pump.speed] > 1000 rpm'");
    let mut scene = Scene::of(opening_with(DRILL, &[&procedure]));
    let mut crew = Crew::new(&scene.recorder.run().setup.clone(), None).unwrap();
    for _ in 0..2_400 {
        let acts = crew.act(&mut scene.recorder, "");
        scene.log.extend(acts);
        scene.run(0.05);
    }
    let given_up: Vec<&str> = crew.given_up().iter().map(|step| step.why.as_str()).collect();
    let why = "waited 60 s for [pump.speed] > 1000 rpm, and cannot see pump.speed from where it stands";
    assert_eq!(given_up, [why]);
}

#[test]
fn the_robot_crew_reaches_the_aim() {
    let mut scene = Scene::new();
    let mut crew = Crew::new(&scene.recorder.run().setup.clone(), None).unwrap();
    while scene.recorder.run().goes() {
        let acts = crew.act(&mut scene.recorder, "");
        scene.log.extend(acts);
        scene.run(0.05);
    }
    assert_eq!(crew.given_up(), []);
    assert!(crew.finished(scene.recorder.run()));
    assert_eq!(scene.recorder.run().state.ended.as_deref(), Some("the aim is reached"));
    assert_eq!(scene.count("aim-reached"), 1);
    assert_eq!(scene.count("expectation-met"), 1);
    assert_eq!(scene.count("expectation-missed"), 1, "nobody shuts the valve");
    assert_eq!(scene.count("step-ticked"), 3);
}

#[test]
fn an_idle_crew_is_still_there_when_time_is_up() {
    let mut scene = Scene::new();
    scene.run(1300.0);
    assert_eq!(scene.recorder.run().state.ended.as_deref(), Some("time is up"));
    assert_eq!(scene.find("run-ended").tick, 24_000);
}

#[test]
fn a_crew_made_anew_goes_on_where_the_old_one_was() {
    let mut scene = Scene::new();
    let setup = scene.recorder.run().setup.clone();
    let mut crew = Crew::new(&setup, None).unwrap();
    for second in 0..200 {
        if second == 20 {
            crew = Crew::new(&setup, Some("small-book")).unwrap();
        }
        for _ in 0..20 {
            let acts = crew.act(&mut scene.recorder, "");
            scene.log.extend(acts);
            scene.run(0.05);
        }
    }
    assert!(crew.finished(scene.recorder.run()));
    assert!(Crew::new(&setup, Some("none")).is_err());
}

#[test]
fn a_robot_gives_up_what_stays_refused() {
    let mut opening = opening();
    opening.procedures[0].text =
        opening.procedures[0].text.replace("\"read shore\", \"close shore\"", "\"start pump\"");
    opening.procedures[0].text =
        opening.procedures[0].text.replace("[procedure]", "[procedure]\nretries = 2");
    let mut scene = Scene::of(opening);
    let mut crew = Crew::new(&scene.recorder.run().setup.clone(), None).unwrap();
    for _ in 0..1000 {
        let acts = crew.act(&mut scene.recorder, "");
        scene.log.extend(acts);
        scene.run(0.05);
    }
    assert_eq!(crew.given_up()[0].step, "supply");
    assert_eq!(crew.given_up()[0].why, "refused 3 times: start pump");
    assert!(scene.recorder.run().state.ticked.get("small-book/supply").is_some_and(|(_, done)| !done));
}

#[test]
fn after_a_crash_the_run_is_on_hold() {
    let mut scene = Scene::new();
    assert_eq!(scene.recorder.hold("the server was restarted", "").len(), 1);
    assert_eq!(scene.recorder.hold("again", "").len(), 0);
    assert!(!scene.recorder.run().goes());
    assert_eq!(run_id("small", 7), scene.recorder.run().id);
}

#[test]
fn a_robot_leaves_its_seat_to_a_person_and_comes_back_for_what_is_not_done() {
    let mut scene = Scene::new();
    let mut crew = Crew::new(&scene.recorder.run().setup, None).unwrap();
    let work = |scene: &mut Scene, crew: &mut Crew, ticks: u64| {
        for _ in 0..ticks {
            let done = crew.act(&mut scene.recorder, "");
            scene.log.extend(done);
            let found = scene.recorder.tick("");
            scene.log.extend(found);
        }
    };
    work(&mut scene, &mut crew, 20);
    let robot = Who::Robot { station: "boards".to_owned() };
    let seated = |scene: &Scene| scene.recorder.run().person(&robot).unwrap().station.is_some();
    assert!(seated(&scene));
    // The one seat at the boards is the robot's, and given up at once to Bo.
    scene.ok(&bo(), "station boards");
    work(&mut scene, &mut crew, 1_200);
    assert!(!seated(&scene));
    let acts = |scene: &Scene| {
        let by_robot = |event: &&crate::Envelope| event.who == robot && event.event.name() == "act-done";
        scene.log.iter().filter(by_robot).count()
    };
    let before = acts(&scene);
    scene.no(&ada(), "station boards", &["station-taken"]);
    scene.ok(&bo(), "leave");
    work(&mut scene, &mut crew, 1_200);
    assert!(seated(&scene) && acts(&scene) > before, "it goes on with what Bo has left undone");
    crate::replay::verify(&scene.log).unwrap();
}

#[test]
fn a_robot_does_what_a_person_orders_in_typed_words_and_closes_the_loop() {
    let mut scene = Scene::new();
    let mut crew = Crew::new(&scene.recorder.run().setup, None).unwrap();
    let work = |scene: &mut Scene, crew: &mut Crew, seconds: u64| {
        for _ in 0..seconds * 20 {
            let done = crew.act(&mut scene.recorder, "");
            scene.log.extend(done);
            let found = scene.recorder.tick("");
            scene.log.extend(found);
        }
    };
    scene.ok(&bo(), "station boards");
    // Boards are Bo's, so the robot at the pumps waits for him, in the pump room.
    work(&mut scene, &mut crew, 2);
    for order in ["open header.valve", "how is the tank?", "start pump", "open header.valve", "go deck"] {
        scene.ok(&bo(), &format!("order pumps: {order}"));
    }
    work(&mut scene, &mut crew, 120);
    let told = scene.log.iter().filter(|e| e.who == Who::Robot { station: "pumps".to_owned() });
    let told: Vec<String> = told.map(|e| crate::timeline::what(&e.event)).collect();
    insta::assert_snapshot!(told.join("\n"));
    let open: Vec<u64> = scene.recorder.run().state.orders.open.iter().map(|order| order.number).collect();
    assert_eq!(open, [2], "it understands no talk");
    assert!(crate::replay::verify(&scene.log).is_ok());
}

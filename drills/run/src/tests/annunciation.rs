//! The list of alerts as a whole: shelving, suppression by design, what came first, floods, resets.

use super::kit::{DRILL, PROCEDURE, SHIP, Scene, ada, bo, instructor, opening};
use crate::crew::Crew;
use crate::debrief::{Debrief, Outcome};
use crate::event::{Event, Hidden};
use crate::fork::fork;
use crate::ids::run_id;
use crate::library::Library;
use crate::opening::{Opening, TextFile};
use crate::replay::{Until, rebuild_from, verify};
use crate::words::Question;

fn alerts(scene: &Scene) -> Vec<String> {
    scene.ask(&bo(), Question::Alerts)
}

/// The small ship with more to it.
fn on_ship(ship: String) -> Scene {
    let mut opening: Opening = opening();
    opening.ship_files = vec![TextFile::new("ships/lighter/ship.toml", ship)];
    let mut scene = Scene::of(opening);
    scene.ok(&ada(), "station pumps");
    scene.ok(&bo(), "station boards");
    scene
}

/// What is said about a ship whose alert of the pump has these lines too.
fn wrong_with(lines: &str) -> Vec<String> {
    let ship = SHIP.replace("delay = \"0 s\"", &format!("delay = \"0 s\"\n{lines}"));
    let mut opening: Opening = opening();
    opening.ship_files = vec![TextFile::new("ships/lighter/ship.toml", ship)];
    super::kit::said(opening)
}

#[test]
fn shelving_ends_by_itself() {
    let mut scene = Scene::crewed();
    scene.ok(&bo(), "shelve pump.off for 1 min");
    assert_eq!(alerts(&scene), ["shelved: pump.off for 1 min 0 s more, raised"]);
    scene.run(59.0);
    assert_eq!(scene.count("shelving-ended"), 0);
    scene.run(1.0);
    assert_eq!(scene.find("shelving-ended").tick, 1200);
    assert!(alerts(&scene)[0].ends_with("caution  Pump stands still  raised, unacknowledged"));
    assert!(scene.recorder.run().state.alerts.iter().any(|life| life.sounding), "it sounds again");
    scene.ok(&bo(), "shelve pump.off");
    assert_eq!(alerts(&scene), ["shelved: pump.off for 30 min 0 s more, raised"]);
    assert!(verify(&scene.log).is_ok());
}

#[test]
fn an_old_log_shelves_without_end() {
    let mut scene = Scene::crewed();
    let shelved = Event::Shelved { alert: "pump.off".to_owned(), until_tick: None };
    scene.log.extend(scene.recorder.record_all(vec![shelved], &bo(), None, ""));
    scene.run(1190.0);
    assert_eq!(alerts(&scene).last().unwrap(), "shelved: pump.off until unshelved, raised");
}

#[test]
fn a_fork_shelves_for_the_same_time() {
    let mut scene = Scene::crewed();
    scene.run(1.0);
    scene.ok(&bo(), "shelve pump.off for 90 s");
    let drop = [crate::fork::Change::Drop { seq: 9999 }];
    let (_, log) = fork(&scene.log, Until::End, run_id("fork", 1), &drop, &instructor(), "").unwrap();
    assert!(log.iter().any(|e| matches!(e.event, Event::Shelved { until_tick: Some(1820), .. })));
}

/// Shore supply off suppresses what says that the pump stands still, and for 10 s after.
fn suppressing() -> Scene {
    let by = "suppressed-by = \"shore.closed\"\nsuppressed-below = 0.5\nsuppressed-for = \"10 s\"";
    on_ship(SHIP.replace("delay = \"0 s\"", &format!("delay = \"0 s\"\n{by}")))
}

#[test]
fn what_a_dead_board_says_is_suppressed_until_the_board_lives() {
    let mut scene = suppressing();
    let raised = &scene.find("alert-raised").event;
    assert!(matches!(raised, Event::AlertRaised { hidden: Some(Hidden::Suppressed), .. }), "{raised:?}");
    assert_eq!(alerts(&scene), ["suppressed by design: Pump stands still"]);
    scene.no(&bo(), "ack all", &["nothing-to-acknowledge"]);
    scene.no(&bo(), "silence", &["nothing-sounds"]);
    scene.ok(&bo(), "close shore");
    scene.run(9.0);
    assert_eq!(scene.count("suppression-ended"), 0);
    scene.run(2.0);
    assert_eq!(scene.count("suppression-ended"), 1);
    assert!(alerts(&scene)[0].ends_with("Pump stands still  raised, unacknowledged"));
    scene.ok(&bo(), "ack all");
    scene.run(5.0);
    scene.ok(&bo(), "open shore");
    scene.run(1.0);
    assert_eq!(scene.count("suppression-began"), 1, "one that stood on the list goes from it");
    let report = Debrief::of(&scene.log);
    assert_eq!((report.alerts.hidden, report.alerts.raised, report.alerts.acknowledged), (1, 1, 1));
    assert!(verify(&scene.log).is_ok());
}

#[test]
fn what_is_mended_before_it_comes_up_leaves_nothing() {
    let mut scene = suppressing();
    scene.ok(&instructor(), "close shore");
    scene.run(3.0);
    scene.ok(&bo(), "start pump");
    scene.run(15.0);
    assert_eq!(alerts(&scene), ["no alerts"]);
    assert_eq!((scene.count("alert-cleared"), scene.count("suppression-ended")), (1, 0));
}

#[test]
fn mistakes_about_suppression_are_named() {
    let said = wrong_with("suppressed-below = 0.5");
    assert!(said[0].contains("needs `suppressed-by`"), "{said:#?}");
    let said = wrong_with("suppressed-by = \"shore.closed\"");
    assert!(said[0].contains("needs `suppressed-above` or `suppressed-below`"), "{said:#?}");
    let said = wrong_with("suppressed-by = \"shore.clsed\"\nsuppressed-below = 0.5");
    assert!(said[0].contains("has no reading `clsed`"), "{said:#?}");
    let said =
        wrong_with("suppressed-by = \"shore.closed\"\nsuppressed-below = 0.5\nsuppressed-for = \"3 V\"");
    assert_eq!(said.len(), 1, "{said:#?}");
}

/// The small ship with an alert on what trips the pump, in one group with the alert that it stands.
fn grouped() -> Scene {
    let fast = ("below = \"100 rpm\"", "below = \"1700 rpm\"");
    let group = "delay = \"0 s\"\nfirst-out = \"pump\"";
    let tripped = "\n[[alert]]\nname = \"pump.tripped\"\ntext = \"Pump overload\"\npriority = \"alarm\"\n\
                   reading = \"pump.overload-tripped\"\nabove = 0.5\nfirst-out = \"pump\"\n\n[[state]]";
    on_ship(SHIP.replace(fast.0, fast.1).replace("delay = \"0 s\"", group).replace("\n[[state]]", tripped))
}

#[test]
fn the_first_of_a_group_is_marked_until_the_latch_is_reset() {
    let mut scene = grouped();
    scene.ok(&instructor(), "close shore");
    scene.run(3.0);
    scene.ok(&bo(), "start pump");
    scene.run(10.0);
    scene.ok(&bo(), "ack all");
    assert_eq!(alerts(&scene), ["no alerts"]);
    scene.ok(&instructor(), "fault pump.overload-relay-trips");
    scene.run(5.0);
    let Event::FirstOut { alert, group, .. } = &scene.find("first-out").event else { panic!() };
    assert_eq!(group, "pump");
    let first = alert.clone();
    let marked =
        |scene: &Scene| alerts(scene).iter().filter(|line| line.ends_with("came first of pump")).count();
    assert_eq!(marked(&scene), 1, "{:#?}", alerts(&scene));
    scene.ok(&bo(), "ack all");
    assert_eq!(marked(&scene), 1, "acknowledging does not take the mark away");
    assert!(
        alerts(&scene).contains(&"needs a reset at Pump room: Pump motor: reset pump".to_owned()),
        "{:#?}",
        alerts(&scene)
    );
    scene.ok(&instructor(), "lift pump.overload-relay-trips");
    scene.run(1.0);
    scene.ok(&instructor(), "reset pump");
    assert_eq!(marked(&scene), 0);
    scene.run(1.0);
    assert!(!alerts(&scene).iter().any(|line| line.starts_with("needs a reset")), "{:#?}", alerts(&scene));
    assert_eq!(Debrief::of(&scene.log).alerts.first_outs.len(), 1, "{first}");
    assert!(verify(&scene.log).is_ok());
}

/// A ship with eleven alerts on the level of the tank.
fn talkative() -> Scene {
    let many: String = (0..11)
        .map(|n| {
            format!(
                "[[alert]]\nname = \"level.{n}\"\ntext = \"Level {n}\"\npriority = \"{}\"\n\
                 reading = \"header.tank.level\"\nbelow = \"{} %\"\n\n",
                if n == 3 { "alarm" } else { "caution" },
                49.0 - 0.1 * f64::from(n)
            )
        })
        .collect();
    on_ship(SHIP.replace("\n[[state]]", &format!("\n{many}[[state]]")))
}

#[test]
fn a_flood_begins_and_ends() {
    let mut scene = talkative();
    scene.ok(&instructor(), "ack all");
    scene.ok(&ada(), "open header.valve");
    scene.run(60.0);
    assert_eq!(scene.count("flood-began"), 1);
    let lines = alerts(&scene);
    assert!(lines[0].starts_with("flood of alerts since "), "{lines:#?}");
    assert!(lines[1].contains("alarm") && lines[2].contains("alarm"), "{lines:#?}");
    scene.ok(&instructor(), "ack all");
    let lines = alerts(&scene);
    assert!(lines[1].contains("alarm"), "by priority, whether acknowledged or not: {lines:#?}");
    scene.run(620.0);
    assert_eq!(scene.count("flood-ended"), 1);
    assert!(!alerts(&scene)[0].starts_with("flood"));
    assert_eq!(Debrief::of(&scene.log).alerts.floods.len(), 1);
    assert!(verify(&scene.log).is_ok());
}

#[test]
fn what_is_hidden_outlives_a_checkpoint() {
    let mut scene = suppressing();
    scene.ok(&bo(), "close shore");
    scene.ok(&bo(), "shelve header.low for 5 min");
    scene.run(10.0);
    let last = scene.log.last().unwrap().clone();
    let bytes = scene.recorder.checkpoint(&last).expect("the last event is a digest");
    let back = rebuild_from(&scene.log, &bytes).unwrap().recorder;
    assert_eq!(back.run().state, scene.recorder.run().state);
    assert!(back.run().state.alerts.iter().any(|life| life.suppressed_until.is_some()));
}

#[test]
fn a_lock_out_can_be_there_from_the_start_and_say_nothing() {
    let locked = "\n[[state]]\nname = \"locked\"\nabout = \"The relay of the pump has tripped; no alert tells.\"\n\
                  based-on = \"cold\"\n[state.set]\n\"pump.overload-tripped\" = true\n";
    let drill = DRILL.replace("start = \"cold\"", "start = \"locked\"");
    let mut opening = super::kit::opening_with(&drill, &[PROCEDURE]);
    opening.ship_files = vec![TextFile::new("ships/lighter/ship.toml", format!("{SHIP}{locked}"))];
    let mut scene = Scene::of(opening);
    scene.ok(&ada(), "station pumps");
    scene.ok(&bo(), "station boards");
    assert!(!alerts(&scene).iter().any(|line| line.contains("reset")), "{:#?}", alerts(&scene));
    scene.ok(&instructor(), "close shore");
    scene.run(3.0);
    scene.no(&bo(), "start pump", &["overload-tripped"]);
    scene.ok(&ada(), "reset pump");
    scene.run(6.0);
    scene.ok(&bo(), "start pump");
}

#[test]
fn the_first_drill_is_won_as_before_and_its_dead_board_says_less() {
    let opening = Library::built_in().opening("first-light", None).unwrap();
    let mut scene = Scene::of(opening);
    assert!(alerts(&scene).iter().any(|line| line == "suppressed by design: Sea water header pressure low"));
    let mut crew = Crew::new(&scene.recorder.run().setup.clone(), Some("first-light")).unwrap();
    while scene.recorder.run().goes() {
        let acts = crew.act(&mut scene.recorder, "");
        scene.log.extend(acts);
        scene.log.extend(scene.recorder.tick(""));
    }
    let report = Debrief::of(&scene.log);
    println!("{}", report.to_text());
    assert_eq!(report.aim.unwrap().outcome, Outcome::Met);
    assert!(report.marks.iter().all(|mark| mark.outcome == Outcome::Met), "{:#?}", report.marks);
}

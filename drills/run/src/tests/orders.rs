//! Orders, read-backs and reports between stations and with the bridge.

use super::kit::{DRILL, PROCEDURE, Scene, ada, bo, instructor, opening_with, said};
use crate::checkpoint::still_matters;
use crate::command::Command;
use crate::debrief::Debrief;
use crate::event::Event;
use crate::fork::{Change, fork};
use crate::ids::run_id;
use crate::replay::{Until, rebuild_from, verify};
use crate::timeline;
use crate::who::{Role, Who};
use crate::words::Question;

fn open(scene: &Scene) -> Vec<String> {
    scene.ask(&ada(), Question::Orders)
}

#[test]
fn an_order_is_open_until_it_is_reported() {
    let mut scene = Scene::crewed();
    assert_eq!(open(&scene), ["no open orders"]);
    scene.ok(&bo(), "order pumps: open the header valve");
    scene.run(3.0);
    scene.ok(&ada(), "repeat 1 open the header valve");
    scene.run(70.0);
    assert_eq!(
        open(&scene),
        ["1  boards to pumps: open the header valve; open for 1 min 13 s, read back at 0:03.0"]
    );
    scene.ok(&ada(), "report 1 it is open");
    assert_eq!(open(&scene), ["no open orders"]);
    scene.no(&ada(), "report 1", &["unknown-order"]);
    let reported = scene.find("order-reported");
    assert_eq!(reported.cause, Some(scene.find("order-given").seq));
    assert_eq!(timeline::what(&reported.event), "order 1 reported by pumps to boards: it is open");
}

#[test]
fn only_the_station_spoken_to_can_answer() {
    let mut scene = Scene::crewed();
    scene.ok(&bo(), "order pumps: open the header valve");
    let refusal = scene.no(&bo(), "report 1", &["not-your-order"]);
    assert_eq!(refusal.to_string(), "order 1 is for pumps; you are boards");
    scene.no(&instructor(), "repeat 1", &["not-your-order"]);
    scene.ok(&ada(), "repeat 1");
    scene.no(&ada(), "repeat 1", &["already-repeated"]);
    scene.no(&ada(), "repeat 2", &["unknown-order"]);
    scene.ok(&bo(), "order all: report your station");
    scene.no(&bo(), "report 2", &["not-your-order"]);
    scene.ok(&ada(), "report 2");
    scene.no(&Who::person("Olga", Role::Observer), "order pumps: go", &["not-your-role"]);
    scene.no(&Who::person("Nix", Role::Trainee), "order pumps: go", &["no-station"]);
    scene.no(&ada(), "bridge order boards: go", &["not-your-role"]);
    scene.no(&bo(), "order pumps within 0 s: now", &["value-out-of-range"]);
    let unknown = Command::ReportTo { to: "mast".to_owned(), text: "hm".to_owned() };
    assert!(scene.command(&ada(), &unknown).refusal.unwrap().has("unknown-station"));
}

#[test]
fn not_more_orders_are_open_than_anyone_can_look_through() {
    let mut scene = Scene::crewed();
    for _ in 0..100 {
        scene.ok(&bo(), "order pumps: again");
    }
    scene.no(&bo(), "order pumps: again", &["too-many-orders"]);
    scene.ok(&ada(), "report 50");
    scene.ok(&bo(), "order pumps: again");
    assert_eq!(scene.recorder.run().state.orders.given, 101);
}

#[test]
fn the_instructor_is_the_bridge() {
    let mut scene = Scene::crewed();
    scene.ok(&instructor(), "order pumps within 1 min: how much is in the tank?");
    scene.ok(&ada(), "report 1 half full");
    scene.ok(&ada(), "order bridge: slow down, please");
    scene.ok(&instructor(), "bridge repeat 2");
    scene.ok(&instructor(), "report 2 we go dead slow");
    scene.ok(&instructor(), "bridge say to pumps: thank you");
    scene.ok(&ada(), "report to bridge: the tank is safe");
    let told: Vec<String> =
        scene.log[scene.log.len() - 7..].iter().map(|e| timeline::what(&e.event)).collect();
    insta::assert_snapshot!(told.join("\n"));
}

#[test]
fn an_order_of_the_instructor_at_a_station_is_of_that_station() {
    let mut scene = Scene::new();
    scene.ok(&instructor(), "station boards");
    scene.ok(&instructor(), "order pumps: stand by");
    scene.ok(&instructor(), "bridge order pumps: stand by");
    let from: Vec<&str> =
        scene.recorder.run().state.orders.open.iter().map(|order| order.from.as_str()).collect();
    assert_eq!(from, ["boards", "bridge"]);
}

/// The small drill with an order of the bridge.
fn with_an_order() -> Scene {
    let hello = "text = \"Bridge: are you there?\"";
    let drill = DRILL.replace(hello, &format!("{hello}\norder = true\nwithin = \"20 s\""));
    Scene::of(opening_with(&drill, &[PROCEDURE]))
}

#[test]
fn the_drill_gives_orders_and_notes_what_is_not_reported_in_time() {
    let mut scene = with_an_order();
    scene.ok(&ada(), "station pumps");
    scene.run(10.0);
    assert_eq!(
        open(&scene),
        ["1  bridge to pumps: Bridge: are you there?; open for 5 s, not read back, to be reported by 0:25.0"]
    );
    scene.run(20.0);
    let overdue = scene.find("order-overdue");
    assert_eq!((overdue.tick, &overdue.who), (501, &Who::Drill));
    assert_eq!(scene.count("order-overdue"), 1);
    assert!(open(&scene)[0].ends_with("report overdue since 0:25.0"));
    scene.ok(&ada(), "report 1 yes");
    let report = Debrief::of(&scene.log);
    let order = &report.numbered[0];
    assert_eq!((order.read_back_tick, order.reported_tick, order.late), (None, Some(600), true));
    assert!(verify(&scene.log).is_ok());
}

#[test]
fn in_time_nothing_is_noted() {
    let mut scene = with_an_order();
    scene.ok(&ada(), "station pumps");
    scene.run(10.0);
    scene.ok(&ada(), "report 1");
    scene.run(30.0);
    assert_eq!(scene.count("order-overdue"), 0);
}

#[test]
fn only_an_order_has_a_time() {
    let hello = "text = \"Bridge: are you there?\"";
    let drill = DRILL.replace(hello, &format!("{hello}\nwithin = \"20 s\""));
    let said = said(opening_with(&drill, &[PROCEDURE]));
    assert_eq!(said.len(), 1, "{said:#?}");
    assert!(said[0].contains("only an order is reported in a time"), "{said:#?}");
}

#[test]
fn open_orders_outlive_a_checkpoint_and_a_fork() {
    let mut scene = with_an_order();
    scene.ok(&ada(), "station pumps");
    scene.ok(&bo(), "station boards");
    scene.ok(&bo(), "order pumps within 1 min: open the header valve");
    scene.ok(&instructor(), "bridge order boards: close the shore supply");
    scene.run(15.0);
    let last = scene.log.last().unwrap().clone();
    let bytes = scene.recorder.checkpoint(&last).expect("the last event is a digest");
    let back = rebuild_from(&scene.log, &bytes).unwrap().recorder;
    assert_eq!(back.run().state.orders, scene.recorder.run().state.orders);
    let add =
        Change::Add { tick: 1, who: ada(), command: Command::Repeat { number: 1, text: String::new() } };
    for changes in [vec![], vec![add]] {
        let id = run_id("fork", 1);
        let (forked, log) = fork(&scene.log, Until::End, id, &changes, &instructor(), "").unwrap();
        let orders = &forked.run().state.orders;
        assert_eq!((orders.given, orders.open.len()), (3, 3));
        assert_eq!(orders.open[1].from, "bridge");
        assert_eq!(orders.open[0].read_back_tick.is_some(), !changes.is_empty());
        assert!(log.iter().any(|e| matches!(e.event, Event::OrderGiven { due_tick: Some(1200), .. })));
    }
}

#[test]
fn an_order_of_the_drill_is_still_the_cause_behind_a_checkpoint() {
    let mut scene = with_an_order();
    scene.run(6.0);
    let order = scene.find("order-given");
    assert_eq!((&order.who, order.command_id), (&Who::Drill, None));
    assert!(still_matters(&order.encode()));
}

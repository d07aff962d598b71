use super::{Chart, Flows, Situation};
use crate::tests::kit::{DRILL, PROCEDURE, Scene, ada, bo, instructor, opening_with};
use crate::words::Question;

#[test]
fn a_team_gets_the_drawing_without_what_it_must_find_out() {
    let scene = Scene::crewed();
    let setup = &scene.recorder.run().setup;
    let chart = Chart::new(setup, false);
    assert_eq!(chart.ship, "Lighter");
    let valve = chart.component("header.valve").expect("a valve");
    let nodes: Vec<&str> =
        chart.components[valve].ports.iter().flatten().map(|&node| chart.nodes[node].name.as_str()).collect();
    assert_eq!(nodes, ["content", "below"]);
    assert!(chart.nodes.iter().any(|node| node.flows == Flows::Ac && node.voltage_v == 440.0));
    assert!(chart.kind(valve).acts.iter().any(|act| act.verb == "open"));
    assert!(chart.kinds.iter().all(|kind| kind.faults.is_empty()));
    assert!(chart.kinds.iter().flat_map(|kind| &kind.readings).all(|reading| reading.seen != "hidden"));
    assert!(chart.steps.is_empty() && chart.expects.is_empty() && chart.objectives.is_empty());
    assert_eq!(chart.lists[0].steps[1].lines.last().map(String::as_str), Some("report: Pump is running"));
    let way = chart.places[0].walk_s[2];
    assert_eq!((way, chart.places[0].walk_s[3]), (Some(30.0), None));
}

#[test]
fn those_who_run_the_class_see_the_plan() {
    let scene = Scene::crewed();
    let chart = Chart::new(&scene.recorder.run().setup, true);
    let steps: Vec<(&str, Option<u64>)> =
        chart.steps.iter().map(|step| (step.name.as_str(), step.at_tick)).collect();
    assert_eq!(steps, [("leak", Some(600)), ("lift/leak", None), ("hello", Some(100)), ("pump-seen", None)]);
    assert_eq!(chart.expects.last().map(|expect| expect.name.as_str()), Some("aim"));
    assert!(chart.kinds.iter().any(|kind| kind.faults.iter().any(|fault| !fault.doc.is_empty())));
}

#[test]
fn things_stand_differently_for_those_who_see_all() {
    let mut scene = Scene::crewed();
    scene.ok(&instructor(), "fault header.tank.leaks");
    scene.ok(&instructor(), "fault pump.seized when time > 1000 s");
    scene.ok(&ada(), "order boards within 1 min: shore supply on");
    scene.ok(&bo(), "repeat 1");
    scene.run(31.0);
    let run = scene.recorder.run();
    let (seen, all) = (Situation::new(run, false), Situation::new(run, true));
    assert!(seen.faults.is_empty() && seen.steps.is_empty() && seen.expects.is_empty());
    assert_eq!(all.faults[0].name, "header.tank.leaks");
    assert_eq!((all.planned[0].name.as_str(), seen.planned.len()), ("pump.seized", 0));
    assert!(all.steps.contains(&"leak".to_owned()));
    // Two expectations and the aim.
    assert_eq!(all.expects.len(), 3);
    let ada_now = seen.of("Ada").expect("Ada is aboard");
    assert_eq!(ada_now.station.as_deref(), Some("pumps"));
    assert_eq!(ada_now.stands_at(run.tick()), ada_now.place);
    assert!(seen.orders[0].read_back_tick.is_some());
}

#[test]
fn a_situation_comes_back_from_json() {
    let mut scene = Scene::crewed();
    scene.ok(&instructor(), "fault header.tank.leaks 100 %");
    scene.run(200.0);
    let situation = Situation::new(scene.recorder.run(), true);
    assert!(!situation.alerts.is_empty());
    let text = serde_json::to_string(&situation).expect("plain data");
    assert_eq!(serde_json::from_str::<Situation>(&text).expect("the same"), situation);
    let chart = Chart::new(&scene.recorder.run().setup, true);
    let text = serde_json::to_string(&chart).expect("plain data");
    assert_eq!(serde_json::from_str::<Chart>(&text).expect("the same"), chart);
}

#[test]
fn a_list_for_robots_is_not_shown_to_the_team() {
    let hidden = PROCEDURE.replace("drill = \"small\"", "drill = \"small\"\nteam-sees = false");
    let scene = Scene::of(opening_with(DRILL, &[&hidden]));
    let setup = &scene.recorder.run().setup;
    assert!(Chart::new(setup, false).lists.is_empty());
    assert_eq!(Chart::new(setup, true).lists.len(), 1);
    let asked = |who| scene.ask(&who, Question::Procedure(None));
    assert_eq!(asked(ada()), ["there is no procedure for this drill"]);
    assert!(asked(instructor()).len() > 3);
}

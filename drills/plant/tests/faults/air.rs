//! Air of the machinery space: with all dampers shut the sets are starved of it.

use crate::ships::{run, value, warmed_up};
use deadship_plant::kind::{Act, Verb};

/// Every fire damper of the engine room shut on a set that carries the ship: its air is gone within a minute (invented
/// figure of the ships: about 20 s at 60 % load), it loses speed. With one damper open it goes on.
#[test]
fn shut_dampers_starve_the_engines() {
    let start = warmed_up("quillmere", "at anchor");
    let compiled = start.compiled.clone();
    let acts = |kind: &str| {
        compiled
            .spec
            .components
            .iter()
            .enumerate()
            .filter(move |(_, c)| c.kind.name == kind)
            .map(|(i, _)| i)
            .collect::<Vec<_>>()
    };
    let engine = compiled.component("dg1.engine").unwrap();
    let space_of = |component: usize| {
        let kind = compiled.spec.components[component].kind;
        let port = kind.ports.iter().position(|port| port.name == "space").unwrap();
        compiled.wiring[component].ports[port]
    };
    let fans: Vec<usize> = acts("fan").into_iter().filter(|&fan| space_of(fan) == space_of(engine)).collect();
    assert!(fans.len() >= 3, "{}", fans.len());
    for left_open in [0, 1] {
        let mut plant = start.clone();
        for &fan in &fans[left_open..] {
            let index =
                compiled.spec.components[fan].kind.acts.iter().position(|act| act.verb == Verb::Close);
            plant.act(fan, Act { index: index.unwrap(), value: 0.0, remote: false });
        }
        let mut seconds = 0;
        while value(&plant, "dg1.engine.speed-share") > 0.95 && seconds < 120 {
            run(&mut plant, 1.0);
            seconds += 1;
        }
        eprintln!(
            "{left_open} dampers open: DG 1 with {:.0} % holds its speed for {seconds} s",
            100.0 * value(&start, "dg1.engine.load")
        );
        if left_open == 0 {
            assert!((15..100).contains(&seconds), "{seconds}");
            assert_eq!(value(&plant, "room.engine-room.doors-pulled-shut"), 1.0);
        } else {
            assert_eq!(seconds, 120, "one open trunk is enough for one set");
        }
    }
}

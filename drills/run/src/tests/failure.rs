//! A plant that cannot be stepped on: the run stands, and tells why.

use super::kit::{DRILL, SHIP, Scene, ada, instructor, opening_with};
use crate::opening::TextFile;

/// The ship with a length of pipe between the valve and the bilge.
fn scene() -> Scene {
    let pipe = "[[node]]\nname = \"between\"\nnet = \"fresh water\"\n[[pipe]]\nname = \"header.pipe\"\n\
                place = \"pump-room\"\ninlet = \"between\"\noutlet = \"below\"\nkv = \"60 Kv\"\n\n[[opening]]";
    let ship = SHIP.replace("outlet = \"below\"", "outlet = \"between\"").replace("[[opening]]", pipe);
    let mut opening = opening_with(DRILL, &[]);
    opening.ship_files = vec![TextFile::new("ships/lighter/ship.toml", ship)];
    let mut scene = Scene::of(opening);
    scene.ok(&ada(), "station pumps");
    scene
}

#[test]
fn a_net_without_a_solution_puts_its_run_on_hold_with_the_evidence() {
    let mut scene = scene();
    scene.ok(&ada(), "open header.valve");
    scene.run(5.0);
    let before = scene.recorder.run().tick();
    assert!(scene.recorder.run_mut().plant.spoil("between"));
    scene.run(3.0);
    let run = scene.recorder.run();
    assert_eq!(run.tick(), before + 1, "it stands in the tick in which it failed");
    let told = run.state.failed.clone().unwrap();
    for part in
        ["liquid net", "at `between`", "header.valve (", "header.pipe (", "last acts: open header.valve"]
    {
        assert!(told.contains(part), "{part}: {told}");
    }
    assert!(run.state.hold.is_some() && !run.goes());
    // One event, and nothing after it but what people say; no act changes a plant that has failed.
    assert_eq!(scene.count("step-failed"), 1);
    assert_eq!(scene.log.last().unwrap().event.name(), "step-failed");
    scene.ok(&instructor(), "say all Stop: the model has failed");
    scene.run(1.0);
    assert_eq!(scene.count("step-failed"), 1);
    // Another run of the same drill goes on.
    let mut other = self::scene();
    other.run(1.0);
    assert!(other.recorder.run().goes());
}

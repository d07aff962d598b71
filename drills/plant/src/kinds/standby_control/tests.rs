use super::*;
use crate::kinds::testkit::Rig;

const PLANT: &str = include_str!("../../../../data/rigs/electric-power-plant.toml");

#[test]
fn orders_are_refused_with_their_reasons() {
    let mut rig = Rig::read(PLANT, Some("one set"));
    rig.run(5.0);
    assert_eq!(rig.codes("set1.standby", START), ["already-connected"]);
    assert_eq!(rig.codes("set2.standby", STOP), ["not-connected"]);
    rig.act("set2.standby", SET_MODE, 0.0);
    assert_eq!(rig.codes("set2.standby", START), ["in-manual"]);
    rig.act("set2.standby", SET_MODE, 1.0);
    rig.act("set2.standby", START, 0.0);
    rig.run(1.0);
    assert_eq!(rig.codes("set2.standby", START), ["busy"]);
}

#[test]
fn a_set_that_cannot_be_unloaded_stays_on_the_bus() {
    let mut rig = Rig::read(PLANT, Some("one set"));
    rig.run(5.0);
    // Alone on the board nobody takes its load: frequency falls and it gives up.
    rig.act("management", 0, 0.0);
    rig.act("set1.standby", STOP, 0.0);
    rig.until(120.0, |r| r.has_found("set1.standby.not-unloaded"));
    assert_eq!(rig.value("set1.breaker.closed"), 1.0);
    assert!(rig.value("set1.generator.frequency") > 54.5);
}

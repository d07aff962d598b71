//! Faults of sensors deceive people and alerts, never the plant.

use crate::ships::{run, value, warmed_up};
use std::collections::BTreeSet;

/// With an untrue sensor no quantity differs for ten seconds but what that component shows: not a bit of any other.
#[test]
fn untrue_sensors_change_nothing_but_what_is_shown() {
    let start = warmed_up("quillmere", "at sea, two sets");
    let mut without = start.clone();
    run(&mut without, 10.0);
    let compiled = start.compiled.clone();
    let mut kinds = BTreeSet::new();
    for (component, spec) in compiled.spec.components.iter().enumerate() {
        for (fault, def) in spec.kind.faults.iter().enumerate().filter(|(_, def)| def.deceives) {
            // One component of a kind stands for the others, but every set's engine has its turn.
            if !kinds.insert((spec.kind.name, def.name)) && spec.kind.name != "diesel-engine" {
                continue;
            }
            let mut with = start.clone();
            with.set_fault(component, fault, 1.0, 0.0);
            run(&mut with, 10.0);
            // Lamps may differ, since alerts and what waits for them believe the sensor; quantities may not.
            let other = (0..with.readings().len()).find(|&at| {
                let (owner, reading) = compiled.reading_at(at);
                owner != component
                    && compiled.spec.components[owner].kind.readings[reading].words.is_empty()
                    && with.readings()[at].to_bits() != without.readings()[at].to_bits()
            });
            let seen = other.map(|at| compiled.reading_name(compiled.reading_at(at)));
            assert_eq!(seen, None, "{}.{} changed another component", spec.name, def.name);
        }
    }
    assert!(kinds.len() >= 15, "{kinds:?}");
}

/// An alert looks at what the sensor shows: a dead one raises it, a frozen one keeps it silent.
#[test]
fn alerts_believe_the_sensor() {
    let start = warmed_up("quillmere", "at anchor");
    let alert = |name: &str| start.compiled.spec.alerts.iter().position(|alert| alert.name == name).unwrap();
    let low = alert("dg1.lube.pressure.low");
    let mut dead = start.clone();
    let (component, fault) = crate::ships::fault(&dead, "dg1.engine.lube-sensor-dead");
    dead.set_fault(component, fault, 1.0, 0.0);
    run(&mut dead, 20.0);
    assert!(dead.alert_on(low));
    assert_eq!(value(&dead, "dg1.controls.running"), 1.0, "the shutdown has a switch of its own");

    // The sump leaks behind a level gauge that hangs: no alert, and the dipstick says why.
    let mut hangs = start.clone();
    let low = alert("dg1.sump.low");
    let (component, fault) = crate::ships::fault(&hangs, "dg1.sump.tank.level-gauge-frozen");
    hangs.set_fault(component, fault, 1.0, 0.0);
    let (component, fault) = crate::ships::fault(&hangs, "dg1.sump.tank.leaks");
    for plant in [&mut hangs, &mut dead] {
        plant.set_fault(component, fault, 1.0, 0.0);
        run(plant, 960.0);
        assert!(value(plant, "dg1.sump.tank.volume") < 0.4, "{}", value(plant, "dg1.sump.tank.volume"));
    }
    assert!(dead.alert_on(low) && !hangs.alert_on(low));
    assert!(value(&hangs, "dg1.sump.tank.shown-volume") > 0.45);
}

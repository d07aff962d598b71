//! A flat control battery: what goes blind, what still works.

use crate::ships::{fault, run, value, warmed_up};
use deadship_plant::Plant;
use deadship_plant::ctx::Found;
use deadship_plant::kind::{Act, Verb};

/// What stands in the way of an act, by code.
fn codes(
    plant: &Plant,
    component: &str,
    verb: Verb,
    setting: &str,
    value: f64,
    remote: bool,
) -> Vec<&'static str> {
    let index = plant.compiled.component(component).unwrap_or_else(|| panic!("no {component}"));
    let acts = plant.compiled.spec.components[index].kind.acts;
    let act = acts.iter().position(|act| act.verb == verb && act.setting == setting).expect("the kind can");
    plant.permit(index, Act { index: act, value, remote }).iter().map(|block| block.code).collect()
}

fn alert(plant: &Plant, name: &str) -> usize {
    plant.compiled.spec.alerts.iter().position(|alert| alert.name == name).expect("an alert")
}

/// The charger of an old battery fails and it runs flat (how long a new one lasts is tested with its kind): remote
/// control and closing coils are refused with the reason, no alert comes any more but that of the hard-wired buzzer,
/// the engine runs on and its own shutdown still works by hand at the engine.
#[test]
fn with_a_flat_battery_the_ship_is_blind_and_runs_on() {
    for ship in ["quillmere", "tamberwick"] {
        let mut plant = warmed_up(ship, "at anchor");
        assert!(!codes(&plant, "dg2.controls", Verb::Start, "", 0.0, true).contains(&"no-control-supply"));
        for name in ["control.supply.battery-weak", "control.supply.charger-fails"] {
            let (component, index) = fault(&plant, name);
            plant.set_fault(component, index, 1.0, 0.0);
        }
        let (mut told, mut minutes) = (Vec::new(), 0.0);
        while value(&plant, "control.supply.voltage") >= 18.0 && minutes < 240.0 {
            for _ in 0..200 {
                let findings = plant.step().expect("no failure").to_vec();
                told.extend(findings.iter().filter_map(|f| match f.what {
                    Found::AlertOn(on) => Some(on),
                    _ => None,
                }));
            }
            minutes += 10.0 / 60.0;
        }
        eprintln!("{ship}: 24 V lost after {minutes:.0} min on the battery alone");
        assert!((3.0..120.0).contains(&minutes), "{ship}: {minutes} min");
        assert!(told.contains(&alert(&plant, "control.voltage.low")), "{ship}: it warns before");
        run(&mut plant, 5.0);
        assert!(!plant.alarm_system_lives());
        assert!(plant.alert_on(alert(&plant, "alarm-system.failed")), "{ship}: the buzzer");
        for (part, verb, setting, to) in [
            ("dg2.controls", Verb::Start, "", 0.0),
            ("dg2.breaker", Verb::Close, "", 0.0),
            ("dg2.standby", Verb::Set, "mode", 1.0),
            ("sea.return-valve", Verb::Set, "selector", 0.0),
        ] {
            let found = plant.compiled.component(part).is_some();
            assert!(found || part == "sea.return-valve", "{ship}: no {part}");
            if found {
                let codes = codes(&plant, part, verb, setting, to, true);
                assert!(codes.contains(&"no-control-supply"), "{ship}: {part} {codes:?}");
            }
        }
        // The local start asks for no control supply, and DG 1 has not noticed.
        assert!(!codes(&plant, "dg2.controls", Verb::Start, "", 0.0, false).contains(&"no-control-supply"));
        assert_eq!(value(&plant, "dg1.controls.running"), 1.0);
        // No alert for an oil sensor that dies now.
        let (component, index) = fault(&plant, "dg1.engine.lube-sensor-dead");
        plant.set_fault(component, index, 1.0, 0.0);
        run(&mut plant, 30.0);
        assert!(!plant.alert_on(alert(&plant, "dg1.lube.pressure.low")), "{ship}: nobody is told");
        // The charger again: the alarm system wakes and tells what stands.
        let (component, index) = fault(&plant, "control.supply.charger-fails");
        plant.set_fault(component, index, 0.0, 0.0);
        run(&mut plant, 60.0);
        assert!(plant.alarm_system_lives() && plant.alert_on(alert(&plant, "dg1.lube.pressure.low")));
        assert!(!plant.alert_on(alert(&plant, "alarm-system.failed")));
    }
}

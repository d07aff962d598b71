//! How a fault comes: at once, over a time, or on and off.

use crate::ships::{fault, run, value, warmed_up};
use deadship_plant::plant::Intermittent;

#[test]
fn a_fault_comes_at_once_over_a_time_or_on_and_off() {
    let mut plant = warmed_up("quillmere", "at anchor");
    let (component, index) = fault(&plant, "sea.pump.harbour.end.worn");
    plant.set_fault(component, index, 0.5, 0.0);
    run(&mut plant, 0.05);
    assert_eq!(plant.fault(component, index), 0.5, "sudden");
    plant.set_fault(component, index, 0.0, 0.0);
    run(&mut plant, 0.05);
    plant.set_fault(component, index, 0.8, 10.0);
    run(&mut plant, 5.0);
    assert!((plant.fault(component, index) - 0.4).abs() < 0.01, "half of its ramp");
    run(&mut plant, 6.0);
    assert_eq!(plant.fault(component, index), 0.8);

    plant.set_fault(component, index, 0.0, 0.0);
    run(&mut plant, 30.0);
    let healthy = value(&plant, "sea.pump.harbour.end.delivery-pressure");
    let pulse = Intermittent { period_s: 20.0, present_s: 5.0 };
    plant.set_intermittent_fault(component, index, 0.8, 0.0, pulse);
    let saved = plant.checkpoint();
    for _ in 0..3 {
        run(&mut plant, 4.0);
        assert_eq!(plant.fault(component, index), 0.8);
        assert!(value(&plant, "sea.pump.harbour.end.delivery-pressure") < 0.6 * healthy);
        run(&mut plant, 15.0);
        assert_eq!(plant.fault(component, index), 0.0);
        assert!((value(&plant, "sea.pump.harbour.end.delivery-pressure") / healthy - 1.0).abs() < 0.02);
        run(&mut plant, 1.0);
    }
    let mut again = plant.clone();
    again.restore(&saved).expect("the same ship");
    run(&mut again, 60.0);
    assert_eq!(again.digest(), plant.digest(), "its phase is part of the state");
}

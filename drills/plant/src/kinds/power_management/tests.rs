use super::*;
use crate::kinds::testkit::Rig;
use crate::kinds::{breaker as feeder, diesel_engine as engine, generator_breaker as breaker, load, motor};

const PLANT: &str = include_str!("../../../../data/rigs/electric-power-plant.toml");

fn rig() -> Rig {
    let mut rig = Rig::read(PLANT, Some("one set"));
    rig.run(5.0);
    rig
}

fn share(rig: &Rig, set: &str) -> f64 {
    rig.value(&format!("{set}.generator.load-share"))
}

fn connected(rig: &Rig, set: &str) -> bool {
    rig.value(&format!("{set}.breaker.closed")) > 0.5
}

#[test]
fn a_high_load_brings_the_next_set_which_takes_its_share_and_leaves_again() {
    let mut rig = rig();
    rig.act("more", load::START, 0.0);
    let time_s = rig.until(20.0, |r| r.has_found("management.started-by-load"));
    assert!((10.0..12.0).contains(&time_s), "{time_s}");
    let time_s = rig.until(90.0, |r| connected(r, "set2"));
    eprintln!("set 2 connected {time_s:.1} s after it was ordered");
    rig.run(0.2);
    assert!(rig.has_found("set2.standby.connected-in-step"));
    assert!(!rig.has_found("set2.breaker.closing-shock"), "{:?}", rig.found);
    rig.run(60.0);
    // Load sharing within 15 % of rated power (IACS UR M, from memory).
    let (one, two) = (share(&rig, "set1"), share(&rig, "set2"));
    assert!((one - two).abs() < 0.03, "{one} {two}");
    let hz = rig.value("set1.generator.frequency");
    assert!((hz - 60.0).abs() < 0.06, "{hz}");
    assert!(!connected(&rig, "set3"));
    rig.act("more", load::STOP, 0.0);
    rig.until(80.0, |r| r.has_found("management.stopped-by-load"));
    let time_s = rig.until(60.0, |r| !connected(r, "set2"));
    eprintln!("set 2 unloaded and off after {time_s:.1} s");
    assert!(rig.has_found("set2.standby.unloaded"));
    assert!(rig.value("set1.breaker.closed") > 0.5);
    rig.until(200.0, |r| r.has_found("set2.standby.cooled-down"));
    rig.until(60.0, |r| r.value("set2.controls.phase") == 0.0);
    let hz = rig.value("set1.generator.frequency");
    assert!((hz - 60.0).abs() < 0.06, "{hz}");
}

#[test]
fn taken_in_manual_it_does_nothing() {
    let mut rig = rig();
    rig.act("management", SET_MODE, 0.0);
    rig.act("more", load::START, 0.0);
    rig.run(60.0);
    assert!(!connected(&rig, "set2"));
    assert!(rig.has_found("management.manual"));
    // By hand a set can still be ordered as a whole.
    rig.act("set2.standby", set::START, 0.0);
    rig.until(90.0, |r| connected(r, "set2"));
}

#[test]
fn the_thruster_waits_for_two_sets_and_spare_power() {
    let mut rig = rig();
    assert_eq!(rig.codes("thruster", load::START), ["not-granted"]);
    rig.act("thruster.request", heavy::START, 0.0);
    let time_s = rig.until(120.0, |r| r.value("thruster.request.granted") > 0.5);
    eprintln!("thruster granted after {time_s:.1} s");
    assert!(rig.has_found("management.started-by-request"));
    assert!(rig.value("management.spare") > 450e3);
    rig.act("thruster", load::START, 0.0);
    rig.run(100.0);
    assert_eq!(rig.value("thruster.request.status"), 2.0);
    assert!(connected(&rig, "set2"), "two sets stay while it is granted");
    assert_eq!(rig.codes("thruster.request", heavy::STOP), ["still-running"]);
    rig.act("thruster", load::STOP, 0.0);
    rig.run(0.1);
    rig.act("thruster.request", heavy::STOP, 0.0);
    rig.until(120.0, |r| !connected(r, "set2"));
}

#[test]
fn a_request_without_sets_is_denied_and_says_why() {
    let mut rig = rig();
    for set in ["set2.standby", "set3.standby"] {
        rig.act(set, set::SET_MODE, 0.0);
    }
    rig.act("thruster.request", heavy::START, 0.0);
    rig.until(10.0, |r| r.value("thruster.request.status") == 3.0);
    assert_eq!(rig.value("thruster.request.reason"), 3.0);
    assert!(rig.has_found("thruster.request.denied-sets"));
}

#[test]
fn the_board_goes_to_the_shaft_generator_and_back_within_its_time_in_parallel() {
    let mut rig = rig();
    rig.act("management", SET_SOURCE, 1.0);
    let mut parallel_s = 0.0f64;
    let mut steps = 0;
    while connected(&rig, "set1") || !connected(&rig, "shaft") {
        rig.tick();
        parallel_s = parallel_s.max(rig.value("management.in-parallel"));
        steps += 1;
        assert!(steps < 4000, "{:?}", rig.found);
    }
    eprintln!("to the shaft generator: {:.1} s, in parallel {parallel_s:.1} s", f64::from(steps) * 0.05);
    assert!(parallel_s <= 30.0, "{parallel_s}");
    assert!(!rig.has_found("shaft.breaker.closing-shock"), "{:?}", rig.found);
    rig.run(10.0);
    assert!((rig.volts("bus") - 440.0).abs() < 15.0);
    rig.act("management", SET_SOURCE, 0.0);
    let (mut parallel_s, mut steps) = (0.0f64, 0);
    while connected(&rig, "shaft") || !connected(&rig, "set1") {
        rig.tick();
        parallel_s = parallel_s.max(rig.value("management.in-parallel"));
        steps += 1;
        assert!(steps < 4000, "{:?}", rig.found);
    }
    eprintln!("back to the sets: {:.1} s, in parallel {parallel_s:.1} s", f64::from(steps) * 0.05);
    assert!(parallel_s <= 30.0, "{parallel_s}");
    rig.run(30.0);
    let hz = rig.value("set1.generator.frequency");
    assert!((hz - 60.0).abs() < 0.06, "{hz}");
}

#[test]
fn the_standby_set_takes_a_dead_board_and_the_chosen_pump_alone_comes_back() {
    let mut rig = rig();
    for pump in ["pump.1", "pump.2"] {
        rig.brake(&format!("{pump}.shaft"), 18e3 / 188.5, 188.5);
        rig.act(pump, motor::START, 0.0);
        rig.run(3.0);
    }
    rig.act("shaft.standby", set::SET_MODE, 0.0);
    rig.fault("set1.breaker", "trips", 1.0);
    rig.until(1.0, |r| r.value("set1.breaker.closed") < 0.5);
    // First in order has tripped: the second takes the board at once (IACS UI SC157: 30 s preferred, from memory).
    let time_s = rig.until(50.0, |r| connected(r, "set2"));
    eprintln!("dead board taken after {time_s:.1} s");
    assert!(time_s < 30.0, "{time_s}");
    rig.until(15.0, |r| r.value("pump.1.running") > 0.5);
    assert!(rig.has_found("pump.1.restarted"));
    rig.run(60.0);
    assert_eq!(rig.value("pump.2.running"), 0.0, "{:?}", rig.found);
    // The chosen one trips: its twin starts.
    rig.fault("pump.1", "overload-relay-trips", 1.0);
    let time_s = rig.until(10.0, |r| r.value("pump.2.running") > 0.5);
    assert!(rig.has_found("pumps.standby-by-stop"));
    assert!(time_s < 3.0, "{time_s}");
}

/// The feeder trips within 0.15 s, the generators, whose short-time element waits 0.4 s, stay (IEC 60947-2 selectivity
/// by time; settings: common practice, no source).
#[test]
fn a_short_circuit_in_a_feeder_is_cleared_by_its_own_breaker() {
    let mut rig = rig();
    rig.act("galley", load::START, 0.0);
    rig.run(1.0);
    rig.fault("feeder", "short-circuit", 1.0);
    let time_s = rig.until(1.0, |r| r.value("feeder.closed") < 0.5);
    eprintln!("feeder cleared its short circuit after {time_s:.2} s");
    assert!(time_s <= 0.15, "{time_s}");
    rig.run(5.0);
    assert!(connected(&rig, "set1"), "{:?}", rig.found);
    rig.act("feeder", feeder::RESET, 0.0);
    rig.act("feeder", feeder::CLOSE, 0.0);
    rig.run(0.3);
    assert!(rig.value("feeder.closed") < 0.5, "closed on the fault it trips again");
}

#[test]
fn a_short_circuit_on_the_busbar_trips_the_sources_by_their_short_time_element() {
    let mut rig = rig();
    rig.fault("set1.breaker", "busbar-short-circuit", 1.0);
    let time_s = rig.until(1.0, |r| !connected(r, "set1"));
    assert!(rig.has_found("set1.breaker.tripped-short-time"), "{:?}", rig.found);
    assert!((0.35..0.55).contains(&time_s), "{time_s}");
}

#[test]
fn a_fault_in_the_winding_trips_breaker_and_field_by_differential_protection() {
    let mut rig = rig();
    rig.fault("set1.generator", "winding-fault", 0.3);
    let time_s = rig.until(1.0, |r| !connected(r, "set1"));
    assert!(rig.has_found("set1.breaker.tripped-differential"), "{:?}", rig.found);
    assert!(time_s <= 0.2, "{time_s}");
    rig.run(0.2);
    assert_eq!(rig.value("set1.generator.excited"), 0.0);
}

#[test]
fn what_preferential_trip_has_taken_off_stays_off_until_each_is_reset() {
    let mut rig = rig();
    rig.act("management", SET_MODE, 0.0);
    rig.act("galley", load::START, 0.0);
    rig.act("more", load::START, 0.0);
    rig.run(1.0);
    rig.fault("preferential", "acts-without-cause", 1.0);
    rig.run(0.3);
    assert_eq!((rig.value("feeder.tripped"), rig.value("more.shed")), (3.0, 1.0));
    rig.fault("preferential", "acts-without-cause", 0.0);
    rig.run(0.3);
    assert_eq!(rig.codes("feeder", feeder::CLOSE), ["not-reset"]);
    assert_eq!(rig.codes("more", load::START), ["shed"]);
    rig.act("feeder", feeder::RESET, 0.0);
    rig.act("feeder", feeder::CLOSE, 0.0);
    rig.act("more", load::RESET, 0.0);
    rig.act("more", load::START, 0.0);
}

/// Two sets in droop share in proportion to `(f0 - f) / droop` (Chapman; droop_sharing.csv, row 1 and 2 in form).
#[test]
fn governors_hold_droop_or_one_speed() {
    let mut rig = rig();
    rig.act("management", SET_MODE, 0.0);
    rig.run(1.0);
    let before = rig.value("set1.generator.frequency");
    rig.act("more", load::START, 0.0);
    rig.run(20.0);
    let fall = before - rig.value("set1.generator.frequency");
    // 280 kW of 600 kW at 4 % of 60 Hz; the droop acts on the rack, so on torque with losses.
    assert!((fall / (280.0 / 600.0 * 2.4) - 1.0).abs() < 0.10, "{fall}");
    rig.act("set1.engine", engine::SET_GOVERNOR, 1.0);
    rig.act("set1.engine", engine::SET_SPEED_ACT, 94.24777960769379);
    rig.run(60.0);
    let hz = rig.value("set1.generator.frequency");
    assert!((hz - 60.0).abs() < 0.03, "{hz}");
    rig.act("more", load::STOP, 0.0);
    rig.run(30.0);
    assert!((rig.value("set1.generator.frequency") - 60.0).abs() < 0.03);
}

#[test]
fn the_governor_motor_takes_its_time() {
    let mut rig = rig();
    rig.act("management", SET_MODE, 0.0);
    rig.run(2.0);
    let before = rig.value("set1.engine.set-speed");
    rig.act("set1.engine", engine::TRIM, 0.01);
    rig.run(2.0);
    // 0.15 Hz a second is a quarter per cent.
    let moved = (rig.value("set1.engine.set-speed") - before) / 94.24777960769379;
    assert!((moved - 0.005).abs() < 3e-4, "{moved}");
    assert_eq!(rig.codes("set1.engine", engine::SET_SPEED_ACT), ["out-of-range"]);
}

#[test]
fn a_lost_field_trips_the_set_that_has_it() {
    let mut rig = rig();
    rig.act("more", load::START, 0.0);
    rig.until(120.0, |r| connected(r, "set2"));
    rig.run(40.0);
    rig.fault("set2.generator", "field-lost", 1.0);
    rig.until(20.0, |r| !connected(r, "set2"));
    assert!(rig.has_found("set2.breaker.tripped-field-loss"), "{:?}", rig.found);
    assert!(connected(&rig, "set1"));
}

#[test]
fn breaker_conditions_know_the_check_of_a_dead_board() {
    let text = PLANT.replace(
        "machine = \"*.generator\"\n",
        "machine = \"*.generator\"\ninsulation-check = \"insulation.closing-allowed\"\n",
    );
    let mut rig = Rig::read(&text, Some("dead"));
    rig.run(1.0);
    assert!(rig.codes("set1.breaker", breaker::CLOSE).contains(&"insulation-not-checked"));
    rig.act("insulation", crate::kinds::insulation_monitor::CHECK, 0.0);
    rig.run(0.1);
    assert!(!rig.codes("set1.breaker", breaker::CLOSE).contains(&"insulation-not-checked"));
}

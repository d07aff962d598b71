//! Figures of the default ship as a whole against the heat balance of her own data (a lumped model that shares no code
//! with the plant; docs/physics.md lists them) and against the standards named.

use crate::hands::Hands;

const ZERO_C_K: f64 = 273.15;

/// DG 1 at 60 % of its shaft power, warm, the emergency switchboard on the main supply.
fn loaded_and_warm() -> Hands {
    let mut ship = Hands::on_the_board();
    ship.run(12.0);
    ship.act("close sea.ac.valve");
    ship.act("set esb.transfer supply normal");
    ship.run(10.0);
    ship.act("start sea.pump.harbour");
    for feeder in ["panel.1", "panel.2", "board.1", "board.2", "board.3"] {
        ship.act(&format!("close {feeder}.breaker"));
    }
    ship.run(5.0);
    for load in ["reefer.1", "reefer.2", "reefer.3", "galley", "purifier-heater.1", "crane.1", "workshop"] {
        ship.act(&format!("start load.{load}"));
        ship.run(1.0);
    }
    for load in
        ["load.ballast.1", "load.ballast.2", "load.pitch.1", "load.fuel-booster.1", "fan.engine-room.1"]
    {
        ship.act(&format!("start {load}"));
        ship.run(10.0);
    }
    ship.run(3600.0);
    ship
}

fn near(ship: &Hands, name: &str, to_shown: impl Fn(f64) -> f64, expected: f64, by: f64) {
    let value = to_shown(ship.value(name));
    eprintln!("{name}: {value:.2}, expected {expected}");
    assert!((value - expected).abs() <= by, "{name}: {value} instead of {expected} within {by}");
}

#[test]
fn a_loaded_set_settles_at_its_heat_balance_and_warms_as_it_says_without_sea_water() {
    let mut ship = loaded_and_warm();
    let celsius = |kelvin: f64| kelvin - ZERO_C_K;
    near(&ship, "dg1.engine.load", |x| 100.0 * x, 60.0, 2.0);
    near(&ship, "dg1.ht.thermostat.temperature", celsius, 79.3, 1.0);
    near(&ship, "dg1.lt.gauge.temperature", celsius, 32.6, 1.0);
    near(&ship, "dg1.engine.lube-temperature", celsius, 61.4, 1.5);
    near(&ship, "dg1.charge-air.air-temperature", celsius, 40.1, 1.0);
    near(&ship, "dg1.engine.lube-pressure", |x| x / 1e5, 4.2, 0.2);
    ship.act("stop sea.pump.harbour");
    let limits = [
        ("dg1.lt.gauge.temperature", 46.0, 1.6),
        ("dg1.charge-air.air-temperature", 60.0, 3.0),
        ("dg1.engine.lube-temperature", 75.0, 6.2),
        ("dg1.engine.ht-temperature", 92.0, 10.2),
        ("dg1.engine.ht-temperature", 97.0, 12.3),
    ];
    let mut passed_s = 0.0;
    for (name, limit, expected_min) in limits {
        while ship.value(name) < limit + ZERO_C_K {
            ship.run(1.0);
            passed_s += 1.0;
            assert!(passed_s < 1500.0, "{name} stays below {limit}");
        }
        let minutes = passed_s / 60.0;
        eprintln!("{name} {limit} degC after {minutes:.1} min, expected {expected_min}");
        // The lumped model loses nothing to the room and knows no length of pipe.
        assert!((0.9..1.35).contains(&(minutes / expected_min)), "{name} {limit}: {minutes} min");
    }
}

/// A set that has been in automatic standby for minutes takes a dead bus in 30 s (IACS UI SC157, from memory).
#[test]
fn a_standby_set_takes_the_dead_board_in_time() {
    let mut ship = Hands::lined_up(&["dg1", "dg2"]);
    ship.act("start dg1.controls");
    ship.run(20.0);
    ship.act("set dg1.generator excitation on");
    ship.run(8.0);
    ship.act("close dg1.breaker");
    ship.act("set dg2.priming.switch selector automatic");
    ship.act("set dg2.controls control remote");
    ship.run(300.0);
    ship.act("set dg2.standby mode automatic");
    ship.run(300.0);
    ship.act("open dg1.breaker");
    let mut passed_s = 0.0;
    while ship.value("dg2.breaker.closed") < 0.5 {
        ship.run(0.5);
        passed_s += 0.5;
        assert!(passed_s < 30.0, "not connected in 30 s");
    }
    eprintln!("standby set connected after {passed_s:.1} s");
}

/// The emergency set keeps water and oil at working temperature for hours.
#[test]
fn the_emergency_set_keeps_its_temperatures() {
    let mut ship = Hands::on("dead ship");
    ship.run(1.0);
    ship.act("start load.emergency-fire-pump");
    ship.run(2.0 * 3600.0);
    near(&ship, "eg.engine.ht-temperature", |k| k - ZERO_C_K, 79.0, 5.0);
    near(&ship, "eg.engine.lube-temperature", |k| k - ZERO_C_K, 83.0, 8.0);
}

/// Fuel shut at the tank stalls a set at part load within minutes, not at once (common practice, no source).
#[test]
fn fuel_shut_at_the_tank_stalls_the_engine() {
    let mut ship = Hands::on_the_board();
    ship.act("close board.3.breaker");
    ship.run(2.0);
    ship.act("start load.reefer.1");
    ship.act("close fuel.diesel.quick-closing");
    let mut passed_s = 0.0;
    while ship.value("dg1.engine.running") > 0.5 {
        ship.run(1.0);
        passed_s += 1.0;
        assert!(passed_s < 180.0, "still running");
    }
    eprintln!("stalled after {passed_s:.0} s");
    assert!(passed_s > 20.0, "{passed_s} s");
}

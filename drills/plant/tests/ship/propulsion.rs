//! The default ship at sea on her shaft generator: steady, at full load, and when the main engine stops.

use crate::hands::Hands;

const ZERO_C_K: f64 = 273.15;

/// Found at sea she stays as she is: no alert, frequency and voltage held.
#[test]
fn at_sea_on_the_shaft_generator_nothing_moves() {
    let mut ship = Hands::on("at sea, shaft generator");
    let alerts = ship.alerts_until("no such alert", 300.0);
    assert!(alerts.is_empty(), "{alerts:?}");
    let kw = ship.value("sg.breaker.power") / 1e3;
    let hz = ship.value("sg.breaker.bus-frequency");
    eprintln!("{kw:.0} kW, {:.1} V, {hz:.2} Hz", ship.value("sg.breaker.bus-voltage"));
    // 380 kW by the load list.
    assert!((kw - 380.0).abs() < 40.0, "{kw} kW");
    assert!((hz - 60.0).abs() < 0.05 && (ship.value("sg.breaker.bus-voltage") - 440.0).abs() < 4.0);
    assert!((ship.value("me.engine.ht-temperature") - ZERO_C_K - 80.5).abs() < 1.5);
}

/// Full load, sea 25 degC: the cooler carries away what the ship's figures say, 2,900 kW, by 11 K at 230 m3/h.
#[test]
fn main_engine_at_full_load_gives_the_sea_what_her_figures_say() {
    let mut ship = Hands::on("at sea, two sets");
    ship.act("set me.engine load 100 %");
    ship.run(3600.0);
    let heat_kw = ship.value("sea.me.cooler.heat") / 1e3;
    let flow_m3_h = ship.value("sea.me.cooler.cold-flow") * 3600.0;
    let out_c = ship.value("sea.me.cooler.cold-outlet-temperature") - ZERO_C_K;
    eprintln!("{heat_kw:.0} kW, {flow_m3_h:.0} m3/h, sea out {out_c:.1} degC");
    assert!((heat_kw / 2900.0 - 1.0).abs() < 0.04, "{heat_kw} kW");
    // 2,900 kW x 3600 / (1,024 kg/m3 x 3,993 J/(kg K)) = 2,553 K m3/h.
    assert!(((out_c - 25.0) * flow_m3_h / 2553.0 - 1.0).abs() < 0.05, "{out_c} degC at {flow_m3_h} m3/h");
    assert!(ship.value("me.engine.slowdown") < 0.5 && ship.value("me.engine.load") > 0.99);
}

/// The main engine shuts down: the board goes dead with it and DG 1 takes it in standby's time.
#[test]
fn the_shaft_generator_goes_with_the_main_engine_and_standby_takes_the_board() {
    let mut ship = Hands::on("at sea, shaft generator");
    ship.run(120.0);
    ship.fault("me.engine", "shuts-down", 1.0);
    let mut passed_s = 0.0;
    while ship.value("sg.breaker.closed") > 0.5 {
        ship.run(0.5);
        passed_s += 0.5;
        assert!(passed_s < 30.0, "the breaker of a machine that runs down stays closed");
    }
    let mut dead_s = 0.0;
    while ship.value("dg1.breaker.closed") < 0.5 {
        ship.run(0.5);
        dead_s += 0.5;
        assert!(dead_s < 45.0, "not connected in 45 s");
    }
    eprintln!("breaker open after {passed_s} s, DG 1 connected {dead_s} s later");
    ship.run(120.0);
    assert!(ship.value("dg1.generator.power") > 50e3);
    // LT water is back, the engine cools, and can be reset and started once it stands.
    assert!(ship.value("me.engine.shutdown") > 0.5);
}

/// LT water lost at 80 %: charge air first, then the slowdown, which is latched; oil and jacket follow.
#[test]
fn main_engine_without_lt_water_is_slowed_down_and_then_shut_down() {
    let mut ship = Hands::on("at sea, two sets");
    ship.run(60.0);
    ship.act("stop me.lt.pump.1");
    let order = ship.alerts_until("me.shutdown", 3600.0);
    eprintln!("{order:?} at {:.0} s", ship.plant.tick as f64 / 20.0);
    let wanted =
        ["me.lt.pressure.low", "me.charge-air.temperature.high", "me.slowdown", "me.ht.temperature.high"];
    let seen: Vec<&str> = order.iter().map(String::as_str).filter(|name| wanted.contains(name)).collect();
    assert_eq!(seen, wanted);
    assert!(ship.value("me.engine.slowdown") > 0.5);
}

/// Control air shut off at 80 %: an alert comes, then the pitch no longer follows; the engine runs on.
#[test]
fn without_control_air_the_pitch_stays_where_it_is() {
    let mut ship = Hands::on("at sea, two sets");
    ship.run(10.0);
    ship.act("close me.control-air.valve");
    let alerts = ship.alerts_until("me.control-air.low", 3600.0);
    assert_eq!(alerts, ["me.control-air.low"]);
    ship.run(1800.0);
    ship.act("set me.engine load 40 %");
    ship.run(60.0);
    assert!((ship.value("me.engine.propeller-load") - 0.8).abs() < 0.01);
    assert!(ship.value("me.engine.running") > 0.5);
    ship.act("open me.control-air.valve");
    ship.run(60.0);
    assert!((ship.value("me.engine.propeller-load") - 0.4).abs() < 0.01);
}

//! The main switchboard of the default ship: power management, transfer, heavy consumer, preferential trip, insulation,
//! restart after a blackout.

use crate::hands::Hands;

fn until(ship: &mut Hands, limit_s: f64, what: &str, holds: impl Fn(&Hands) -> bool) -> f64 {
    let mut passed_s = 0.0;
    while !holds(ship) {
        ship.run(0.1);
        passed_s += 0.1;
        assert!(passed_s < limit_s, "{what}: not within {limit_s} s");
    }
    passed_s
}

#[test]
fn the_bow_thruster_gets_its_power_from_a_second_set() {
    let mut ship = Hands::on("at anchor");
    ship.run(5.0);
    assert_eq!(ship.blocks("start load.bow-thruster")[0].code, "not-granted");
    ship.act("start bow-thruster.request");
    let time_s = until(&mut ship, 60.0, "granted", |s| s.is("bow-thruster.request.granted"));
    eprintln!("thruster granted after {time_s:.1} s");
    assert!(ship.is("dg2.breaker.closed") && ship.value("msb.management.spare") > 450e3);
    ship.act("start load.bow-thruster");
    ship.run(60.0);
    let share = |set: &str| ship.value(&format!("{set}.generator.load-share"));
    eprintln!("with the thruster: {:.2} and {:.2}", share("dg1"), share("dg2"));
    assert!((share("dg1") - share("dg2")).abs() < 0.05 && share("dg1") > 0.4);
    assert!((ship.value("dg1.breaker.bus-frequency") - 60.0).abs() < 0.1);
}

/// In parallel for a transfer only: 30 s at most (the ship's own figure).
#[test]
fn the_board_goes_from_the_shaft_generator_to_a_set_and_back() {
    let mut ship = Hands::on("at sea, shaft generator");
    ship.run(5.0);
    for (source, leaves, takes) in [("generator sets", "sg", "dg1"), ("shaft generator", "dg1", "sg")] {
        ship.act(&format!("set msb.management source {source}"));
        let mut parallel_s = 0.0f64;
        let mut passed_s = 0.0;
        while ship.is(&format!("{leaves}.breaker.closed")) || !ship.is(&format!("{takes}.breaker.closed")) {
            ship.run(0.1);
            passed_s += 0.1;
            parallel_s = parallel_s.max(ship.value("msb.management.in-parallel"));
            assert!(passed_s < 120.0, "to {source}");
            assert!(ship.value("dg1.breaker.bus-voltage") > 400.0);
        }
        eprintln!("to the {source}: {passed_s:.0} s, in parallel {parallel_s:.1} s");
        assert!(parallel_s > 0.0 && parallel_s <= 30.0, "{parallel_s}");
        ship.run(30.0);
    }
}

/// One of two sets is lost with the thruster on: preferential trip relieves the other, which stays on the board.
#[test]
fn preferential_trip_keeps_the_last_set_on_the_board() {
    let mut ship = Hands::on("at anchor");
    ship.run(5.0);
    ship.act("start bow-thruster.request");
    until(&mut ship, 60.0, "granted", |s| s.is("bow-thruster.request.granted"));
    ship.act("start load.bow-thruster");
    for reefer in ["load.reefer.2", "load.reefer.3"] {
        ship.act(&format!("start {reefer}"));
        ship.run(5.0);
    }
    let before_kw = ship.value("msb.management.load") / 1e3;
    ship.manage_by_hand();
    ship.act("open dg2.breaker");
    let time_s = until(&mut ship, 15.0, "first stage", |s| s.is("load.reefer.1.shed"));
    ship.run(60.0);
    let (after_kw, hz) = (ship.value("msb.management.load") / 1e3, ship.value("dg1.breaker.bus-frequency"));
    eprintln!(
        "{before_kw:.0} kW on one set: stage 1 after {time_s:.1} s, {after_kw:.0} kW and {hz:.1} Hz a minute on"
    );
    assert!(ship.is("dg1.breaker.closed") && hz > 58.0, "{hz}");
    assert!(after_kw < before_kw - 50.0);
    // Each is reset by hand before it is switched on again.
    assert_eq!(ship.blocks("start load.reefer.1")[0].code, "shed");
    ship.act("reset load.reefer.1");
    assert!(ship.blocks("start load.reefer.1").is_empty());
}

#[test]
fn after_a_blackout_the_chosen_pump_comes_back_at_its_place_and_its_twin_does_not() {
    let mut ship = Hands::on("at sea, two sets");
    ship.run(5.0);
    ship.act("start sea.pump.2");
    ship.run(10.0);
    ship.act("open dg1.breaker");
    ship.act("open dg2.breaker");
    ship.run(0.2);
    let dead_s = until(&mut ship, 45.0, "a set", |s| s.value("dg1.breaker.bus-voltage") > 400.0);
    eprintln!("board live again after {dead_s:.1} s");
    // Two sets are running still: the first of them in the start order is back at once.
    assert!(dead_s <= 10.0);
    let time_s = until(&mut ship, 30.0, "sea water pump", |s| s.is("sea.pump.1.running"));
    assert!((5.0..8.0).contains(&time_s), "its place is at 6 s: {time_s}");
    ship.run(60.0);
    assert!(!ship.is("sea.pump.2.running"));
    // It trips: the twin is its standby start.
    ship.fault("sea.pump.1", "overload-relay-trips", 1.0);
    until(&mut ship, 5.0, "standby start", |s| s.is("sea.pump.2.running"));
}

#[test]
fn an_earth_fault_alerts_and_is_found_feeder_by_feeder() {
    let mut ship = Hands::on("at anchor");
    ship.run(20.0);
    let healthy_ohm = ship.value("msb.insulation.resistance");
    eprintln!("main switchboard at anchor: {:.0} kilohm", healthy_ohm / 1e3);
    assert!(healthy_ohm > 150e3, "{healthy_ohm}");
    ship.fault("load.galley", "insulation-low", 0.7);
    let alerts = ship.alerts_until("msb.insulation.low", 60.0);
    assert!(alerts.iter().any(|name| name == "msb.insulation.low"), "{alerts:?}");
    ship.act("open panel.2.breaker");
    ship.run(15.0);
    assert!(ship.value("msb.insulation.resistance") < 80e3);
    ship.act("open board.2.breaker");
    ship.run(15.0);
    assert!(ship.value("msb.insulation.resistance") > 150e3);
}

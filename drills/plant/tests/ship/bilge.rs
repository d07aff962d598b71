//! The bilge well of the engine room: where what leaks on any level is found.

use crate::hands::Hands;
use crate::ships::SHIPS;

fn content_m3(hands: &Hands) -> f64 {
    hands.value("bilge.well.volume")
}

/// A jacket seal on the flat loses 0.6 m3/h for each bar in the jacket: so much stands in the well below, from the first
/// tick on.
#[test]
fn a_jacket_leak_stands_in_the_bilge_well() {
    for ship in &SHIPS {
        let mut hands = Hands::on_ship(ship.name, "at anchor", "");
        hands.run(10.0);
        let before_m3 = content_m3(&hands);
        // What the shut drain cocks of the sumps pass.
        assert!(hands.value("bilge.well.inflow") < 1e-8);
        hands.fault("dg1.engine", "jacket-leaks", 0.5);
        let mut lost_m3 = 0.0;
        for tick in 0..12_000 {
            // The leak answers to the pressure that the tick before left.
            lost_m3 +=
                0.5 * 0.6 / 3600.0 * (hands.value("dg1.engine.ht-pressure") / 1e5).clamp(0.0, 2.0) * 0.05;
            hands.run(0.05);
            assert!(tick > 0 || hands.value("bilge.well.inflow") > 1e-5, "within the tick");
        }
        let found_m3 = content_m3(&hands) - before_m3;
        eprintln!("{}: {:.2} L lost, {:.2} L in the well", ship.name, 1e3 * lost_m3, 1e3 * found_m3);
        assert!((found_m3 / lost_m3 - 1.0).abs() < 0.01, "{}: {found_m3} of {lost_m3} m3", ship.name);
    }
}

/// A cracked service tank brings the alert within minutes; its pump, to the holding tank, takes it away again and stops
/// with its supply.
#[test]
fn a_cracked_tank_brings_the_alert_and_the_pump_takes_it_away() {
    for ship in &SHIPS {
        let mut hands = Hands::on_ship(ship.name, "at anchor", "");
        hands.run(1.0);
        let fuel_m3 = hands.value("fuel.diesel.tank.volume");
        let before_m3 = content_m3(&hands);
        hands.fault("fuel.diesel.tank", "leaks", 0.5);
        let came = hands.alerts_until("bilge.well.high", 900.0);
        assert!(came.iter().any(|name| name == "bilge.well.high"), "{}: {came:?}", ship.name);
        hands.fault("fuel.diesel.tank", "leaks", 0.0);
        let (lost_m3, found_m3) =
            (fuel_m3 - hands.value("fuel.diesel.tank.volume"), content_m3(&hands) - before_m3);
        // The sets burn a little of it meanwhile.
        assert!(found_m3 <= lost_m3 && found_m3 > 0.9 * lost_m3, "{}: {found_m3} of {lost_m3}", ship.name);
        let full_m3 = content_m3(&hands);
        hands.act_remote("start bilge.well");
        assert!(hands.until(600.0, |h| content_m3(h) <= 0.0).is_some(), "{}", ship.name);
        assert!((hands.value("bilge.well.pumped") - full_m3).abs() < 1e-6);
        let compiled = hands.plant.compiled.clone();
        let alert = compiled.spec.alerts.iter().position(|alert| alert.name == "bilge.well.high");
        assert!(!hands.plant.alert_on(alert.expect("an alert")), "{}", ship.name);
        hands.act("open esb.interconnector");
        hands.run(1.0);
        assert!(!hands.is("bilge.well.pump-on"), "{}: it drops out without voltage", ship.name);
    }
}

/// Oil drained from a sump is found there.
#[test]
fn a_drained_sump_is_found_in_the_bilge_well() {
    for ship in &SHIPS {
        let mut hands = Hands::on_ship(ship.name, "at anchor", "");
        hands.run(1.0);
        let before_m3 = content_m3(&hands) + hands.value("dg2.sump.tank.volume");
        hands.act("open dg2.sump.drain");
        hands.run(60.0);
        let drained_m3 = before_m3 - content_m3(&hands) - hands.value("dg2.sump.tank.volume");
        assert!(content_m3(&hands) > 0.15, "{}", ship.name);
        assert!(drained_m3.abs() < 0.01, "{}: {drained_m3} m3 on no one's books", ship.name);
    }
}

//! Both ships against the heat balance of their own data (a lumped model that shares no code with the plant;
//! docs/physics.md lists the figures), and what the default ship does without fuel and for hours.

use crate::hands::Hands;
use crate::ships::{SHIPS, Ship, TEMPERATURES};

const ZERO_C_K: f64 = 273.15;

/// DG 1 at 60 % of its shaft power, warm, cooled by the harbour pump.
fn loaded_and_warm(ship: &Ship) -> Hands {
    let mut hands = Hands::on_ship(ship.name, "at anchor", &ship.load_bank());
    hands.manage_by_hand();
    hands.run(5.0);
    hands.act("start bank");
    // The circulation that keeps the standby set warm would take a tenth of the heat to it.
    hands.act("stop preheat.pump");
    hands.act("close dg1.preheat.valve");
    hands.act("close dg2.preheat.valve");
    let mut uses = 0.0;
    for _ in 0..4 {
        uses += 0.6 - hands.value("dg1.engine.load");
        hands.act(&format!("set bank use {:.2} %", 100.0 * uses.max(0.0)));
        hands.run(20.0);
    }
    hands.run(1800.0);
    hands
}

fn near(ship: &Hands, name: &str, to_shown: impl Fn(f64) -> f64, expected: f64, by: f64) {
    let value = to_shown(ship.value(name));
    eprintln!("{name}: {value:.2}, expected {expected}");
    assert!((value - expected).abs() <= by, "{name}: {value} instead of {expected} within {by}");
}

/// Without sea water: the limits are passed in their order and near to the times of the heat balance, the last of them
/// shuts the set down. With the flow back a minute after the HT alert it is saved.
#[test]
fn a_loaded_set_settles_at_its_heat_balance_and_warms_as_it_says_without_sea_water() {
    for ship in &SHIPS {
        let mut hands = loaded_and_warm(ship);
        let celsius = |kelvin: f64| kelvin - ZERO_C_K;
        near(&hands, "dg1.engine.load", |x| 100.0 * x, 60.0, 2.0);
        for (name, (expected, by)) in TEMPERATURES.iter().zip(ship.at_60) {
            near(&hands, name, celsius, expected, by);
        }
        near(&hands, "dg1.engine.lube-pressure", |x| x / 1e5, 4.2, 0.2);
        hands.act("stop sea.pump.harbour");
        let mut passed_s = 0.0;
        let mut at_alert = None;
        for &(name, limit, expected_min) in ship.without_sea_water {
            while hands.value(name) < limit + ZERO_C_K {
                hands.run(1.0);
                passed_s += 1.0;
                assert!(passed_s < 1500.0, "{name} stays below {limit}");
            }
            let minutes = passed_s / 60.0;
            eprintln!("{}: {name} {limit} degC after {minutes:.1} min, expected {expected_min}", ship.name);
            // The lumped model loses nothing to the room and knows no length of pipe.
            assert!((0.9..1.35).contains(&(minutes / expected_min)), "{name} {limit}: {minutes} min");
            if limit == 92.0 {
                at_alert = Some(hands.plant.clone());
            }
        }
        hands.run(5.0);
        assert_eq!(hands.value("dg1.controls.shutdown"), 2.0, "HT temperature");
        assert!(
            hands.is("dg2.breaker.closed") || hands.until(40.0, |h| h.is("dg2.breaker.closed")).is_some()
        );
        let mut saved = Hands { plant: at_alert.expect("the alert came") };
        saved.run(60.0);
        saved.act("start sea.pump.harbour");
        saved.run(300.0);
        assert!(
            saved.is("dg1.breaker.closed") && saved.value("dg1.controls.shutdown") < 0.5,
            "{}",
            ship.name
        );
        near(&saved, "dg1.engine.ht-temperature", celsius, 78.5, 3.0);
    }
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

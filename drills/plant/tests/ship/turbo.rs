//! The turbo generator of the second ship: brought in step and sharing load, lost with its vacuum, and never motored.

use crate::hands::Hands;

const AT_ANCHOR: &[&str] = &[
    "open sea.condenser.valve",
    "open tg.sea.inlet",
    "start load.vacuum-pump",
    "set steam.header pressure 7 bar",
    "start tg.lube.start",
    "set tg.turbine warming on",
];

/// Steam, vacuum, oil and warming through; run up, excited, brought in step by the synchroniser beside a diesel
/// generator, and by the power management to an equal share.
#[test]
fn a_turbo_generator_is_run_up_and_shares_the_load() {
    let mut ship = Hands::on_ship("tamberwick", "at anchor", "");
    ship.run(5.0);
    let codes = |ship: &Hands| -> Vec<&str> {
        ship.blocks("start tg.turbine").iter().map(|block| block.code).collect()
    };
    assert!(codes(&ship).len() >= 3, "cold it names vacuum, oil and warming: {:?}", codes(&ship));
    AT_ANCHOR.iter().for_each(|act| ship.act(act));
    assert!(ship.until(600.0, |h| h.value("tg.condenser.vacuum") > 0.9e5).is_some());
    assert!(ship.until(600.0, |h| h.is("tg.turbine.ready-to-start")).is_some(), "{:?}", codes(&ship));
    ship.act("start tg.turbine");
    let up = ship.until(300.0, |h| h.is("tg.turbine.running")).expect("at speed");
    assert!(up > 60.0, "run up in {up} s");
    ship.act("set tg.generator excitation on");
    ship.run(10.0);
    ship.act("set msb.synchronising incoming 3");
    ship.act("set msb.synchronising mode automatic");
    assert!(ship.until(120.0, |h| h.is("tg.breaker.closed")).is_some(), "not in step");
    ship.run(5.0);
    ship.act("set tg.standby mode automatic");
    ship.run(120.0);
    let shares = [ship.value("dg1.breaker.power") / 950e3, ship.value("tg.breaker.power") / 700e3];
    eprintln!("diesel and turbo generator carry {:.1} and {:.1} %", 100.0 * shares[0], 100.0 * shares[1]);
    assert!((shares[0] - shares[1]).abs() < 0.05, "{shares:?}");
    assert!((ship.value("dg1.breaker.bus-frequency") - 60.0).abs() < 0.1);
}

/// Sea water shut at the condenser at sea: vacuum alert, trip, dark board, and the diesel generator in standby takes it
/// in the time of IACS UI SC157 (from memory).
#[test]
fn without_its_vacuum_it_trips_and_the_standby_set_takes_the_board() {
    let mut ship = Hands::on_ship("tamberwick", "at sea", "");
    ship.run(5.0);
    ship.act("close sea.condenser.valve");
    let mut alerts = ship.alerts_until("tg.tripped", 600.0);
    alerts.retain(|name| name.starts_with("tg."));
    assert_eq!(alerts, ["tg.vacuum.low", "tg.tripped"]);
    let dead = ship.until(20.0, |h| h.value("dg1.breaker.bus-voltage") < 0.15 * 440.0).expect("a dead board");
    let taken = ship.until(30.0, |h| h.is("dg1.breaker.closed")).expect("standby in 30 s");
    eprintln!("board dead {dead:.1} s after the trip, taken {taken:.1} s later");
    ship.run(60.0);
    assert!(
        ship.is("sea.pump.1.running") && ship.is("load.steering.1.on") && ship.is("me.lube.pump.1.running")
    );
    assert!(!ship.is("tg.breaker.closed"));
}

/// Steam lost beside a diesel generator: it is driven, and reverse power of 4 % opens its breaker after 5 s.
#[test]
fn it_is_not_driven_by_the_other_set() {
    let mut ship = Hands::on_ship("tamberwick", "at sea", "");
    ship.run(5.0);
    ship.act("start dg1.standby");
    assert!(ship.until(60.0, |h| h.is("dg1.breaker.closed")).is_some());
    ship.run(30.0);
    ship.act_remote("stop tg.turbine");
    let opened = ship.until(20.0, |h| !h.is("tg.breaker.closed")).expect("reverse power");
    eprintln!("reverse power opens after {opened:.1} s");
    assert_eq!(ship.value("tg.breaker.tripped"), 4.0, "reverse power");
    assert!((5.0..8.0).contains(&opened), "{opened}");
    ship.run(10.0);
    assert!(ship.is("dg1.breaker.closed") && ship.value("dg1.breaker.power") > 450e3);
}

//! How long stored energy lasts on both ships, and what a change-over takes away. Standards are quoted from memory.

use crate::hands::Hands;
use crate::ships::{SHIPS, bank};

/// Three starts of each set from one receiver without refilling (IACS UR M61 asks for three of each engine that is
/// not a main engine), and the emergency generator three times on its battery, not charged meanwhile (SOLAS II-1/44).
#[test]
fn each_set_starts_three_times_without_refilling() {
    for ship in &SHIPS {
        let mut hands = Hands::on_ship(ship.name, "at anchor", "");
        for set in ship.sets {
            hands.act_remote(&format!("set {set}.standby mode manual"));
        }
        for compressor in ["1", "2", "emergency"] {
            hands.act(&format!("set air.compressor.{compressor}.switch selector manual"));
        }
        let full_pa = hands.value("air.receiver.1.pressure");
        // The sets are alike: the one in standby takes the starts of all of them.
        for start in 1..=3 * ship.sets.len() {
            hands.act_remote("start dg2.controls");
            let up = hands.until(30.0, |h| h.is("dg2.controls.running"));
            assert!(up.is_some(), "{}, start {start}", ship.name);
            assert_eq!(hands.value("dg2.controls.tries"), 1.0);
            hands.act_remote("stop dg2.controls");
            let stopped = hands.until(240.0, |h| h.value("dg2.controls.phase") < 0.5);
            assert!(stopped.is_some(), "{}: it does not stop", ship.name);
        }
        let left_bar = hands.value("air.receiver.1.pressure") / 1e5;
        eprintln!(
            "{}: {} starts from one receiver of {:.1} bar leave {left_bar:.1} bar",
            ship.name,
            3 * ship.sets.len(),
            full_pa / 1e5
        );
        assert!(hands.value("air.receiver.1.pressure") < full_pa - 1e5);
        assert!(
            hands.value("air.compressor.1.running") < 0.5 && hands.value("air.compressor.2.running") < 0.5
        );
    }
}

/// IACS UR M61: six starts of a main engine that is not reversed, twelve of one that is, from both receivers without
/// refilling.
#[test]
fn the_main_engine_starts_as_often_as_the_rule_wants() {
    for ship in &SHIPS {
        let mut hands = Hands::on_ship(ship.name, "at anchor", "");
        hands.run(1.0);
        for compressor in ["1", "2", "emergency"] {
            hands.act(&format!("set air.compressor.{compressor}.switch selector manual"));
        }
        for act in ["set me.engine turning-gear out", "open me.fuel.valve", "open me.air.valve"] {
            hands.act(act);
        }
        hands.act("open air.receiver.2.valve");
        for pump in ship.main_engine_needs {
            hands.act(&format!("start {pump}"));
            hands.run(8.0);
        }
        for start in 1..=ship.main_engine_starts {
            hands.act("start me.engine");
            let up = hands.until(60.0, |h| h.is("me.engine.running"));
            assert!(up.is_some(), "{}, start {start}", ship.name);
            hands.act("stop me.engine");
            assert!(hands.until(240.0, |h| h.value("me.engine.phase") < 0.5).is_some(), "{}", ship.name);
            hands.run(5.0);
        }
        let left_pa = hands.value("air.receiver.1.pressure");
        eprintln!("{}: {} starts leave {:.1} bar", ship.name, ship.main_engine_starts, left_pa / 1e5);
        assert!(left_pa < 25e5);
    }
}

#[test]
fn the_emergency_set_starts_three_times_on_its_battery() {
    for ship in &SHIPS {
        let uncharged = ("engine = \"eg.engine\"\nsupply = \"esb\"", "engine = \"eg.engine\"");
        let mut hands = Hands::on_changed(ship.name, "at anchor", "", uncharged);
        for start in 1..=3 {
            hands.act_remote("start eg.controls");
            let up = hands.until(30.0, |h| h.is("eg.controls.running"));
            assert!(up.is_some(), "{}, start {start}", ship.name);
            hands.act_remote("stop eg.controls");
            assert!(hands.until(240.0, |h| h.value("eg.controls.phase") < 0.5).is_some());
        }
        let left = hands.value("eg.battery.charge");
        eprintln!("{}: three starts leave {:.0} % in the battery", ship.name, 100.0 * left);
        assert!(left > 0.5 && left < 0.99, "{left}");
    }
}

/// SOLAS II-1/43: fuel for 18 h. Held at full load, which is more than the emergency services take.
#[test]
fn the_emergency_set_has_fuel_for_18_hours() {
    for ship in &SHIPS {
        let rated_w = ship.emergency_w;
        let mut hands = Hands::on_ship(ship.name, "dead ship", &bank("bank", "esb", rated_w));
        hands.run(10.0);
        hands.act("start bank");
        // What is on already, and as much of the bank as brings it near to its rating.
        let on_already = hands.value("esb.transfer.power") / rated_w;
        hands.act(&format!("set bank use {:.2} %", 100.0 * (0.97 - on_already)));
        hands.run(300.0);
        let load_w = hands.value("eg.generator.power");
        let before_m3 = hands.value("eg.fuel.tank.volume");
        hands.run(600.0);
        let per_hour_m3 = 6.0 * (before_m3 - hands.value("eg.fuel.tank.volume"));
        // What the outlet does not reach counts as nothing.
        let usable_m3 = before_m3 - 0.05 * before_m3;
        let hours = usable_m3 / per_hour_m3;
        eprintln!("{}: {:.0} kW take {:.1} L/h: {hours:.1} h", ship.name, load_w / 1e3, 1e3 * per_hour_m3);
        assert!(load_w > 0.9 * rated_w, "{load_w}");
        assert!(hours >= 18.0, "{}: {hours} h", ship.name);
    }
}

/// At a change-over everything on the emergency switchboard is without voltage for the gap of the interlock, not more;
/// the harbour pump stays off, the standby fuel pump comes back by itself.
#[test]
fn a_change_over_takes_the_emergency_consumers_away_for_its_gap() {
    for ship in &SHIPS {
        let mut hands = Hands::on_ship(ship.name, "at anchor", "");
        hands.run(1.0);
        hands.act("start fuel.pump.standby");
        hands.act_remote("start eg.controls");
        assert!(hands.until(30.0, |h| h.is("esb.transfer.emergency-available")).is_some());
        hands.run(5.0);
        hands.act("set esb.transfer supply emergency");
        let (mut dead_s, dead_below_v) = (0.0, 0.3 * 440.0);
        for _ in 0..200 {
            hands.run(0.05);
            if hands.value("esb.transfer.voltage") < dead_below_v {
                dead_s += 0.05;
            }
        }
        eprintln!("{}: emergency switchboard dead for {dead_s:.2} s", ship.name);
        assert!((0.5..=0.7).contains(&dead_s), "{dead_s}");
        assert_eq!(hands.value("esb.transfer.supply"), 2.0);
        assert!(!hands.is("sea.pump.harbour.running") && hands.is("fuel.pump.standby.running"));
        assert!(hands.is("dg1.breaker.closed"), "the main switchboard does not feel it");
    }
}

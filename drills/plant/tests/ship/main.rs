//! The ships as a whole: what stands in the way of a start, who wins a bus, what restarts by itself, what becomes of a
//! set without sea water, the figures of the standards, steady states, and that the same acts give the same numbers.

mod balance;
mod bilge;
mod board;
mod hands;
mod propulsion;
mod ships;
mod standards;
mod states;
mod supplies;
mod turbo;
mod warming;

use deadship_plant::kind::Block;
use hands::Hands;

fn codes(blocks: &[Block]) -> Vec<&'static str> {
    blocks.iter().map(|block| block.code).collect()
}

#[test]
fn a_dead_set_names_everything_that_stands_in_the_way_of_a_start() {
    let mut ship = Hands::on("dead ship");
    ship.run(1.0);
    let blocks = ship.blocks("start dg1.controls");
    let expected = ["shutdown-not-reset", "turning-gear-in", "not-primed", "starting-air-low", "no-fuel"];
    for code in expected {
        assert!(codes(&blocks).contains(&code), "{code} is missing in {blocks:?}");
    }
    assert!(blocks.iter().all(|block| !block.text.is_empty()));
    // From afar the control position is in the way as well.
    assert!(codes(&ship.blocks_remote("start dg1.controls")).contains(&"wrong-control-position"));
    // Standby names its own reasons and those of the set.
    let blocks = ship.blocks_remote("set dg1.standby mode automatic");
    for code in ["priming-not-automatic", "control-not-remote", "shutdown-not-reset", "blocking-alert"] {
        assert!(codes(&blocks).contains(&code), "{code} is missing in {blocks:?}");
    }
}

#[test]
fn nothing_starts_a_main_engine_but_air() {
    let mut ship = Hands::lined_up_without_air(&["dg1"]);
    // Everything else is ready and the emergency set runs: it cannot turn a main engine.
    assert_eq!(codes(&ship.blocks("start dg1.controls")), ["starting-air-low"]);
    ship.act("open air.receiver.emergency.valve");
    ship.run(1.0);
    assert!(ship.blocks("start dg1.controls").is_empty(), "{:?}", ship.blocks("start dg1.controls"));
}

#[test]
fn a_set_starts_gives_no_voltage_until_excited_and_takes_the_dead_bus() {
    let mut ship = Hands::lined_up(&["dg1", "dg2"]);
    ship.act("start dg1.controls");
    ship.run(20.0);
    assert!(
        (ship.value("dg1.engine.speed") / 94.25 - 1.0).abs() < 0.03,
        "{}",
        ship.value("dg1.engine.speed")
    );
    assert!(ship.value("dg1.generator.voltage") < 30.0);
    assert!(codes(&ship.blocks("close dg1.breaker")).contains(&"not-excited"));
    ship.act("set dg1.generator excitation on");
    ship.act("start dg2.controls");
    ship.run(20.0);
    ship.act("set dg2.generator excitation on");
    ship.run(10.0);
    assert!((ship.value("dg1.generator.voltage") - 440.0).abs() < 9.0);
    assert_eq!(codes(&ship.blocks("close dg1.breaker")), ["insulation-not-checked"]);
    ship.act("start msb.insulation");
    ship.run(0.1);
    // Two want the dead bus at the same tick: the first gets it.
    assert!(ship.blocks("close dg1.breaker").is_empty() && ship.blocks("close dg2.breaker").is_empty());
    ship.act("close dg1.breaker");
    ship.act("close dg2.breaker");
    ship.run(1.0);
    assert!(!ship.blocks("close dg2.breaker").is_empty());
    assert!(ship.value("dg1.breaker.closed") > 0.5 && ship.value("dg2.breaker.closed") < 0.5);
}

#[test]
fn the_change_over_takes_the_harbour_pump_and_gives_the_fuel_pump_back() {
    let mut ship = Hands::on_the_board();
    ship.run(12.0);
    ship.act("set esb.transfer supply normal");
    ship.run(8.0);
    assert_eq!(ship.value("esb.transfer.supply"), 1.0);
    assert!(ship.value("sea.pump.harbour.running") < 0.5, "it restarts by hand only");
    assert!(ship.value("fuel.pump.standby.running") > 0.5, "it restarts by itself");
    let flow_m3_h = ship.value("dg1.cooler.cold-flow") * 3600.0;
    assert!(flow_m3_h < 1.0, "{flow_m3_h} m3/h");
    ship.act("start sea.pump.harbour");
    ship.run(8.0);
    assert!(ship.value("dg1.cooler.cold-flow") * 3600.0 > 40.0);
}

/// Order of the alerts by heat balance: LT first, charge air and oil with it, the block last.
#[test]
fn a_loaded_set_without_sea_water_trips_on_ht_after_its_alerts_in_order() {
    let mut ship = Hands::on_the_board();
    for act in
        ["close board.2.breaker", "close board.3.breaker", "start load.galley", "start load.air-conditioning"]
    {
        ship.act(act);
        ship.run(1.0);
    }
    for load in ["reefer.1", "reefer.2", "reefer.3", "reefer.4", "hydrophore", "refrigeration.1"] {
        ship.act(&format!("start load.{load}"));
        ship.run(2.0);
    }
    ship.run(900.0);
    ship.act("stop sea.pump.harbour");
    let order = ship.alerts_until("dg1.shutdown", 2400.0);
    let wanted = [
        "sea.header.low",
        "dg1.lt.temperature.high",
        "dg1.charge-air.temperature.high",
        "dg1.lube.temperature.high",
        "dg1.ht.temperature.high",
        "dg1.shutdown",
    ];
    let seen: Vec<&str> = order.iter().map(String::as_str).filter(|name| wanted.contains(name)).collect();
    assert_eq!(seen, wanted);
    ship.run(60.0);
    assert!(ship.value("dg1.engine.speed") < 1.0);
    assert!(codes(&ship.blocks("start dg1.controls")).contains(&"shutdown-not-reset"));
}

#[test]
fn the_same_acts_give_the_same_numbers_also_over_a_checkpoint() {
    let mut one = Hands::lined_up(&["dg1"]);
    let mut other = Hands::lined_up(&["dg1"]);
    assert_eq!(one.plant.digest(), other.plant.digest());
    let saved = one.plant.checkpoint();
    assert!(saved.len() < 1 << 20, "{} bytes", saved.len());
    one.act("start dg1.controls");
    one.run(15.0);
    let mut fresh = Hands::on("dead ship");
    fresh.plant.restore(&saved).expect("it is the same ship");
    for ship in [&mut other, &mut fresh] {
        ship.act("start dg1.controls");
        ship.run(15.0);
        assert_eq!(ship.plant.digest(), one.plant.digest());
    }
}

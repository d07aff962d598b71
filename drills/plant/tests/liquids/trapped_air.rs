//! Air that stays in pumps, strainers, filters and coolers until it is vented.

use super::hands::Hands;
use super::rig::{Check, Rig};
use deadship_plant::kind::Verb;

fn rig() -> Rig {
    let text = include_str!("../../../data/rigs/liquid-trapped-air.toml");
    let mut rig = Rig::new(text, Some("running"));
    rig.run(20.0);
    rig
}

/// A turning pump that drew air stays without head when the cause is gone, until it is vented.
#[test]
fn a_turning_pump_that_drew_air_must_be_vented() {
    let mut rig = rig();
    let flow = rig.value("sea.pump.flow");
    rig.fault("sea.pump", "loses-suction", 1.0);
    rig.run(10.0);
    rig.fault("sea.pump", "loses-suction", 0.0);
    rig.run(300.0);
    assert!(rig.value("sea.pump.flow") < 0.01 * flow, "it does not clear itself while it turns");
    assert_eq!(rig.value("sea.pump.vent-cock"), 2.0);
    rig.act("sea.pump", Verb::Vent, "", 0.0);
    rig.run(40.0);
    let mut check = Check::new("pump vented, flow as before", 0.01);
    check.add("m3/s", rig.value("sea.pump.flow"), flow);
    check.finish();
    assert_eq!(rig.value("sea.pump.vent-cock"), 0.0);
}

/// Stopped with its suction flooded it loses the air upwards: gone to 2 % in four time constants of a minute.
#[test]
fn a_standing_pump_that_is_flooded_vents_itself() {
    let mut rig = rig();
    let flow = rig.value("sea.pump.flow");
    rig.fault("sea.pump", "loses-suction", 1.0);
    rig.run(20.0);
    rig.fault("sea.pump", "loses-suction", 0.0);
    rig.act("sea.drive", Verb::Set, "speed", 0.0);
    rig.run(30.0);
    assert_eq!(rig.value("sea.pump.vent-cock"), 2.0, "not at once");
    rig.run(210.0);
    rig.act("sea.drive", Verb::Set, "speed", 1770.0 * std::f64::consts::PI / 30.0);
    rig.run(40.0);
    assert!((rig.value("sea.pump.flow") / flow - 1.0).abs() < 0.03, "{}", rig.value("sea.pump.flow"));
}

/// Its valve shut, the pump pulls the line down; there is nothing to vent with.
#[test]
fn venting_needs_liquid_that_presses() {
    let mut rig = rig();
    rig.act("sea.valve", Verb::Close, "", 0.0);
    rig.run(30.0);
    assert_eq!(rig.codes("sea.pump", Verb::Vent), ["not-flooded"]);
    rig.act("sea.valve", Verb::Open, "", 0.0);
    rig.run(60.0);
    assert!(rig.codes("sea.pump", Verb::Vent).is_empty());
    assert_eq!(rig.value("sea.pump.vent-cock"), 0.0, "vapour is gone when the water is back");
}

/// A strainer is opened between its own valves alone, holds air then, and is itself again when vented.
#[test]
fn a_strainer_is_isolated_opened_and_vented() {
    let mut rig = rig();
    let resistance =
        |rig: &Rig| rig.value("sea.strainer.difference") / libm::pow(rig.value("sea.strainer.flow"), 2.0);
    let clean = resistance(&rig);
    rig.fault("sea.strainer", "clogs", 0.5);
    rig.run(1.0);
    assert_eq!(rig.codes("sea.strainer", Verb::Reset), ["not-isolated"]);
    rig.act("sea.drive", Verb::Set, "speed", 0.0);
    rig.run(20.0);
    assert_eq!(rig.codes("sea.strainer", Verb::Reset), ["not-isolated"], "no flow is not isolation");
    rig.act("sea.strainer", Verb::Close, "", 0.0);
    rig.run(1.0);
    assert_eq!(rig.codes("sea.strainer", Verb::Vent), ["isolated"]);
    rig.act("sea.strainer", Verb::Reset, "", 0.0);
    rig.fault("sea.strainer", "clogs", 0.0);
    rig.act("sea.strainer", Verb::Open, "", 0.0);
    rig.act("sea.drive", Verb::Set, "speed", 1770.0 * std::f64::consts::PI / 30.0);
    rig.run(60.0);
    assert_eq!(rig.value("sea.strainer.vent-cock"), 2.0);
    let mut check = Check::new("strainer opened and vented, resistance", 0.02);
    check.add("with air", resistance(&rig), 4.0 * clean);
    rig.act("sea.strainer", Verb::Vent, "", 0.0);
    rig.run(30.0);
    check.add("vented", resistance(&rig), clean);
    check.finish();
}

/// The chamber that was cleaned has air in it: changed over to, its difference is twice that of a clean one.
#[test]
fn a_filter_chamber_is_vented_after_it_was_opened() {
    let mut rig = rig();
    let resistance = |rig: &Rig| rig.value("oil.filter.difference") / rig.value("oil.filter.flow");
    let clean = resistance(&rig);
    rig.act("oil.filter", Verb::Reset, "", 0.0);
    rig.act("oil.filter", Verb::Set, "chamber", 1.0);
    rig.run(30.0);
    assert_eq!(rig.value("oil.filter.vent-cock-2"), 2.0);
    let mut check = Check::new("filter chamber opened and vented, resistance", 0.02);
    check.add("with air", resistance(&rig), 2.0 * clean);
    rig.act("oil.filter", Verb::Vent, "", 0.0);
    rig.run(30.0);
    check.add("vented", resistance(&rig), clean);
    check.finish();
}

/// Air in a cooler outlives the fault that brought it, and goes by venting even while the fault stands.
#[test]
fn a_cooler_is_vented() {
    let mut ship = Hands::on("at sea, two sets");
    ship.run(30.0);
    let flow = ship.value("dg1.oil-cooler.hot-flow");
    ship.fault("dg1.oil-cooler", "warm-side-air-locked", 0.8);
    ship.run(2.0);
    ship.fault("dg1.oil-cooler", "warm-side-air-locked", 0.0);
    ship.run(2.0);
    assert_eq!(ship.value("dg1.oil-cooler.vent-cock"), 2.0);
    assert!(ship.value("dg1.oil-cooler.hot-flow") < 0.9 * flow);
    ship.act("vent dg1.oil-cooler");
    ship.run(2.0);
    assert!((ship.value("dg1.oil-cooler.hot-flow") / flow - 1.0).abs() < 0.05);
    ship.fault("dg1.oil-cooler", "warm-side-air-locked", 0.8);
    ship.run(2.0);
    ship.act("vent dg1.oil-cooler");
    ship.run(2.0);
    assert_eq!(ship.value("dg1.oil-cooler.vent-cock"), 0.0);
}

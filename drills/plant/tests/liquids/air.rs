//! Starting air: the first charge, and the water in it.

use super::rig::{Check, Rig};
use deadship_plant::kind::Verb;

const R: f64 = 287.055;
const ROOM_K: f64 = 301.15;
const ATMOSPHERE_PA: f64 = 101_325.0;

/// Time (s) of filling 1 m3 to 30 bar by the balance alone: eta_v = 1 - c (r^(1/(z n)) - 1), isothermal.
fn filling_s() -> f64 {
    let eta = |p: f64| 1.0 - 0.05 * (libm::pow(p / ATMOSPHERE_PA, 1.0 / 2.6) - 1.0);
    let full = 30e5 + ATMOSPHERE_PA;
    let free_kg_s = ATMOSPHERE_PA / (R * ROOM_K) * 33.0 / 3600.0 / eta(full);
    let (mut p, mut time_s) = (ATMOSPHERE_PA, 5.0);
    while p < full {
        p += free_kg_s * eta(p) * R * ROOM_K;
        time_s += 1.0;
    }
    time_s
}

/// Water of saturated air of this share of saturation, kg/kg; saturation by Magnus (from memory).
fn holds(celsius: f64, share: f64, pressure_pa: f64) -> f64 {
    let vapour_pa = share * 611.2 * libm::exp(17.62 * celsius / (243.12 + celsius));
    0.62198 * vapour_pa / (pressure_pa - vapour_pa)
}

#[test]
fn both_compressors_fill_both_receivers_within_an_hour_and_make_water() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/air-first-charge.toml"), None);
    let expected_s = filling_s();
    let mut expected_kg = 0.0;
    while rig.value("side.1.receiver.true-pressure") < 30e5 && rig.time_s() < 5000.0 {
        let before = rig.value("side.1.receiver.mass");
        rig.run(1.0);
        let gained = rig.value("side.1.receiver.mass") - before;
        let absolute = rig.value("side.1.receiver.true-pressure") + ATMOSPHERE_PA;
        let celsius = rig.value("side.1.receiver.temperature") - 273.15;
        expected_kg += gained * (holds(28.0, 0.7, ATMOSPHERE_PA) - holds(celsius, 1.0, absolute)).max(0.0);
    }
    let time_s = rig.time_s();
    let mut filling = Check::new("first charge, time", 0.05);
    filling.add("1 m3 by 33 m3/h", time_s, expected_s);
    filling.finish();
    assert!(time_s < 3600.0, "{time_s}");
    let mut water = Check::new("first charge, water", 0.05);
    water.add("kg", rig.value("side.1.receiver.water"), expected_kg);
    water.finish();
    // The drain blows it out.
    rig.act("side.1.drain", Verb::Open, "", 0.0);
    rig.run(30.0);
    assert!(rig.value("side.1.receiver.water") < 0.05);
    assert!(rig.value("side.2.receiver.water") > 0.3);
}

/// A fouled cooler: the air after it gets too hot, the switch unloads the compressor until it is reset by hand.
#[test]
fn a_hot_compressor_is_unloaded_until_it_is_reset() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/air-first-charge.toml"), None);
    rig.run(60.0);
    assert_eq!(rig.value("side.1.compressor.loaded"), 1.0);
    rig.fault("side.1.compressor", "cooler-fouled", 1.0);
    rig.run(30.0);
    assert_eq!(
        (rig.value("side.1.compressor.loaded"), rig.value("side.1.compressor.hot-tripped")),
        (0.0, 1.0)
    );
    rig.fault("side.1.compressor", "cooler-fouled", 0.0);
    rig.run(30.0);
    assert_eq!(rig.value("side.1.compressor.loaded"), 0.0, "latched");
    rig.act("side.1.compressor", Verb::Reset, "", 0.0);
    rig.run(2.0);
    assert_eq!(rig.value("side.1.compressor.loaded"), 1.0);
}

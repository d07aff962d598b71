//! Sea chests with weed and slush.

use super::rig::{Check, Rig};
use deadship_plant::kind::Verb;

const FREEZES_C: f64 = -1.92;

fn rig() -> Rig {
    let mut rig = Rig::new(include_str!("../../../data/rigs/liquid-sea-chest.toml"), Some("drawing"));
    rig.run(20.0);
    rig
}

/// Gauge behind the grid by the law of the grid, Pa: a metre of water at 0.6 m3/s over the free share.
fn behind_grid_pa(flow_m3_s: f64, free: f64) -> f64 {
    -1025.0 * 9.80665 * libm::pow(flow_m3_s / (0.6 * free), 2.0)
}

#[test]
fn weed_takes_suction_and_is_blown_off_once() {
    let mut rig = rig();
    let mut check = Check::new("weed, gauge behind the grid", 0.02);
    for severity in [0.0, 0.5, 0.9] {
        rig.fault("plain.chest", "weed", severity);
        rig.run(10.0);
        let want = behind_grid_pa(rig.value("plain.pump.flow"), 1.0 - severity);
        check.add(&format!("{severity}"), rig.value("plain.chest.pressure"), want);
    }
    check.finish();
    assert_eq!(rig.value("plain.chest.vent-cock"), 0.0, "weed does not come at the cock");
    assert_eq!(rig.codes("plain.chest", Verb::BlowClear), ["drawing"]);
    rig.act("plain.valve", Verb::Close, "", 0.0);
    rig.run(10.0);
    rig.act("plain.chest", Verb::BlowClear, "", 0.0);
    rig.run(1.0);
    assert_eq!(rig.value("plain.chest.free"), 1.0);
    // What grows on after that is new; what is lifted is gone.
    rig.fault("plain.chest", "weed", 1.0);
    rig.run(1.0);
    assert!((rig.value("plain.chest.free") - 0.9).abs() < 1e-9);
    rig.fault("plain.chest", "weed", 0.0);
    rig.run(1.0);
    assert_eq!(rig.value("plain.chest.free"), 1.0);
    rig.fault("plain.chest", "weed", 0.3);
    rig.run(1.0);
    assert!((rig.value("plain.chest.free") - 0.7).abs() < 1e-9);
}

#[test]
fn slush_comes_back_after_blowing_and_warm_water_melts_it() {
    let mut rig = rig();
    for row in ["plain", "warmed"] {
        rig.fault(&format!("{row}.chest"), "ice", 1.0);
    }
    let mut drawn_m3 = 0.0;
    while drawn_m3 < 20.0 {
        rig.run(1.0);
        drawn_m3 += rig.value("plain.pump.flow");
    }
    let mut grown = Check::new("slush left by 20 m3", 0.02);
    grown.add("share shut", 1.0 - rig.value("plain.chest.free"), 20.0 / 60.0);
    grown.finish();
    assert_eq!(rig.value("plain.chest.vent-cock"), 1.0, "slush at the cock");

    rig.act("plain.valve", Verb::Close, "", 0.0);
    rig.run(10.0);
    rig.act("plain.chest", Verb::BlowClear, "", 0.0);
    rig.run(60.0);
    assert!(rig.value("plain.chest.free") > 1.0 - 1e-6, "nothing is drawn, no slush comes");
    rig.act("plain.valve", Verb::Open, "", 0.0);
    rig.act("warmed.return", Verb::Open, "", 0.0);
    rig.run(1200.0);
    assert!(rig.value("plain.chest.free") < 0.1, "it comes back");
    assert!(rig.value("plain.pump.flow") < 0.7 * rig.value("warmed.pump.flow"));

    let (drawn, back) = (rig.value("warmed.pump.flow"), rig.value("warmed.return.flow"));
    let heat_w = 1024.0 * 3993.0 * back * (12.0 - FREEZES_C);
    let mut rest = Check::new("slush at rest with warm water led back", 0.02);
    let ice = (drawn - back) / 60.0 * 500.0 * 3.34e5 / heat_w;
    rest.add("share shut", 1.0 - rig.value("warmed.chest.free"), ice);
    rest.finish();
}

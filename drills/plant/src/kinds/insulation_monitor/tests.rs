use super::*;
use crate::kinds::testkit::Rig;
use crate::kinds::{breaker, load};

const PLANT: &str = include_str!("../../../../data/rigs/electric-power-plant.toml");

fn live() -> Rig {
    let mut rig = Rig::read(PLANT, Some("one set"));
    rig.run(1.0);
    rig.act("galley", load::START, 0.0);
    rig.run(20.0);
    rig
}

/// Resistances in parallel: the board's own 10 megohm, and 20 megohm each of generator, feeder, base load, galley.
#[test]
fn a_healthy_board_shows_all_its_consumers_in_parallel() {
    let rig = live();
    let expected_ohm = 1.0 / (1.0 / 10e6 + 4.0 / 20e6);
    let found_ohm = rig.value("insulation.actual");
    assert!((found_ohm / expected_ohm - 1.0).abs() < 1e-3, "{found_ohm} for {expected_ohm}");
    let shown_ohm = rig.value("insulation.resistance");
    assert!((shown_ohm / expected_ohm - 1.0).abs() < 0.01, "{shown_ohm}");
    // The transformer separates: its winding and the light beside the board's own.
    let low_ohm = 1.0 / (1.0 / 10e6 + 2.0 / 20e6);
    assert!((rig.value("insulation.220.actual") / low_ohm - 1.0).abs() < 1e-3);
}

#[test]
fn the_faulty_feeder_is_found_by_opening_one_after_the_other() {
    let mut rig = live();
    rig.fault("feeder", "insulation-low", 0.7);
    rig.run(25.0);
    // 20 megohm x (1 / 20,000)^0.7 = 19.5 kilohm.
    let low_ohm = rig.value("insulation.resistance");
    assert!((15e3..21e3).contains(&low_ohm), "{low_ohm}");
    rig.act("base", load::STOP, 0.0);
    rig.run(15.0);
    assert!(rig.value("insulation.resistance") < 21e3);
    rig.act("feeder", breaker::OPEN, 0.0);
    rig.run(15.0);
    assert!(rig.value("insulation.resistance") > 1e6, "{}", rig.value("insulation.resistance"));
    // Nothing has tripped: a first earth fault on an insulated net only alerts.
    assert_eq!(rig.value("set1.breaker.closed"), 1.0);
    assert!((rig.value("insulation.220.actual") - 5e6).abs() < 1e4);
}

#[test]
fn a_frozen_monitor_hides_the_fault_and_the_tester_is_not_put_on_a_live_board() {
    let mut rig = live();
    rig.fault("insulation", "frozen", 1.0);
    rig.fault("base", "insulation-low", 1.0);
    rig.run(20.0);
    assert!(rig.value("insulation.resistance") > 1e6);
    assert!(rig.value("insulation.actual") < 1.1e3);
    assert_eq!(rig.codes("insulation", CHECK), ["board-live"]);
}

#[test]
fn a_dead_damp_board_is_checked_before_it_is_closed() {
    let mut rig = Rig::read(PLANT, Some("dead"));
    rig.run(1.0);
    assert_eq!(rig.value("insulation.closing-allowed"), 0.0);
    rig.act("insulation", CHECK, 0.0);
    rig.run(0.1);
    // Dry 10 megohm, damp to 60 % of a decade.
    let expected_ohm = 10e6 / libm::pow(10.0, 0.6);
    let read_ohm = rig.value("insulation.last-check");
    assert!((read_ohm / expected_ohm - 1.0).abs() < 0.01, "{read_ohm} for {expected_ohm}");
    assert_eq!(rig.value("insulation.closing-allowed"), 1.0);
    assert!(rig.has_found("insulation.checked"));
}
